"""The fit behind every pool of effects within studies, and the intervals that follow from it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit

from steelyard.pooling.nested_variance import Blocks, nested_variances
from steelyard.pooling.prediction import prediction_interval
from steelyard.pooling.robust_variance import StudyStack, robust_variance_of_stacks
from steelyard.pooling.study_layout import StudyLayout


@dataclass(frozen=True, slots=True, eq=False)
class NestedFit:
    """What every interval of many analyses follows from; arrays of shape (analyses,).

    Attributes
    ----------
    estimate, model_error, common_error : ndarray
        Estimate, its standard error by the model, and that of the common-effect mean.
    robust_error, robust_df : ndarray
        Cluster-robust; NaN where there is none.
    between, within, log_likelihood, q : ndarray
    k, studies : ndarray of int
    weights : ndarray, shape (analyses, k)
    """

    estimate: np.ndarray
    model_error: np.ndarray
    common_error: np.ndarray
    robust_error: np.ndarray
    robust_df: np.ndarray
    between: np.ndarray
    within: np.ndarray
    log_likelihood: np.ndarray
    q: np.ndarray
    k: np.ndarray
    studies: np.ndarray
    weights: np.ndarray


def fit_stacks(
    y,
    present,
    covariance,
    layout: StudyLayout,
    *,
    independent,
    method,
    robust=True,
    correction="CR2",
) -> NestedFit:
    """Fit the model in many analyses, from data already checked.

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
    method, robust, correction
        As in `pool_nested`.
    """
    covariance = [
        _lacking_apart(v, present[:, stack])
        for v, stack in zip(covariance, layout.stacks, strict=True)
    ]
    blocks = turned_blocks(y, present, covariance, layout, independent=independent)
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

    robust_error, robust_df = np.full(k.shape, np.nan), np.full(k.shape, np.nan)
    if robust and (studies > 1).any():
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
    return NestedFit(
        estimate,
        model_error,
        common_error,
        robust_error,
        robust_df,
        fitted.between,
        fitted.within,
        fitted.log_likelihood,
        q,
        k,
        studies,
        shares,
    )


def ends_of(fit: NestedFit, *, robust: bool, level: float) -> dict[str, np.ndarray]:
    """Intervals of a fit at a level, and which they are: the ends in `NestedPoolManyResult`."""
    z = float(ndtri((1 + level) / 2))
    none = np.zeros(fit.k.shape, dtype=bool)
    clustered, floored, outweighed = none, none, none
    standard_error, df = fit.model_error, np.full(fit.k.shape, np.inf)
    half = z * fit.model_error
    if robust:
        outweighed = (fit.studies > 1) & np.isnan(fit.robust_df)
        clustered = (fit.studies > 1) & ~outweighed
        t = stdtrit(np.where(clustered, fit.robust_df, 1.0), (1 + level) / 2)
        robust_half = t * fit.robust_error
        floored = clustered & (robust_half < z * fit.common_error)
        taken = clustered & ~floored
        model = np.where(floored, fit.common_error, fit.model_error)
        standard_error = np.where(taken, fit.robust_error, model)
        df = np.where(taken, fit.robust_df, np.inf)
        half = np.where(taken, robust_half, z * standard_error)
    low, high = fit.estimate - half, fit.estimate + half
    further = prediction_interval(
        fit.estimate,
        model_standard_error=fit.model_error,
        tau2=fit.between + fit.within,
        count=fit.studies,
        level=level,
        low=low,
        high=high,
    )
    return {
        "standard_error": standard_error,
        "df": df,
        "low": low,
        "high": high,
        "prediction_low": further.low,
        "prediction_high": further.high,
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


def turned_blocks(y, present, covariance, layout: StudyLayout, *, independent) -> Blocks:
    """Effects turned so that each study's sampling covariance is diagonal; as for `fit_stacks`."""
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
