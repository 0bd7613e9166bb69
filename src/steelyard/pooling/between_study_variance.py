"""Estimators of the variance of true effects between studies, for many analyses at once."""

from __future__ import annotations

import numpy as np

from steelyard.pooling.batch import Batch, Room, moments, product_sum, trace_p
from steelyard.pooling.q_profile import start_at_zero, tau2_where_q_equals

METHODS = ("reml", "dl", "pm", "ml", "common")

# Total variances (the smallest variance plus tau2) at neighbouring search points differ by this
# factor. Each study bends the likelihood over a wider range than that, so that two maxima do
# not fit between two points.
SEARCH_FACTOR = 1.5
# Newton's steps shrink quadratically: after one of this size the error is near rounding.
RELATIVE_TOLERANCE = 1e-7


def between_study_variance(batch: Batch, method: str) -> np.ndarray:
    """Between-study variance of each analysis, in units of ``batch.unit**2``, never below zero.

    Parameters
    ----------
    batch : Batch
        Analyses to estimate.
    method : str
        ``reml`` restricted maximum likelihood [1]_; ``ml`` maximum likelihood; ``pm``
        Paule and Mandel's value at which Q equals its expectation k - 1 [2]_; ``dl``
        DerSimonian and Laird's moment estimator [3]_; ``common`` zero by assumption.

    Returns
    -------
    tau2 : ndarray, shape (analyses,)
        Zero where there is one study.

    Notes
    -----
    With weights ``w = 1/(v + tau2)`` and ``P`` as in `Moments`, the slope of the restricted
    log-likelihood is half of ``y'PPy - tr P`` and that of the full one half of
    ``y'PPy - sum(w)``. Neither need have a single maximum. The slope is therefore taken at
    zero and at points spaced evenly in ``log(min v + t)`` up to a bound above which it cannot
    vanish; every change from rising to falling is refined, and the highest of these maxima
    and of zero (when the likelihood falls from there) is the estimate.

    The bound: with the smallest variance 1 and s the sample variance of the effects,
    ``tr P >= (k-1)/(max v + t)`` because the eigenvalues of P interlace the weights, and
    ``y'PPy <= (k-1) s/(1 + t)**2``; so a stationary point has
    ``(1 + t)**2 <= s (max v + t)``.

    References
    ----------
    .. [1] Viechtbauer, W. (2005). Bias and efficiency of meta-analytic variance estimators in
           the random-effects model. J Educ Behav Stat 30, 261-293.
    .. [2] Paule, R. C., & Mandel, J. (1982). Consensus values and weighting factors. J Res
           Natl Bur Stand 87, 377-385.
    .. [3] DerSimonian, R., & Laird, N. (1986). Meta-analysis in clinical trials. Control Clin
           Trials 7, 177-188.
    """
    if method == "common":
        return np.zeros(batch.count.shape)
    if method == "dl":
        return _dersimonian_laird(batch)
    if method == "pm":
        return tau2_where_q_equals(batch, np.maximum(batch.count - 1.0, 1.0), start_at_zero(batch))
    return _highest_likelihood(batch, restricted=method == "reml")


def _dersimonian_laird(batch: Batch) -> np.ndarray:
    at_zero = batch.at_zero
    trace = trace_p(at_zero.w, at_zero.total)
    excess = at_zero.q - (batch.count - 1)
    return np.where(batch.count > 1, np.maximum(excess, 0.0), 0.0) / np.where(trace > 0, trace, 1)


def _highest_likelihood(batch: Batch, *, restricted: bool) -> np.ndarray:
    points = _search_points(batch)
    room = Room(batch.y.shape)
    # Observed over expected pull less one: the likelihood rises where it is above zero.
    excess = np.full(points.shape, -1.0)
    for place, t in enumerate(points[:-1]):
        if place:
            searched = np.flatnonzero(t > 0)
            y, v = room.some("y", batch.y, searched), room.some("v", batch.v, searched)
            sums = moments(y, v, t[searched], room)
        else:
            searched, sums = slice(None), batch.at_zero
        expected = _expected_pull(sums.w, sums.total, restricted)
        excess[place, searched] = sums.pull / np.where(expected > 0, expected, 1.0) - 1
        excess[place] = np.where(t > 0, excess[place], excess[0])
    rising = excess > 0

    tau2 = np.zeros(batch.count.shape)
    place, analysis = np.nonzero(rising[:-1] & ~rising[1:])
    if not place.size:
        return tau2
    low, high = points[place, analysis], points[place + 1, analysis]
    # Expected over observed pull is nearly straight in tau2, hence a first guess.
    below = 1 - 1 / (1 + excess[place, analysis])
    above = 1 / np.maximum(1 + excess[place + 1, analysis], 1e-3) - 1
    start = low + (high - low) * np.clip(below / (below + above), 0.01, 0.99)
    room = Room((batch.y.shape[0], analysis.size))
    y, v = room.some("y", batch.y, analysis), room.some("v", batch.v, analysis)
    maximum = _refine(y, v, low, high, start, room, restricted=restricted)
    tau2[analysis] = maximum
    maxima = np.bincount(analysis, minlength=tau2.size) + ~rising[0]
    for contested in np.flatnonzero(maxima > 1):
        candidates = maximum[analysis == contested]
        if not rising[0, contested]:
            candidates = np.append(candidates, 0.0)
        heights = _log_likelihood(batch, contested, candidates, restricted=restricted)
        tau2[contested] = candidates[heights.argmax()]
    return tau2


def _search_points(batch: Batch) -> np.ndarray:
    """Zero and points a constant factor in ``1 + t`` apart up to each bound, smallest first."""
    present = np.isfinite(batch.v)
    mean = batch.y.sum(axis=0) / batch.count
    deviation = np.where(present, batch.y - mean, 0.0)
    s = product_sum(deviation, deviation) / np.maximum(batch.count - 1, 1)
    largest = np.where(present, batch.v, 1.0).max(axis=0)
    bound = np.maximum((s + np.sqrt(s * s + 4 * s * (largest - 1))) / 2, 1.0)
    steps = np.ceil(np.log(bound.max()) / np.log(SEARCH_FACTOR))
    shrink = SEARCH_FACTOR ** -np.arange(steps, -1.0, -1.0)
    return np.maximum(shrink[:, None] * bound - 1, 0.0)


def _expected_pull(w: np.ndarray, total: np.ndarray, restricted: bool) -> np.ndarray:
    return trace_p(w, total) if restricted else total


def _refine(y, v, low, high, t, room: Room, *, restricted: bool) -> np.ndarray:
    """Maximum between `low`, where the likelihood rises, and `high`, where it does not, from `t`.

    Newton's method on ``tr P / y'PPy = 1``, which is straight in tau2 when all variances are
    equal. A step that would leave the bracket is replaced by halving it, and past twelve
    steps every other one halves it, so the search ends whatever the data.
    """
    answer = np.empty(low.shape)
    unfinished = np.arange(low.size)
    for step_number in range(1, 200):
        sums = moments(y, v, t, room)
        w, total, pull = sums.w, sums.total, sums.pull
        expected = _expected_pull(w, total, restricted)
        squares = product_sum(w, w)
        if restricted:
            cubes = product_sum(w * w, w)
            trace_square = squares - 2 * cubes / total + (squares / total) ** 2
        else:
            trace_square = squares
        twice = sums.pressed - product_sum(w, sums.pressed) / total
        cubic = product_sum(w * twice, twice)

        rising = pull > expected
        low, high = np.where(rising, t, low), np.where(rising, high, t)
        slope = 2 * expected * cubic - pull * trace_square
        usable = slope > 0
        step = pull * (pull - expected) / np.where(usable, slope, 1.0)
        halved = (low + high) / 2
        close = usable & (np.abs(step) <= RELATIVE_TOLERANCE * (1 + t))
        new = np.clip(t + step, low, high)
        halve = ~close & (~usable | (t + step <= low) | (t + step >= high))
        if step_number > 12 and step_number % 2:
            halve = ~close
        new = np.where(halve, halved, new)
        finished = close | (high - low <= 1e-15 * (1 + high))
        answer[unfinished[finished]] = new[finished]
        going = np.flatnonzero(~finished)
        if not going.size:
            return answer
        y, v = room.some("y", y, going), room.some("v", v, going)
        low, high, t = low[going], high[going], new[going]
        unfinished = unfinished[going]
    answer[unfinished] = t
    return answer


def _log_likelihood(batch: Batch, analysis: int, tau2: np.ndarray, *, restricted: bool):
    """Log-likelihood up to a constant, at several variances of one analysis."""
    present = np.isfinite(batch.v[:, analysis])
    y, v = batch.y[present, analysis][:, None], batch.v[present, analysis][:, None]
    sums = moments(y, v, tau2)
    height = -np.log(v + tau2).sum(axis=0) - sums.q
    return (height - np.log(sums.total) if restricted else height) / 2
