"""How far the scatter of effects within studies is pinned down: its profile likelihood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from steelyard.pooling.nested_variance import Blocks, likelihood_at
from steelyard.pooling.zero_crossing import zero_crossing

SHARES = np.linspace(0.0, 1.0, 9)
_MOST_DOUBLINGS = 400


@dataclass(frozen=True, slots=True)
class ProfileInterval:
    """Ends of an interval for the sum of the two variances; NaN where there is none."""

    low: float
    high: float


def profile_interval(
    blocks: Blocks, *, between: float, within: float, restricted: bool, level: float
) -> ProfileInterval:
    """Interval for the variance between studies plus that within, of one analysis.

    Parameters
    ----------
    blocks : Blocks
        Of one analysis.
    between, within : float
        As estimated from it.
    restricted : bool
        REML rather than ML, as in the fit.
    level : float
        Between 0 and 1.

    Returns
    -------
    ProfileInterval
        NaN for fewer than two studies.

    Notes
    -----
    It holds every sum for which twice the log-likelihood, at the division of the sum between
    the two variances that suits the effects best, lies no further below its maximum than the
    quantile of chi-squared on one degree of freedom [1]_. A sum of 0 is at the edge of what a
    variance can be, where this covers somewhat more than it says.

    The Q-profile interval of an ordinary pool has no counterpart here: Q has one value, and
    there are two variances to be found from it.

    References
    ----------
    .. [1] Hardy, R. J., & Thompson, S. G. (1996). A likelihood approach to meta-analysis with
           random effects. Stat Med 15, 619-629 (with one variance).
    """
    if blocks.start.size < 2:
        return ProfileInterval(np.nan, np.nan)
    several = blocks.y.shape[1] > blocks.start.size
    best = between + within
    room = float(chdtri(1, 1 - level)) / 2
    at_best = likelihood_at(
        blocks,
        between=np.array([between]),
        within=np.array([within]),
        restricted=restricted,
    )

    def left(_which, total: np.ndarray) -> np.ndarray:
        return room - (
            at_best.height[0] - _profile(blocks, total, several=several, restricted=restricted)
        )

    scale = float(blocks.v.min())
    beyond = max(2 * best, scale)
    for _ in range(_MOST_DOUBLINGS):
        at_beyond = left(None, np.array([beyond]))[0]
        if not at_beyond > 0:
            break
        beyond *= 2
    ends, at_ends = [beyond], [at_beyond]
    at_zero = left(None, np.zeros(1))[0]
    if at_zero < 0:
        ends, at_ends = [*ends, 0.0], [*at_ends, at_zero]
    size = len(ends)
    found = zero_crossing(
        left,
        low=np.full(size, best),
        high=np.array(ends),
        at_low=np.full(size, room),
        at_high=np.array(at_ends),
        scale=np.full(size, scale),
    )
    return ProfileInterval(float(found[1]) if size == 2 else 0.0, float(found[0]))


def _profile(blocks: Blocks, totals: np.ndarray, *, several: bool, restricted: bool) -> np.ndarray:
    """Highest log-likelihood over all divisions of each total between the two variances."""
    if not several:
        nothing = np.zeros(totals.size)
        return likelihood_at(blocks, between=totals, within=nothing, restricted=restricted).height

    def at(which: np.ndarray, share: np.ndarray):
        total = totals[which]
        return likelihood_at(
            blocks, between=(1 - share) * total, within=share * total, restricted=restricted
        )

    def slope(which: np.ndarray, share: np.ndarray) -> np.ndarray:
        found = at(which, share)
        return found.slope_within - found.slope_between

    owner = np.repeat(np.arange(totals.size), SHARES.size)
    searched = np.tile(SHARES, totals.size)
    found = at(owner, searched)
    slopes = found.slope_within - found.slope_between
    inside = searched[:-1] < searched[1:]
    falls = np.flatnonzero((slopes[:-1] > 0) & (slopes[1:] <= 0) & inside)
    peaks = zero_crossing(
        lambda which, share: slope(owner[falls][which], share),
        low=searched[falls],
        high=searched[falls + 1],
        at_low=slopes[falls],
        at_high=slopes[falls + 1],
        scale=np.ones(falls.size),
    )
    height = found.height.reshape(totals.size, -1).max(axis=1)
    np.maximum.at(height, owner[falls], at(owner[falls], peaks).height)
    return height
