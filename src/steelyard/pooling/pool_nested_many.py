"""Pool many analyses whose effects are nested in the same studies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc, ndtri, stdtrit

from steelyard.errors import DesignError
from steelyard.pooling.checking import (
    choice,
    level_between_zero_and_one,
    numbers,
    present_effects,
)
from steelyard.pooling.covariance_blocks import (
    CovarianceBlocks,
    as_covariance,
    stacked_covariance,
    variances_of,
)
from steelyard.pooling.nested_variance import Blocks, nested_variances
from steelyard.pooling.prediction import prediction_interval
from steelyard.pooling.robust_variance import StudyStack, robust_variance_of_stacks
from steelyard.pooling.study_layout import StudyLayout, studies_in_order, study_layout

METHODS = ("reml", "ml")
# Analyses worked on together hold at most this many effects.
EFFECTS_AT_ONCE = 50_000


@dataclass(frozen=True, slots=True, eq=False)
class NestedPoolManyResult:
    """Pooled effects of many analyses; arrays of shape (analyses,) unless said otherwise.

    Attributes
    ----------
    estimate, standard_error, df : ndarray
        ``estimate ± t(df) * standard_error`` is the interval; infinite `df` is the normal one.
    level : float
        Of all intervals.
    low, high : ndarray
        Interval for the mean of true effects.
    prediction_low, prediction_high : ndarray
        Interval for one true effect in a further study; NaN with fewer than three studies.
    variance_between_studies, variance_within_studies, tau2 : ndarray
        Of study means, of effects about their study's mean, and the sum.
    i2, q, q_df, q_p : ndarray
        As in `NestedPoolResult`.
    k, studies : ndarray of int
        Effects and studies present.
    weights : ndarray, shape (analyses, k)
        Sum to 1; 0 for an effect left out.
    log_likelihood : ndarray
    between : str
        ``reml`` or ``ml``.
    robust : ndarray of bool
        True where the interval is the cluster-robust one (or the wider one in its place).
    floored : ndarray of bool
        True where the cluster-robust interval was narrower than the common-effect one and the
        width of the latter is given.
    outweighed : ndarray of bool
        True where one study outweighs all others, so that no cluster-robust interval can be
        formed and the model's normal one is given.
    """

    estimate: np.ndarray
    standard_error: np.ndarray
    df: np.ndarray
    level: float
    low: np.ndarray
    high: np.ndarray
    prediction_low: np.ndarray
    prediction_high: np.ndarray
    variance_between_studies: np.ndarray
    variance_within_studies: np.ndarray
    tau2: np.ndarray
    i2: np.ndarray
    q: np.ndarray
    q_df: np.ndarray
    q_p: np.ndarray
    k: np.ndarray
    studies: np.ndarray
    weights: np.ndarray
    log_likelihood: np.ndarray
    between: str
    robust: np.ndarray
    floored: np.ndarray
    outweighed: np.ndarray


def pool_nested_many(
    effects,
    variances,
    *,
    study,
    correlation=None,
    method: str = "reml",
    robust: bool = True,
    level: float = 0.95,
) -> NestedPoolManyResult:
    """Pool effects within studies in many analyses, each a row, in one sweep.

    Parameters
    ----------
    effects : array_like of float, shape (analyses, k)
        Effects; NaN where an analysis has none, so that any analysis can leave some out.
    variances : array_like of float, shape (analyses, k)
        Sampling variances; finite and above 0 for every effect present.
    study : sequence, length k
        Which study each effect is from, in all analyses.
    correlation : array_like of float, shape (k, k), or CovarianceBlocks, optional
        Correlation of sampling errors, with zeros between studies; none if left out.
    method, robust, level
        As in `pool_nested`.

    Returns
    -------
    NestedPoolManyResult

    Raises
    ------
    DesignError
        As in `pool_nested`, and for an analysis without any effect.

    Notes
    -----
    The model, and every number, is that of `pool_nested`.
    """
    method = choice(method, name="method", among=METHODS)
    level = level_between_zero_and_one(level)
    effects = numbers(effects, name="effects", ndim=2)
    variances = numbers(variances, name="variances", ndim=2)
    present = present_effects(effects, variances, names=("effects", "variances"))
    analyses, k = effects.shape
    if not present.any(axis=1).all():
        empty = int(np.flatnonzero(~present.any(axis=1))[0])
        raise DesignError(f"every analysis must have an effect; analysis {empty} has none")
    used = present.any(axis=0)
    layout = study_layout(studies_in_order(study, used))
    stacks = tuple(
        np.broadcast_to(np.eye(s.shape[1]), (*s.shape, s.shape[1])) for s in layout.stacks
    )
    if correlation is not None:
        given = as_covariance(correlation, size=k)
        _refuse_no_correlation(given)
        stacks = stacked_covariance(given, layout)
    ordered = layout.order
    at_once = max(1, EFFECTS_AT_ONCE // ordered.size)
    parts = []
    for begin in range(0, analyses, at_once):
        rows = slice(begin, begin + at_once)
        here = present[rows][:, ordered]
        error = np.sqrt(np.where(here, variances[rows][:, ordered], 1.0))
        blocks = [
            r * error[:, stack][..., None] * error[:, stack][..., None, :]
            for r, stack in zip(stacks, layout.stacks, strict=True)
        ]
        y = np.where(here, effects[rows][:, ordered], 0.0)
        parts.append(
            pool_stacks(
                y,
                here,
                blocks,
                layout,
                independent=correlation is None,
                method=method,
                robust=robust,
                level=level,
            )
        )
    columns = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    weights = np.zeros((analyses, k))
    weights[:, ordered] = columns.pop("weights")
    return NestedPoolManyResult(**columns, weights=weights, between=method, level=level)


def pool_stacks(
    y,
    present,
    covariance,
    layout: StudyLayout,
    *,
    independent,
    method,
    robust,
    level,
    correction="CR2",
) -> dict[str, np.ndarray]:
    """The numbers behind `pool_nested_many` and `pool_nested`, from data already checked.

    Parameters
    ----------
    y : ndarray, shape (analyses, k)
        Effects in the order of the layout; 0 where absent.
    present : ndarray of bool, shape (analyses, k)
        At least one in every analysis.
    covariance : sequence of ndarray, shape (analyses, studies of m effects, m, m)
        Sampling covariance per stack of the layout.
    layout : StudyLayout
    independent : bool
        Whether every covariance is diagonal.
    method, robust, level, correction
        As in `pool_nested`.

    Returns
    -------
    dict of str to ndarray
        The arrays of `NestedPoolManyResult`; ``weights`` in the order of the layout.
    """
    covariance = [
        _lacking_apart(v, present[:, stack])
        for v, stack in zip(covariance, layout.stacks, strict=True)
    ]
    blocks = _turned(y, present, covariance, layout, independent=independent)
    fitted = nested_variances(blocks, restricted=method == "reml")
    k = present.sum(axis=1)
    studies = np.logical_or.reduceat(present, layout.start, axis=1).sum(axis=1)
    # Measured from an effect, so that a large common offset costs no digits.
    origin = np.take_along_axis(y, present.argmax(axis=1)[:, None], axis=1)
    moved = np.where(present, y - origin, 0.0)

    working, raw, common = [], np.empty(y.shape), np.empty(y.shape)
    for v, stack in zip(covariance, layout.stacks, strict=True):
        here = present[:, stack].astype(float)
        f = v + fitted.within[:, None, None, None] * np.eye(stack.shape[1])
        f += fitted.between[:, None, None, None] * (here[..., None] * here[..., None, :])
        working.append(f)
        raw[:, stack] = np.linalg.solve(f, here[..., None])[..., 0]
        common[:, stack] = np.linalg.solve(v, here[..., None])[..., 0]
    total = raw.sum(axis=1)
    shares = raw / total[:, None]
    estimate = origin[:, 0] + (shares * moved).sum(axis=1)
    model_error = 1 / np.sqrt(total)
    common_error = 1 / np.sqrt(common.sum(axis=1))
    common_mean = origin[:, 0] + (common * moved).sum(axis=1) / common.sum(axis=1)
    residual = blocks.y - common_mean[:, None] * blocks.ones
    q = (residual**2 / blocks.v).sum(axis=1)

    z = float(ndtri((1 + level) / 2))
    standard_error, df, half = model_error, np.full(k.shape, np.inf), z * model_error
    several = studies > 1
    clustered, floored = np.zeros(k.shape, dtype=bool), np.zeros(k.shape, dtype=bool)
    outweighed = floored
    if robust and several.any():
        away = np.where(present, y - estimate[:, None], 0.0)
        sandwich = robust_variance_of_stacks(
            [
                StudyStack(
                    present[:, stack].astype(float)[..., None],
                    away[:, stack],
                    f,
                    present[:, stack],
                )
                for f, stack in zip(working, layout.stacks, strict=True)
            ],
            correction=correction,
        )
        robust_error, robust_df = np.sqrt(sandwich.covariance[:, 0, 0]), sandwich.df[:, 0]
        outweighed = several & np.isnan(robust_df)
        clustered = several & ~outweighed
        robust_half = stdtrit(np.where(clustered, robust_df, 1.0), (1 + level) / 2) * robust_error
        floored = clustered & (robust_half < z * common_error)
        taken = clustered & ~floored
        standard_error = np.where(taken, robust_error, np.where(floored, common_error, model_error))
        df = np.where(taken, robust_df, np.inf)
        half = np.where(taken, robust_half, z * standard_error)
    low, high = estimate - half, estimate + half
    tau2 = fitted.between + fitted.within
    further = prediction_interval(
        estimate,
        model_standard_error=model_error,
        tau2=tau2,
        count=studies,
        level=level,
        low=low,
        high=high,
    )
    free = np.maximum(k - 1, 1)
    return {
        "estimate": estimate,
        "standard_error": standard_error,
        "df": df,
        "low": low,
        "high": high,
        "prediction_low": further.low,
        "prediction_high": further.high,
        "variance_between_studies": fitted.between,
        "variance_within_studies": fitted.within,
        "tau2": tau2,
        "i2": np.maximum(q - (k - 1), 0.0) / np.maximum(q, free),
        "q": q,
        "q_df": k - 1,
        "q_p": np.where(k > 1, chdtrc(free, q), np.nan),
        "k": k,
        "studies": studies,
        "weights": shares,
        "log_likelihood": fitted.log_likelihood,
        "robust": clustered,
        "floored": floored,
        "outweighed": outweighed,
    }


def _lacking_apart(v: np.ndarray, present: np.ndarray) -> np.ndarray:
    """Covariance (A, S, m, m) with effects that are absent set apart from the others."""
    if present.all():
        return v
    m = v.shape[-1]
    both = present[..., None] & present[..., None, :]
    kept = np.where(both, v, 0.0)
    # Above the sum of the variances, hence above every eigenvalue of the effects present.
    apart = 2 * np.trace(kept, axis1=-2, axis2=-1) + (~present.any(axis=-1))
    lacking = (~present)[..., None] & np.eye(m, dtype=bool)
    return np.where(lacking, apart[..., None, None], kept)


def _turned(y, present, covariance, layout: StudyLayout, *, independent) -> Blocks:
    turned, ones, v = y.copy(), present.astype(float), np.empty(y.shape)
    for block, stack in zip(covariance, layout.stacks, strict=True):
        here = present[:, stack]
        if independent or stack.shape[1] == 1:
            variances = np.diagonal(block, axis1=-2, axis2=-1)
            v[:, stack] = np.where(here, variances, np.inf)
            continue
        values, vectors = np.linalg.eigh(block)
        # Lacking effects have the largest eigenvalues, and those directions to themselves.
        kept = np.arange(stack.shape[1]) < here.sum(axis=-1)[..., None]
        v[:, stack] = np.where(kept, values, np.inf)
        across = vectors.swapaxes(-1, -2)
        turned[:, stack] = np.where(kept, (across @ y[:, stack][..., None])[..., 0], 0.0)
        ones[:, stack] = np.where(kept, (across @ here.astype(float)[..., None])[..., 0], 0.0)
    return Blocks(turned, ones, v, layout.start)


def _refuse_no_correlation(given: np.ndarray | CovarianceBlocks) -> None:
    if isinstance(given, np.ndarray) and given.ndim == 1:
        raise DesignError("correlation must be a matrix or its blocks; it has one dimension")
    if not np.allclose(variances_of(given), 1.0, rtol=0, atol=1e-8):
        raise DesignError("correlation must have ones on its diagonal")
