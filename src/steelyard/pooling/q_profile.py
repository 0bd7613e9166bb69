"""Interval for the between-study variance by inverting the generalised Q statistic."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from steelyard.pooling.batch import Batch, Room, by_distinct, moments

# Newton's steps shrink quadratically: after one of this size the error is near rounding.
RELATIVE_TOLERANCE = 1e-7


@dataclass(frozen=True, slots=True)
class VarianceInterval:
    """Interval for the between-study variance, in units of ``batch.unit**2``."""

    low: np.ndarray
    high: np.ndarray


@dataclass(frozen=True, slots=True)
class Start:
    """Where a search begins: between-study variances, with ``y'Py`` and ``y'PPy`` there.

    Every array has shape (analyses,).
    """

    tau2: np.ndarray
    q: np.ndarray
    pull: np.ndarray

    def left_of(self, target: np.ndarray, zero: Start) -> Start:
        """This start where Q is still above `target`, zero where the root may lie before it."""
        left = self.q > target
        return Start(
            np.where(left, self.tau2, zero.tau2),
            np.where(left, self.q, zero.q),
            np.where(left, self.pull, zero.pull),
        )


def start_at_zero(batch: Batch) -> Start:
    """The start that is right for every target."""
    sums = batch.at_zero
    return Start(np.zeros(batch.count.shape), sums.q, sums.pull)


def q_profile(batch: Batch, *, level: float, near: Start) -> VarianceInterval:
    """Q-profile interval for the between-study variance of each analysis.

    The bounds are the values at which ``Q(tau2) = sum w (y - mean)**2``, with
    ``w = 1/(v + tau2)``, equals the upper and the lower ``(1 - level)/2`` point of chi-square
    with k - 1 degrees of freedom; a bound for which there is no such value is zero.

    Parameters
    ----------
    batch : Batch
        Analyses.
    level : float
        Between 0 and 1.
    near : Start
        At an estimate, which saves the search for the upper bound most of its way.

    Returns
    -------
    VarianceInterval
        NaN where there is one study.

    References
    ----------
    .. [1] Viechtbauer, W. (2007). Confidence intervals for the amount of heterogeneity in
           meta-analysis. Stat Med 26, 37-52.
    """
    df = np.maximum(batch.count - 1, 1)
    tail = (1 - level) / 2
    upper, lower = (
        by_distinct(lambda distinct, p=p: chdtri(distinct, p), df) for p in (tail, 1 - tail)
    )
    zero = start_at_zero(batch)
    low = tau2_where_q_equals(batch, upper, zero)
    high = tau2_where_q_equals(batch, lower, near.left_of(lower, zero))
    single = batch.count < 2
    return VarianceInterval(np.where(single, np.nan, low), np.where(single, np.nan, high))


def tau2_where_q_equals(batch: Batch, target: np.ndarray, start: Start) -> np.ndarray:
    """Between-study variance at which Q equals `target`; zero if Q at zero is not above it.

    ``1/Q`` rises and is concave in tau2 (by the Cauchy-Schwarz inequality on ``y'Py``,
    ``y'PPy`` and ``y'PPPy``), so Newton's method on it, begun at or left of the root, climbs
    to the root without overshooting. With equal variances one step is exact.

    Parameters
    ----------
    batch : Batch
        Analyses.
    target : ndarray, shape (analyses,)
        Above zero.
    start : Start
        At zero, or known not to lie above the root.
    """
    t, q, pull = start.tau2, start.q, start.pull
    tau2 = t.copy()
    y, v, room = batch.y, batch.v, Room(batch.y.shape)
    unfinished = np.arange(target.size)
    for _ in range(500):
        above = q > target
        step = q * (q / target - 1) / np.where(above, pull, 1.0)
        t = np.where(above, t + step, t)
        tau2[unfinished] = t
        going = np.flatnonzero(above & (step > RELATIVE_TOLERANCE * (1 + t)))
        if not going.size:
            break
        y, v = room.some("y", y, going), room.some("v", v, going)
        t, target, unfinished = t[going], target[going], unfinished[going]
        sums = moments(y, v, t, room)
        q, pull = sums.q, sums.pull
    return tau2
