"""Between-study variance left after moderators, for one regression."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SEARCH_FACTOR = 1.5
TOLERANCE = 1e-13


@dataclass(frozen=True, slots=True)
class _Sums:
    q: float
    pull: float
    trace: float
    cubic: float
    trace_square: float
    weight: float
    weight_square: float
    height: float


def residual_between_study_variance(y, v, design, *, between: str) -> float:
    """Between-study variance about a regression line, never below zero.

    Parameters
    ----------
    y, v : ndarray, shape (k,)
        Effects and sampling variances.
    design : ndarray, shape (k, p)
        Of full rank, ``p < k``.
    between : str
        ``reml``, ``ml``, ``pm``, ``dl`` (method of moments) or ``common``.

    Returns
    -------
    float
        Squared unit of `y`.

    Notes
    -----
    With ``W = diag(1/(v + t))`` and ``P = W - W X (X'WX)⁻¹ X'W``: ``dl`` is
    ``(y'Py - (k - p)) / tr P`` at t = 0; ``pm`` solves ``y'Py = k - p``; ``reml`` and ``ml``
    are the highest maxima of their likelihoods, whose slopes are half of ``y'PPy - tr P``
    and of ``y'PPy - tr W``. Search and bound are those of `between_study_variance`, with
    k - p in place of k - 1.

    References
    ----------
    .. [1] Thompson, S. G., & Sharp, S. J. (1999). Explaining heterogeneity in meta-analysis: a
           comparison of methods. Stat Med 18, 2693-2708.
    """
    if between == "common":
        return 0.0
    unit = v.min()
    y, v = y / np.sqrt(unit), v / unit
    k, p = design.shape
    basis = np.linalg.qr(design)[0]
    y = y - basis @ (basis.T @ y)
    if between == "dl":
        at_zero = _sums(y, v, basis, 0.0)
        return unit * max(0.0, (at_zero.q - (k - p)) / at_zero.trace)
    if between == "pm":
        return unit * _where_q_equals(y, v, basis, k - p)
    return unit * _highest(y, v, basis, restricted=between == "reml")


def _where_q_equals(y, v, basis, target: float) -> float:
    # Newton on 1/Q, which is concave and rising in t: it climbs and never overshoots.
    t = 0.0
    for _ in range(500):
        sums = _sums(y, v, basis, t)
        if sums.q <= target:
            break
        step = sums.q * (sums.q / target - 1) / sums.pull
        t += step
        if step <= TOLERANCE * (1 + t):
            break
    return t


def _highest(y, v, basis, *, restricted: bool) -> float:
    k, p = basis.shape
    s = float(y @ y) / (k - p)
    bound = max((s + np.sqrt(s * s + 4 * s * (v.max() - 1))) / 2, 1.0)
    steps = int(np.ceil(np.log(bound) / np.log(SEARCH_FACTOR)))
    points = np.append(SEARCH_FACTOR ** np.arange(steps) - 1, bound - 1)

    def rises(t: float) -> bool:
        return _slope(_sums(y, v, basis, t), restricted) > 0

    rising = [rises(t) for t in points[:-1]] + [False]
    candidates = [] if rising[0] else [0.0]
    for place in range(points.size - 1):
        if rising[place] and not rising[place + 1]:
            low, high = points[place], points[place + 1]
            candidates.append(_refine(y, v, basis, low, high, restricted=restricted))
    if not candidates:
        return 0.0

    def height(t: float) -> float:
        sums = _sums(y, v, basis, t)
        likelihood = np.log(1 / (v + t)).sum() - sums.q
        return likelihood + sums.height if restricted else likelihood

    return float(max(candidates, key=height))


def _refine(y, v, basis, low: float, high: float, *, restricted: bool) -> float:
    t = (low + high) / 2
    for step_number in range(1, 200):
        sums = _sums(y, v, basis, t)
        slope = _slope(sums, restricted)
        low, high = (t, high) if slope > 0 else (low, t)
        expected = sums.trace if restricted else sums.weight
        squares = sums.trace_square if restricted else sums.weight_square
        bend = 2 * expected * sums.cubic - sums.pull * squares
        new = t + sums.pull * slope / bend if bend > 0 else np.inf
        if abs(new - t) <= TOLERANCE * (1 + t) or high - low <= TOLERANCE * (1 + t):
            return min(max(new, low), high)
        inside = low < new < high and (step_number <= 12 or step_number % 2 == 0)
        t = new if inside else (low + high) / 2
    return t


def _slope(sums: _Sums, restricted: bool) -> float:
    return sums.pull - (sums.trace if restricted else sums.weight)


def _sums(y, v, basis, t: float) -> _Sums:
    w = 1 / (v + t)
    root = np.sqrt(w)
    q_matrix, r_matrix = np.linalg.qr(root[:, None] * basis)

    def press(values):
        scaled = root * values
        return root * (scaled - q_matrix @ (q_matrix.T @ scaled))

    pressed = press(y)
    twice = press(pressed)
    leverage = (q_matrix**2).sum(axis=1)
    core = q_matrix.T @ (w[:, None] * q_matrix)
    return _Sums(
        q=float(pressed @ y),
        pull=float(pressed @ pressed),
        trace=float((w * (1 - leverage)).sum()),
        cubic=float(pressed @ twice),
        trace_square=float((w**2).sum() - 2 * (w**2 * leverage).sum() + (core**2).sum()),
        weight=float(w.sum()),
        weight_square=float((w**2).sum()),
        height=-2 * float(np.log(np.abs(np.diag(r_matrix))).sum()),
    )
