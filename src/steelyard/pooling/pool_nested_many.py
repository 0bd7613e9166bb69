"""Pool many analyses whose effects are nested in the same studies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

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
from steelyard.pooling.nested_fit import ends_of, fit_stacks
from steelyard.pooling.study_layout import studies_in_order, study_layout

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
    y, present, covariance, layout, *, independent, method, robust, level, correction="CR2"
) -> dict[str, np.ndarray]:
    """The numbers behind `pool_nested_many` and `pool_nested`, from data already checked.

    Returns
    -------
    dict of str to ndarray
        The arrays of `NestedPoolManyResult`; ``weights`` in the order of the layout.

    See Also
    --------
    fit_stacks : the parameters.
    """
    fit = fit_stacks(
        y,
        present,
        covariance,
        layout,
        independent=independent,
        method=method,
        robust=robust,
        correction=correction,
    )
    free = np.maximum(fit.k - 1, 1)
    return {
        **ends_of(fit, robust=robust, level=level),
        "estimate": fit.estimate,
        "variance_between_studies": fit.between,
        "variance_within_studies": fit.within,
        "tau2": fit.between + fit.within,
        "i2": np.maximum(fit.q - (fit.k - 1), 0.0) / np.maximum(fit.q, free),
        "q": fit.q,
        "q_df": fit.k - 1,
        "q_p": np.where(fit.k > 1, chdtrc(free, fit.q), np.nan),
        "k": fit.k,
        "studies": fit.studies,
        "weights": fit.weights,
        "log_likelihood": fit.log_likelihood,
    }


def _refuse_no_correlation(given: np.ndarray | CovarianceBlocks) -> None:
    if isinstance(given, np.ndarray) and given.ndim == 1:
        raise DesignError("correlation must be a matrix or its blocks; it has one dimension")
    if not np.allclose(variances_of(given), 1.0, rtol=0, atol=1e-8):
        raise DesignError("correlation must have ones on its diagonal")
