"""Pool many analyses at once: the engine behind every pooled estimate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc, ndtri, stdtrit

from steelyard.errors import DesignError
from steelyard.pooling.batch import Batch, arrange, by_distinct, moments
from steelyard.pooling.between_study_variance import METHODS, between_study_variance
from steelyard.pooling.checking import (
    choice,
    level_between_zero_and_one,
    numbers,
    present_effects,
)
from steelyard.pooling.prediction import prediction_interval
from steelyard.pooling.q_profile import Start, q_profile

INTERVALS = ("knapp-hartung", "normal")

# Effects worked on together: few enough for their arrays to stay in the processor's cache.
EFFECTS_AT_ONCE = 24_000

# Beyond this many standard errors, squares of squares leave the range of a double.
FARTHEST = 1e60


@dataclass(frozen=True, slots=True, eq=False)
class PoolManyResult:
    """Pooled effects; every array has shape (analyses,) unless said otherwise.

    Attributes
    ----------
    estimate, standard_error, df : ndarray
        ``estimate ± t(df) * standard_error`` is the interval; infinite `df` is the normal one.
    level : float
        Of all intervals.
    low, high : ndarray
        Interval for the mean.
    prediction_low, prediction_high : ndarray
        Interval for the true effect of a further study; NaN with fewer than three studies and
        with ``between="common"``.
    tau2, tau2_low, tau2_high : ndarray
        Between-study variance and its Q-profile interval (NaN for one study and for
        ``between="common"``).
    i2 : ndarray
        ``max(0, (Q - df) / Q)``, a fraction from 0 to 1.
    q, q_df, q_p : ndarray
        Cochran's Q, its degrees of freedom and p (NaN for one study).
    k : ndarray of int
        Effects present.
    weights : ndarray, shape (analyses, k)
        Fractions of each analysis that sum to 1; 0 where an effect is absent.
    between : str
        Estimator of the between-study variance.
    interval : ndarray of str
        Interval used: ``normal`` in place of ``knapp-hartung`` where there is one study and
        with ``between="common"``.
    floored : ndarray of bool
        True where the Knapp-Hartung interval was narrower than the common-effect one and the
        width of the latter is given.

    An analysis without any effect has NaN throughout and ``k = 0``.
    """

    estimate: np.ndarray
    standard_error: np.ndarray
    df: np.ndarray
    level: float
    low: np.ndarray
    high: np.ndarray
    prediction_low: np.ndarray
    prediction_high: np.ndarray
    tau2: np.ndarray
    tau2_low: np.ndarray
    tau2_high: np.ndarray
    i2: np.ndarray
    q: np.ndarray
    q_df: np.ndarray
    q_p: np.ndarray
    k: np.ndarray
    weights: np.ndarray
    between: str
    interval: np.ndarray
    floored: np.ndarray


def pool_many(
    effects,
    variances,
    *,
    between: str = "reml",
    interval: str = "knapp-hartung",
    level: float = 0.95,
    allow_narrower: bool = False,
) -> PoolManyResult:
    """Pool the effects of many analyses, each a row, in one sweep.

    Parameters
    ----------
    effects : array_like of float, shape (analyses, k)
        Effects; NaN where an analysis has none. Any unit, logarithms for ratios.
    variances : array_like of float, shape (analyses, k)
        Sampling variances; finite and above 0 for every effect present. Squared unit.
    between : str
        Between-study variance: ``reml``, ``dl``, ``pm``, ``ml``, or ``common`` (none).
    interval : str
        ``knapp-hartung`` or ``normal``.
    level : float
        Of all intervals; between 0 and 1.
    allow_narrower : bool
        Let the Knapp-Hartung interval be narrower than the common-effect one.

    Returns
    -------
    PoolManyResult

    Raises
    ------
    DesignError
        For an unknown option, an infinite effect, or a variance that is not above zero, with
        its place and value.

    Notes
    -----
    With ``w = 1/(v + tau2)``, the mean is ``sum(w y)/sum(w)`` and its standard error
    ``1/sqrt(sum(w))`` (normal), or the root of
    ``sum w (y - mean)**2 / ((k - 1) sum(w))`` with t on k - 1 degrees of freedom
    (Knapp-Hartung [1]_). The latter can shrink to nothing when effects happen to agree. Its
    half-width is therefore never less than that of the normal common-effect interval,
    ``z / sqrt(sum(1/v))``; where that bites, `standard_error` is the common-effect one and
    `df` infinite. Multiplying by ``max(1, ·)`` instead, the other practice, also widens
    intervals that are already wider than the common-effect one, and departs from the
    published values.

    References
    ----------
    .. [1] Knapp, G., & Hartung, J. (2003). Improved tests for a random effects meta-regression
           with a single covariate. Stat Med 22, 2693-2710.
    .. [2] Röver, C., Knapp, G., & Friede, T. (2015). Hartung-Knapp-Sidik-Jonkman approach and
           its modification for random-effects meta-analysis with few studies. BMC Med Res
           Methodol 15, 99.
    """
    between = choice(between, name="between", among=METHODS)
    interval = choice(interval, name="interval", among=INTERVALS)
    level = level_between_zero_and_one(level)
    effects = numbers(effects, name="effects", ndim=2)
    variances = numbers(variances, name="variances", ndim=2)
    present = present_effects(effects, variances, names=("effects", "variances"))
    return pool_checked(
        effects,
        variances,
        present,
        between=between,
        interval=interval,
        level=level,
        allow_narrower=allow_narrower,
    )


def pool_checked(effects, variances, present, *, between, interval, level, allow_narrower):
    """`pool_many` on arrays and options that have already been checked."""
    analyses, width = effects.shape
    k = present.sum(axis=1)
    columns = {
        name: np.full(analyses, np.nan)
        for name in (
            "estimate standard_error df low high prediction_low prediction_high tau2 tau2_low "
            "tau2_high i2 q q_p"
        ).split()
    }
    columns["floored"] = np.zeros(analyses, dtype=bool)
    columns["weights"] = np.zeros((analyses, width))
    kept = np.flatnonzero(k > 0)
    at_once = max(1, EFFECTS_AT_ONCE // max(width, 1))
    for begin in range(0, kept.size, at_once):
        rows = kept[begin : begin + at_once]
        with np.errstate(over="ignore", invalid="ignore"):
            batch = arrange(effects[rows], variances[rows], present[rows])
        _refuse_far_apart(batch, rows)
        part = _pool_part(
            batch, between=between, interval=interval, level=level, allow_narrower=allow_narrower
        )
        weights = 1 / (np.where(present[rows], variances[rows], np.inf) + part["tau2"][:, None])
        columns["weights"][rows] = weights / weights.sum(axis=1, keepdims=True)
        for name, values in part.items():
            columns[name][rows] = values
    normal = (k < 2) | (between == "common") | (interval == "normal")
    return PoolManyResult(
        **columns,
        k=k,
        q_df=np.maximum(k - 1, 0),
        level=level,
        between=between,
        interval=np.where(normal, "normal", "knapp-hartung"),
    )


def _refuse_far_apart(batch: Batch, rows: np.ndarray) -> None:
    """Refuse numbers whose squares cannot be held beside each other."""
    present_v = np.where(batch.count > 1, np.where(np.isinf(batch.v), 1, batch.v).max(axis=0), 1)
    far = ~((np.abs(batch.y).max(axis=0) < FARTHEST) & (present_v < FARTHEST**2))
    if far.any():
        raise DesignError(
            "effects and variances of one analysis must be near enough in size to compute with; "
            f"those of analysis {int(rows[far][0])} differ by more than {FARTHEST:g} standard "
            "errors of its most precise study"
        )


def _pool_part(batch: Batch, *, between, interval, level, allow_narrower):
    df = np.maximum(batch.count - 1, 1)
    single = batch.count < 2

    common_error = 1 / np.sqrt(batch.at_zero.total)
    q = batch.at_zero.q
    tau2 = between_study_variance(batch, between)
    sums = moments(batch.y, batch.v, tau2)
    model_error = 1 / np.sqrt(sums.total)
    q_between = sums.q

    z = ndtri((1 + level) / 2)
    floored = np.zeros(single.shape, dtype=bool)
    if interval == "normal" or between == "common":
        standard_error, used_df, multiplier = model_error, np.inf, z
    else:
        t = by_distinct(lambda distinct: stdtrit(distinct, (1 + level) / 2), df)
        adjusted = np.sqrt(q_between / df) * model_error
        short = single if allow_narrower else t * adjusted < z * common_error
        floored = short & ~single
        short = short | single
        standard_error = np.where(short, common_error, adjusted)
        used_df = np.where(short, np.inf, df)
        multiplier = np.where(short, z, t)
    half = multiplier * standard_error
    mean = sums.mean

    part = {
        "estimate": batch.origin + batch.unit * mean,
        "standard_error": batch.unit * standard_error,
        "df": used_df,
        "low": batch.origin + batch.unit * (mean - half),
        "high": batch.origin + batch.unit * (mean + half),
        "tau2": batch.unit**2 * tau2,
        "i2": np.maximum(q - df, 0.0) / np.maximum(q, df) * ~single,
        "q": q,
        "q_p": np.where(single, np.nan, chdtrc(df, q)),
        "floored": floored,
    }
    if between != "common":
        bounds = q_profile(batch, level=level, near=Start(tau2, q_between, sums.pull))
        further = prediction_interval(
            mean,
            model_standard_error=model_error,
            tau2=tau2,
            count=batch.count,
            level=level,
            low=mean - half,
            high=mean + half,
        )
        part["tau2_low"] = batch.unit**2 * bounds.low
        part["tau2_high"] = batch.unit**2 * bounds.high
        part["prediction_low"] = batch.origin + batch.unit * further.low
        part["prediction_high"] = batch.origin + batch.unit * further.high
    return part
