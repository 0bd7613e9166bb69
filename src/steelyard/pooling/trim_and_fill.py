"""How the pool would move if the lopsided part of the effects had its mirror image."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.errors import DesignError
from steelyard.pooling.between_study_variance import METHODS
from steelyard.pooling.checking import choice, numbers, present_effects
from steelyard.pooling.pool import PoolResult, pool
from steelyard.show import Shown, count, number
from steelyard.show import interval as shown_interval

MOST_ROUNDS = 100


@dataclass(frozen=True, slots=True, eq=False)
class TrimAndFill(Shown):
    """Result of trim and fill.

    Attributes
    ----------
    added : int
        Effects added.
    side : str
        ``left`` or ``right``: where effects seem to be missing (and are added, if any are).
    estimate, standard_error, low, high : float
        Pool with the added effects, normal interval at `level`.
    level : float
    effects, variances : ndarray, shape (added,)
        The effects added.
    pooled : PoolResult
        The whole pool behind `estimate`.
    notes : tuple of str
    """

    added: int
    side: str
    estimate: float
    standard_error: float
    low: float
    high: float
    level: float
    effects: np.ndarray
    variances: np.ndarray
    pooled: PoolResult
    notes: tuple[str, ...]

    def _title(self) -> str:
        return "Trim and fill"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [
            ("added", f"{count(self.added, 'effect')} on the {self.side}"),
            (
                "estimate",
                f"{number(self.estimate, decimals=3, sign=True)}, {100 * self.level:g} % interval "
                f"{shown_interval(self.low, self.high, decimals=3)}",
            ),
        ]
        return rows + [("note", note) for note in self.notes]


def trim_and_fill(
    effect, variance, *, between: str = "common", side: str = "auto", level: float = 0.95
) -> TrimAndFill:
    """Trim the lopsided side, find the centre, and fill in mirror images (L0 estimator).

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        Effects and sampling variances; NaN effects are left out. k at least 3.
    between : str
        Model of every pool on the way: ``common``, ``dl``, ``reml``, ``pm`` or ``ml``.
    side : str
        Where effects may be missing: ``left`` (low ones), ``right``, or ``auto``: the side
        away from that to which the smaller studies lean, by the slope of effects on standard
        error (weights 1/variance).
    level : float
        Of the interval; between 0 and 1.

    Returns
    -------
    TrimAndFill

    Raises
    ------
    DesignError
        With fewer than three effects, and as in `pool`.

    Notes
    -----
    For effects missing on the left: with T the sum of the ranks of ``|y - centre|`` over
    effects above the centre, ``L0 = (4 T - k (k + 1)) / (2 k - 1)``, rounded and not below
    zero, is the number missing; so many of the largest effects are left out, the centre is
    estimated afresh, and so on until the number stands. The effects left out are then
    mirrored about the centre [1]_. Ties share their mean rank. It is a question of "what if",
    not a correction: other things than missing studies make effects lopsided.

    References
    ----------
    .. [1] Duval, S., & Tweedie, R. (2000). Trim and fill: a simple funnel-plot-based method of
           testing and adjusting for publication bias in meta-analysis. Biometrics 56, 455-463.
    """
    between = choice(between, name="between", among=METHODS)
    side = choice(side, name="side", among=("auto", "left", "right"))
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    present = present_effects(y, v)
    notes = []
    if not present.all():
        notes.append(f"{count(int((~present).sum()), 'effect')} absent and left out")
    y, v = y[present], v[present]
    k = y.size
    if k < 3:
        raise DesignError(f"trim and fill needs at least 3 effects; there are {k}")
    if side == "auto":
        side = "left" if _lean(y, v) >= 0 else "right"
    sign = 1.0 if side == "left" else -1.0
    order = np.argsort(sign * y, kind="stable")
    y, v = sign * y[order], v[order]

    missing, seen = 0, []
    for _ in range(MOST_ROUNDS):
        kept = k - missing
        centre = pool(y[:kept], v[:kept], between=between, interval="normal").estimate
        distance = y - centre
        above = _mean_ranks(np.abs(distance))[distance > 0].sum()
        found = int(np.floor((4 * above - k * (k + 1)) / (2 * k - 1) + 0.5))
        found = min(max(found, 0), k - 2)
        if found == missing:
            break
        if found in seen:
            notes.append("the number missing went in a circle; the larger one is used")
            missing = max(found, missing)
            kept = k - missing
            centre = pool(y[:kept], v[:kept], between=between, interval="normal").estimate
            break
        seen.append(missing)
        missing = found

    mirrored = 2 * centre - y[k - missing :]
    filled_v = v[k - missing :]
    pooled = pool(
        sign * np.append(y, mirrored),
        np.append(v, filled_v),
        between=between,
        interval="normal",
        level=level,
    )
    return TrimAndFill(
        added=missing,
        side=side,
        estimate=pooled.estimate,
        standard_error=pooled.standard_error,
        low=pooled.low,
        high=pooled.high,
        level=pooled.level,
        effects=sign * mirrored,
        variances=filled_v,
        pooled=pooled,
        notes=tuple(notes),
    )


def _mean_ranks(distance: np.ndarray) -> np.ndarray:
    """Ranks from 1; ties, which may differ by rounding, share their mean rank."""
    rounded = np.round(distance / max(distance.max(), 1e-300), 12)
    _, which, counts = np.unique(rounded, return_inverse=True, return_counts=True)
    return (np.cumsum(counts) - (counts - 1) / 2)[which]


def _lean(y: np.ndarray, v: np.ndarray) -> float:
    """Covariance, weighted by precision, of effects with standard errors."""
    w = 1 / v
    error = np.sqrt(v)
    return float((w * (error - (w * error).sum() / w.sum()) * (y - (w * y).sum() / w.sum())).sum())
