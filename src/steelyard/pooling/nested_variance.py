"""Variances between and within studies when effects are nested in studies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.pooling.batch import arrange
from steelyard.pooling.between_study_variance import between_study_variance
from steelyard.pooling.zero_crossing import zero_crossing

# Total variances at neighbouring search points differ by this factor.
SEARCH_FACTOR = 1.5
# Effects worked on together: few enough for their arrays to stay in the processor's cache.
EFFECTS_AT_ONCE = 24_000


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Effects in study order, turned so that each study's sampling covariance is diagonal.

    With ``V_j = U diag(v) U'`` the sampling covariance of study j: `y` is ``U'y``, `ones` is
    ``U'1``, and `v` the eigenvalues. With independent sampling errors nothing is turned.

    Attributes
    ----------
    y, ones, v : ndarray, shape (analyses, k)
        Where an analysis lacks an effect, `v` is infinite and the others are 0.
    start : ndarray of int, shape (studies,)
        Where each study begins, in every analysis.
    """

    y: np.ndarray
    ones: np.ndarray
    v: np.ndarray
    start: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class NestedVariances:
    """Variance of study means, variance of effects about them, and the log-likelihood there.

    Each an array of shape (analyses,).
    """

    between: np.ndarray
    within: np.ndarray
    log_likelihood: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class _Profile:
    between: np.ndarray
    slope: np.ndarray
    height: np.ndarray


def nested_variances(blocks: Blocks, *, restricted: bool) -> NestedVariances:
    """Estimate both variances by (restricted) maximum likelihood, each at least zero.

    Parameters
    ----------
    blocks : Blocks
        Effects of at least one study in each analysis.
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
    rising to falling is narrowed until it is known to the last digits. Once each study's
    covariance is turned, every step costs in proportion to the number of effects.

    References
    ----------
    .. [1] Konstantopoulos, S. (2011). Fixed effects and variance components estimation in
           three-level meta-analysis. Res Synth Methods 2, 61-76.
    """
    present = np.isfinite(blocks.v)
    k = present.sum(axis=1)
    studies = np.logical_or.reduceat(present, blocks.start, axis=1).sum(axis=1)
    several = k > studies
    smallest = blocks.v.min(axis=1)
    largest = np.where(present, blocks.v, 0.0).max(axis=1)
    mean = (blocks.ones * blocks.y).sum(axis=1) / (blocks.ones**2).sum(axis=1)
    scatter = ((blocks.y - mean[:, None] * blocks.ones) ** 2).sum(axis=1)
    scatter = scatter / np.where(several, k - studies, 1)
    bound = (scatter + np.sqrt(scatter**2 + 4 * scatter * (largest - smallest))) / 2
    bound = np.maximum(bound, smallest)
    steps = np.ceil(np.log(bound / smallest) / np.log(SEARCH_FACTOR)).astype(int) + 1
    steps = np.where(several, steps, 0)
    factors = SEARCH_FACTOR ** np.arange(steps.max(initial=0) + 1.0)
    searched = np.arange(factors.size) <= steps[:, None]
    row, place = np.nonzero(searched)
    points = np.maximum(smallest[row] * factors[place] - smallest[row], 0.0)
    found = _profile(blocks, row, points, restricted)

    # Beyond the bound the slope is negative, whatever rounding says of it there.
    slope = np.where(place == steps[row], -np.abs(found.slope), found.slope)
    rising = slope > 0
    falls = np.flatnonzero(rising[:-1] & ~rising[1:] & (row[:-1] == row[1:]))
    owner = row[falls]
    maximum = zero_crossing(
        lambda which, at: _profile(blocks, owner[which], at, restricted).slope,
        low=points[falls],
        high=points[falls + 1],
        at_low=slope[falls],
        at_high=slope[falls + 1],
        scale=smallest[owner],
    )
    from_zero = np.flatnonzero((place == 0) & ~rising)
    owner = np.append(row[from_zero], owner)
    candidates = np.append(np.zeros(from_zero.size), maximum)
    best = _profile(blocks, owner, candidates, restricted)
    # The highest candidate of each analysis comes last, the earliest of equals at that.
    order = np.lexsort((-np.arange(owner.size), best.height, owner))
    last = order[np.flatnonzero(np.append(np.diff(owner[order]) > 0, True))]
    return NestedVariances(best.between[last], candidates[last], best.height[last])


def _profile(blocks: Blocks, row, within, restricted: bool) -> _Profile:
    """Best `between` for each `within` of analysis `row`, with slope and height there."""
    at_once = max(1, EFFECTS_AT_ONCE // blocks.y.shape[1])
    parts = [
        _profile_part(
            blocks, row[begin : begin + at_once], within[begin : begin + at_once], restricted
        )
        for begin in range(0, within.size, at_once)
    ]
    if not parts:
        return _Profile(np.empty(0), np.empty(0), np.empty(0))
    return _Profile(
        np.concatenate([part.between for part in parts]),
        np.concatenate([part.slope for part in parts]),
        np.concatenate([part.height for part in parts]),
    )


def _profile_part(blocks: Blocks, row, within, restricted: bool) -> _Profile:
    turned = _Turned.of(blocks, row, within)
    batch = arrange(turned.means, 1 / turned.safe, turned.present)
    method = "reml" if restricted else "ml"
    between = batch.unit**2 * between_study_variance(batch, method)
    found = turned.likelihood(between, restricted=restricted)
    return _Profile(between, found.slope_within, found.height)


def likelihood_at(
    blocks: Blocks, *, between: np.ndarray, within: np.ndarray, restricted: bool
) -> Likelihood:
    """The (restricted) log-likelihood of one analysis at pairs of variances.

    Parameters
    ----------
    blocks : Blocks
        Of one analysis.
    between, within : ndarray, shape (points,)
    restricted : bool

    Returns
    -------
    Likelihood
    """
    at_once = max(1, EFFECTS_AT_ONCE // blocks.y.shape[1])
    parts = []
    for begin in range(0, max(within.size, 1), at_once):
        part = slice(begin, begin + at_once)
        turned = _Turned.of(blocks, np.zeros(within[part].size, dtype=int), within[part])
        parts.append(turned.likelihood(between[part], restricted=restricted))
    return Likelihood(
        np.concatenate([part.height for part in parts]),
        np.concatenate([part.slope_within for part in parts]),
        np.concatenate([part.slope_between for part in parts]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Likelihood:
    """Log-likelihood at pairs of variances, and twice its slopes there; shape (points,)."""

    height: np.ndarray
    slope_within: np.ndarray
    slope_between: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class _Turned:
    """Each study summed up at a variance within studies: weight `a`, and mean."""

    y: np.ndarray
    ones: np.ndarray
    start: np.ndarray
    d: np.ndarray
    a: np.ndarray
    safe: np.ndarray
    means: np.ndarray
    present: np.ndarray

    @classmethod
    def of(cls, blocks: Blocks, row, within) -> _Turned:
        y, ones = blocks.y[row], blocks.ones[row]
        d = 1 / (blocks.v[row] + within[:, None])
        a, b = (np.add.reduceat(x, blocks.start, axis=1) for x in (d * ones**2, d * ones * y))
        present = a > 0
        safe = np.where(present, a, 1.0)
        return cls(y, ones, blocks.start, d, a, safe, b / safe, present)

    def _per_study(self, values: np.ndarray) -> np.ndarray:
        return np.add.reduceat(values, self.start, axis=1)

    def likelihood(self, between: np.ndarray, *, restricted: bool) -> Likelihood:
        y, ones, d, means = self.y, self.ones, self.d, self.means
        shrink = 1 / (1 + between[:, None] * self.a)
        weight = self.a * shrink
        total = weight.sum(axis=1, keepdims=True)
        # Measured from one study's mean, so that a large common offset costs no digits.
        origin = np.take_along_axis(means, self.present.argmax(axis=1)[:, None], axis=1)
        mean = origin + (weight * (means - origin)).sum(axis=1, keepdims=True) / total

        sizes = np.diff(np.append(self.start, y.shape[1]))
        residual = y - mean * ones
        lean = self._per_study(d * ones * residual)
        pull = between[:, None] * lean * shrink
        pressed = d * (residual - np.repeat(pull, sizes, axis=1) * ones)
        squares = self._per_study((d * ones) ** 2)
        trace = d.sum(axis=1) - (squares * between[:, None] * shrink).sum(axis=1)
        trace_between = weight.sum(axis=1)
        if restricted:
            trace -= (squares * shrink**2).sum(axis=1) / total[:, 0]
            trace_between -= (weight**2).sum(axis=1) / total[:, 0]

        here = d > 0
        k = here.sum(axis=1)
        height = np.log(np.where(here, d, 1.0)).sum(axis=1) + np.log(shrink).sum(axis=1)
        height -= (pressed * residual).sum(axis=1)
        if restricted:
            height += np.log(k) - np.log(total[:, 0]) - (k - 1) * np.log(2 * np.pi)
        else:
            height -= k * np.log(2 * np.pi)
        return Likelihood(
            height / 2,
            (pressed**2).sum(axis=1) - trace,
            # A study's pressed effects sum to its lean, shrunk.
            ((lean * shrink) ** 2).sum(axis=1) - trace_between,
        )
