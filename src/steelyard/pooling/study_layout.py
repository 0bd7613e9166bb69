"""Where each study's effects stand, and studies of one size side by side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.errors import DesignError


@dataclass(frozen=True, slots=True, eq=False)
class StudyLayout:
    """Effects put in study order, and studies with equally many effects in one stack.

    What is worked out study by study (inverses, eigenvalues) is then worked out for a whole
    stack of small matrices at once, and no array is larger than the sum of the studies' own.

    Attributes
    ----------
    order : ndarray of int, shape (k,)
        Places of the effects, study by study.
    start : ndarray of int, shape (studies,)
        Where each study begins in `order`.
    stacks : tuple of ndarray of int, shape (studies of m effects, m)
        One per size m: positions in `order` of each study's effects.
    """

    order: np.ndarray
    start: np.ndarray
    stacks: tuple[np.ndarray, ...]


def study_layout(places: list[np.ndarray]) -> StudyLayout:
    """Lay out studies given as the places of their effects; none may be empty."""
    sizes = np.array([rows.size for rows in places])
    start = np.append(0, np.cumsum(sizes)[:-1])
    stacks = tuple(
        start[sizes == size][:, None] + np.arange(size) for size in np.unique(sizes).tolist()
    )
    return StudyLayout(np.concatenate(places), start, stacks)


def studies_in_order(study, present: np.ndarray) -> list[np.ndarray]:
    """Places of the effects present, study by study, in order of first appearance."""
    plain = getattr(getattr(study, "dtype", None), "kind", "O") in "iufb"
    labels = np.asarray(study) if plain else pd.Series(list(study), dtype=object)
    if labels.shape != present.shape:
        raise DesignError(
            f"study must have one label per effect; {len(labels)} labels, {present.size} effects"
        )
    kept = np.flatnonzero(present)
    codes = pd.factorize(np.asarray(labels)[kept])[0]
    if (codes < 0).any():
        place = int(kept[(codes < 0).argmax()])
        raise DesignError(f"every effect needs a study; study[{place}] is {list(study)[place]!r}")
    order = np.argsort(codes, kind="stable")
    return np.split(kept[order], np.cumsum(np.bincount(codes))[:-1])
