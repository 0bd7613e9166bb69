"""Variances between and within studies when effects are nested in studies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.pooling.batch import arrange
from steelyard.pooling.between_study_variance import between_study_variance

# Total variances at neighbouring search points differ by this factor.
SEARCH_FACTOR = 1.5
POINTS_PER_ROUND = 16


@dataclass(frozen=True, slots=True)
class Blocks:
    """Effects in study order, turned so that each study's sampling covariance is diagonal.

    With ``V_j = U diag(v) U'`` the sampling covariance of study j: `y` is ``U'y``, `ones` is
    ``U'1``, and `v` the eigenvalues. With independent sampling errors nothing is turned.

    Attributes
    ----------
    y, ones, v : ndarray, shape (k,)
    start : ndarray of int, shape (studies,)
        Where each study begins.
    """

    y: np.ndarray
    ones: np.ndarray
    v: np.ndarray
    start: np.ndarray


@dataclass(frozen=True, slots=True)
class NestedVariances:
    """Variance of study means, variance of effects about them, and the log-likelihood there."""

    between: float
    within: float
    log_likelihood: float


@dataclass(frozen=True, slots=True)
class _Profile:
    between: np.ndarray
    slope: np.ndarray
    height: np.ndarray


def nested_variances(blocks: Blocks, *, restricted: bool) -> NestedVariances:
    """Estimate both variances by (restricted) maximum likelihood, each at least zero.

    Parameters
    ----------
    blocks : Blocks
        Effects of at least one study.
    restricted : bool
        REML rather than ML.

    Returns
    -------
    NestedVariances
        `between` is 0 with one study; `within` is 0 when every study has one effect, since
        the two cannot then be told apart. `log_likelihood` includes all constants, with
        ``+ log(k)/2`` for REML.

    Notes
    -----
    Study j has covariance ``V_j + within I + between 11'``. Given `within`, the likelihood in
    `between` is that of an ordinary pool of the study means
    ``1'D⁻¹y / 1'D⁻¹1`` with variances ``1 / 1'D⁻¹1``, ``D = V_j + within I``; its highest
    maximum is found as for any pool. What is left is one curve in `within`; its slope is
    half of ``y'PPy - tr P`` at fixed `between`, as `between` is at its best. The curve is
    searched from zero to a bound above which the slope is negative, and every change from
    rising to falling is narrowed until it is known to the last digits.

    References
    ----------
    .. [1] Konstantopoulos, S. (2011). Fixed effects and variance components estimation in
           three-level meta-analysis. Res Synth Methods 2, 61-76.
    """
    k, studies = blocks.y.size, blocks.start.size
    if k == studies:
        only = _profile(blocks, np.zeros(1), restricted)
        return NestedVariances(float(only.between[0]), 0.0, float(only.height[0]))
    smallest, largest = blocks.v.min(), blocks.v.max()
    scatter = float(((blocks.y - _mean(blocks) * blocks.ones) ** 2).sum()) / (k - studies)
    bound = (scatter + np.sqrt(scatter**2 + 4 * scatter * (largest - smallest))) / 2
    bound = max(bound, smallest)
    steps = int(np.ceil(np.log(bound / smallest) / np.log(SEARCH_FACTOR))) + 1
    points = np.maximum(smallest * SEARCH_FACTOR ** np.arange(steps + 1.0) - smallest, 0.0)
    curve = _profile(blocks, points, restricted)
    rising = curve.slope > 0
    rising[-1] = False
    candidates = [] if rising[0] else [0.0]
    for place in np.flatnonzero(rising[:-1] & ~rising[1:]):
        candidates.append(_narrow(blocks, points[place], points[place + 1], restricted))
    found = _profile(blocks, np.array(candidates), restricted)
    best = int(found.height.argmax())
    return NestedVariances(
        float(found.between[best]), float(candidates[best]), float(found.height[best])
    )


def _mean(blocks: Blocks) -> float:
    return float(blocks.ones @ blocks.y / (blocks.ones @ blocks.ones))


def _narrow(blocks: Blocks, low: float, high: float, restricted: bool) -> float:
    while high - low > 1e-13 * (high + blocks.v.min()):
        points = np.linspace(low, high, POINTS_PER_ROUND)
        rising = _profile(blocks, points[1:-1], restricted).slope > 0
        place = int(np.argmin(np.append(rising, False)))
        new_low, new_high = float(points[place]), float(points[place + 1])
        if (new_low, new_high) == (low, high):
            break
        low, high = new_low, new_high
    return (low + high) / 2


def _profile(blocks: Blocks, within: np.ndarray, restricted: bool) -> _Profile:
    """Best `between` for each `within`, with slope and height of the log-likelihood there."""

    def per_study(values):
        return np.add.reduceat(values, blocks.start, axis=1)

    d = 1 / (blocks.v + within[:, None])
    a, b = per_study(d * blocks.ones**2), per_study(d * blocks.ones * blocks.y)
    means = b / a
    batch = arrange(means, 1 / a, np.ones(a.shape, dtype=bool))
    method = "reml" if restricted else "ml"
    between = batch.unit**2 * between_study_variance(batch, method)

    shrink = 1 / (1 + between[:, None] * a)
    weight = a * shrink
    total = weight.sum(axis=1, keepdims=True)
    # Measured from one study's mean, so that a large common offset costs no digits.
    origin = means[:, :1]
    mean = origin + (weight * (means - origin)).sum(axis=1, keepdims=True) / total

    sizes = np.diff(np.append(blocks.start, blocks.y.size))
    residual = blocks.y - mean * blocks.ones
    lean = per_study(d * blocks.ones * residual)
    pull = between[:, None] * lean * shrink
    pressed = d * (residual - np.repeat(pull, sizes, axis=1) * blocks.ones)
    squares = per_study((d * blocks.ones) ** 2)
    trace = d.sum(axis=1) - (squares * between[:, None] * shrink).sum(axis=1)
    if restricted:
        trace -= (squares * shrink**2).sum(axis=1) / total[:, 0]

    k = blocks.y.size
    height = np.log(d).sum(axis=1) + np.log(shrink).sum(axis=1) - (pressed * residual).sum(axis=1)
    if restricted:
        height += np.log(k) - np.log(total[:, 0]) - (k - 1) * np.log(2 * np.pi)
    else:
        height -= k * np.log(2 * np.pi)
    return _Profile(between, (pressed**2).sum(axis=1) - trace, height / 2)
