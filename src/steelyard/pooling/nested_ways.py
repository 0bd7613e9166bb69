"""Many ways to weigh effects within studies, fitted in one sweep whatever sets them apart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from steelyard.pooling.choices_rows import StudyEffects
from steelyard.pooling.nested_fit import NestedFit, fit_stacks
from steelyard.pooling.study_layout import study_layout


def fit_ways(ways: Sequence[tuple[StudyEffects | None, ...]], *, method: str) -> NestedFit:
    """Fit effects within studies for every way, with its own effects and covariances.

    Parameters
    ----------
    ways : sequence of tuple of StudyEffects or None
        One entry per study, in one order for all ways; None where a way leaves the study out.
        Every way needs one study, and at least one way is given.
    method : str
        ``reml`` or ``ml``.

    Returns
    -------
    NestedFit
        Of all ways, in their order; the numbers are those of `pool_nested`, way by way.
    """
    studies = [each for each in zip(*ways, strict=True) if any(one is not None for one in each)]
    sizes = [max(one.effects.size for one in each if one is not None) for each in studies]
    starts = np.cumsum([0, *sizes])
    layout = study_layout([np.arange(*ends) for ends in pairwise(starts)])
    y = np.zeros((len(ways), starts[-1]))
    present = np.zeros(y.shape, dtype=bool)
    covariance = [np.zeros((len(ways), *stack.shape, stack.shape[1])) for stack in layout.stacks]
    stack_of = {
        int(row[0]): (block, at)
        for block, stack in zip(covariance, layout.stacks, strict=True)
        for at, row in enumerate(stack)
    }
    for begin, of_ways in zip(starts[:-1].tolist(), studies, strict=True):
        block, at = stack_of[begin]
        for way, one in enumerate(of_ways):
            if one is None:
                continue
            m = one.effects.size
            y[way, begin : begin + m] = one.effects
            present[way, begin : begin + m] = True
            block[way, at, :m, :m] = one.covariance
    return fit_stacks(y, present, covariance, layout, independent=False, method=method)
