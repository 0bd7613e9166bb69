"""What the answer turns on, among all the ways to weigh."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.pooling.choices_grid import Dial


@dataclass(frozen=True, slots=True)
class Turning:
    """How much of the answer one choice decides.

    Attributes
    ----------
    column, words : str
        The choice.
    flips : float
        Share of pairs of ways, alike in all but this choice, that give different verdicts.
    spread : float
        Share of the variance of the estimates over all ways that goes with this choice alone.
    pairs : int
        Pairs of ways compared.
    """

    column: str
    words: str
    flips: float
    spread: float
    pairs: int


def turning(ways: pd.DataFrame, dials: tuple[Dial, ...]) -> tuple[Turning, ...]:
    """Rank choices by how often changing one alone changes the verdict, then by spread."""
    if not dials:
        return ()
    codes = {dial.column: pd.factorize(ways[dial.column])[0] for dial in dials}
    verdicts = pd.factorize(ways["verdict"])[0]
    size = "estimate" if ways["multiple"].isna().any() else "multiple"
    values = ways[size].to_numpy(float)
    found = []
    for dial in dials:
        others = [codes[other.column] for other in dials if other is not dial]
        group = _labels(others, len(ways))
        flips, pairs = _differing_pairs(group, verdicts)
        spread = _between_share(values, codes[dial.column])
        found.append(Turning(dial.column, dial.words, flips, spread, pairs))
    return tuple(sorted(found, key=lambda each: (-each.flips, -each.spread)))


def _labels(codes: list[np.ndarray], size: int) -> np.ndarray:
    label = np.zeros(size, dtype=np.int64)
    for code in codes:
        label = label * (int(code.max(initial=0)) + 1) + code
    return np.unique(label, return_inverse=True)[1]


def _differing_pairs(group: np.ndarray, verdict: np.ndarray) -> tuple[float, int]:
    sizes = np.bincount(group)
    alike = np.unique(np.column_stack([group, verdict]), axis=0, return_counts=True)[1]
    pairs = int((sizes * (sizes - 1) // 2).sum())
    same = int((alike * (alike - 1) // 2).sum())
    return ((pairs - same) / pairs if pairs else 0.0), pairs


def _between_share(values: np.ndarray, code: np.ndarray) -> float:
    total = float(((values - values.mean()) ** 2).sum())
    if total <= 0:
        return 0.0
    sizes = np.bincount(code)
    means = np.bincount(code, weights=values) / sizes
    return float((sizes * (means - values.mean()) ** 2).sum() / total)
