"""Effects from a paper's own comparison: a difference with its interval, SE or test."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri, stdtrit

from steelyard.effects.groups import Estimate
from steelyard.effects.independent import corrected_d
from steelyard.errors import DesignError
from steelyard.reporting.refusals import above, ascending, at_least, between, finite, one_of


def _quantile(probability, df):
    if df is None:
        return ndtri(probability)
    return stdtrit(above(df, 0, "degrees of freedom"), probability)


def _p_value(p):
    if isinstance(p, str):
        raise DesignError(f"p must be an exact number, not a threshold or a word; got {p!r}")
    return between(p, 0, 1, "p")


def _sign(sign):
    sign = finite(sign, "sign")
    if np.any(np.abs(sign) != 1):
        raise DesignError(f"sign must be 1 or -1, from the direction of the means; got {sign}")
    return sign


def from_standard_error(value, *, standard_error, df=None) -> Estimate:
    """An effect printed with its standard error, in whatever metric it was printed.

    Parameters
    ----------
    value : array_like of float, shape (k,) or scalar
        The effect; ratios on the log scale.
    standard_error : array_like of float, same shape
        > 0, same unit.
    df : array_like of float, optional
        Degrees of freedom behind it, if known.

    Returns
    -------
    Estimate

    Raises
    ------
    DesignError
        If the standard error is not positive.
    """
    value = finite(value, "value")
    standard_error = above(standard_error, 0, "standard error")
    return Estimate(value, standard_error**2, df, "as printed, with its standard error")


def from_interval(value, *, low, high, level=0.95, df=None) -> Estimate:
    """An effect printed with its confidence interval.

    SE = (high − low)/(2q), q the two-sided quantile of t on `df` degrees of freedom, or of
    the normal distribution if `df` is not given [1]_.

    Parameters
    ----------
    value, low, high : array_like of float, shape (k,) or scalar
        low ≤ value ≤ high and low < high; ratios on the log scale.
    level : float
        Confidence level, between 0 and 1.
    df : array_like of float, optional
        Degrees of freedom, n₁ + n₂ − 2 for a difference in means.

    Returns
    -------
    Estimate

    Raises
    ------
    DesignError
        If the numbers are out of order or the level is not between 0 and 1.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.3.
    """
    value, low, high = finite(value, "value"), finite(low, "low"), finite(high, "high")
    level = between(level, 0, 1, "level")
    above(high - low, 0, "width of the interval")
    ascending(("low", low), ("value", value), ("high", high))
    standard_error = (high - low) / (2 * _quantile((1 + level) / 2, df))
    return Estimate(value, standard_error**2, df, "as printed, with its confidence interval")


def difference_from_t(value, *, t, df) -> Estimate:
    """Raw difference with its t statistic: SE = value/t.

    Parameters
    ----------
    value, t : array_like of float, shape (k,) or scalar
        Neither zero; the sign of `t` is not used.
    df : array_like of float, same shape
        Degrees of freedom, > 0.

    Returns
    -------
    Estimate
        In the unit of `value`.

    Raises
    ------
    DesignError
        If value or t is zero, as no SE follows then.
    """
    value = finite(value, "value")
    size = above(np.abs(finite(t, "t")), 0, "size of t")
    above(np.abs(value), 0, "size of the difference")
    return Estimate(
        value, (value / size) ** 2, above(df, 0, "degrees of freedom"), "as printed, SE from t"
    )


def difference_from_f(value, *, f, df) -> Estimate:
    """Raw difference with an F statistic on 1 and `df` degrees of freedom: t = √F.

    Holds for two groups, or two groups by two times when `value` is the difference in changes.
    An F with more than one numerator degree of freedom says nothing about one difference.
    Parameters, return value and errors as for `difference_from_t`.
    """
    root = np.sqrt(above(f, 0, "F"))
    estimate = difference_from_t(value, t=root, df=df)
    return Estimate(estimate.effect, estimate.variance, estimate.df, "as printed, SE from F")


def difference_from_p(value, *, p, df=None, exact: bool = True) -> Estimate:
    """Raw difference with its two-sided p: SE = |value|/q(p) [1]_.

    Parameters
    ----------
    value : array_like of float, shape (k,) or scalar
        Not zero.
    p : array_like of float, same shape
        Two-sided p, between 0 and 1, as a number; text such as "NS" is refused.
    df : array_like of float, optional
        Degrees of freedom of the t test; the normal distribution is used without them.
    exact : bool
        False where `p` is only a bound, "p < 0.05" as 0.05: the SE is then at most this.

    Returns
    -------
    Estimate
        In the unit of `value`.

    Raises
    ------
    DesignError
        If p is no exact number between 0 and 1, or the difference is zero.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.3.
    """
    value = finite(value, "value")
    above(np.abs(value), 0, "size of the difference")
    quantile = -_quantile(_p_value(p) / 2, df)
    method = "SE from exact p" if exact else "SE from the bound of p, which it is at most"
    return Estimate(value, (value / quantile) ** 2, df, f"as printed, {method}")


def standardised_from_t(
    t, *, n_intervention, n_comparator, correction: str = "approximate", covariates: int = 0
) -> Estimate:
    """Hedges' g from the t statistic of two independent groups.

    d = t·√(1/n₁ + 1/n₂), in SDs of what was tested: scores after training, or changes [1]_.

    Parameters
    ----------
    t : array_like of float, shape (k,) or scalar
        Positive if the intervention had the larger mean.
    n_intervention, n_comparator : array_like of float, same shape
        People, each ≥ 2.
    correction : {"approximate", "exact", "none"}
        As for `standardised_difference`.
    covariates : int
        How many the test was adjusted for; the SD is then the residual one, on
        n₁ + n₂ − 2 − covariates degrees of freedom, and J on the same.

    Returns
    -------
    Estimate
        In SDs of what was tested.

    Raises
    ------
    DesignError
        If a group has n < 2, or t or the number of covariates will not do.

    References
    ----------
    .. [1] Borenstein, M. (2009). Effect sizes for continuous data. In Cooper, Hedges &
           Valentine (eds), Handbook of Research Synthesis, 2nd ed., ch. 12.
    """
    n_intervention = at_least(n_intervention, 2, "n of the intervention group")
    n_comparator = at_least(n_comparator, 2, "n of the comparator group")
    return corrected_d(
        finite(t, "t") * np.sqrt(1 / n_intervention + 1 / n_comparator),
        n_intervention=n_intervention,
        n_comparator=n_comparator,
        correction=correction,
        method="standardised difference from t",
        covariates=int(at_least(covariates, 0, "number of covariates")),
    )


def standardised_from_f(
    f,
    *,
    sign,
    n_intervention,
    n_comparator,
    correction: str = "approximate",
    covariates: int = 0,
) -> Estimate:
    """Hedges' g from an F on one numerator degree of freedom; t = sign·√F.

    `sign` is 1 or −1, from the direction of the means; the rest as for `standardised_from_t`.
    """
    return standardised_from_t(
        _sign(sign) * np.sqrt(at_least(f, 0, "F")),
        n_intervention=n_intervention,
        n_comparator=n_comparator,
        correction=correction,
        covariates=covariates,
    )


def standardised_from_p(
    p,
    *,
    sign,
    n_intervention,
    n_comparator,
    sides: int = 2,
    correction: str = "approximate",
    covariates: int = 0,
) -> Estimate:
    """Hedges' g from the exact p of a t test of two independent groups.

    `p` is exact, one- or two-sided as `sides` says; `sign` is 1 or −1, from the direction of
    the means; the rest as for `standardised_from_t`. t comes back from p on
    n₁ + n₂ − 2 − covariates degrees of freedom.
    """
    one_of(str(sides), ("1", "2"), "sides")
    n_intervention = at_least(n_intervention, 2, "n of the intervention group")
    n_comparator = at_least(n_comparator, 2, "n of the comparator group")
    df = n_intervention + n_comparator - 2 - at_least(covariates, 0, "number of covariates")
    size = -stdtrit(above(df, 0, "degrees of freedom"), _p_value(p) / sides)
    return standardised_from_t(
        _sign(sign) * size,
        n_intervention=n_intervention,
        n_comparator=n_comparator,
        correction=correction,
        covariates=covariates,
    )


def standardised_from_value(value, *, n_intervention, n_comparator) -> Estimate:
    """A standardised difference printed alone, with the variance its group sizes imply.

    Var = (n₁ + n₂)/(n₁n₂) + value²/(2(n₁ + n₂)), for values over a between-person SD of
    scores after training. Values over a change SD, or over an unknown SD, do not belong here.

    Parameters
    ----------
    value : array_like of float, shape (k,) or scalar
        In SDs, taken as corrected already.
    n_intervention, n_comparator : array_like of float, same shape
        People, each ≥ 2.

    Returns
    -------
    Estimate
        In SDs.

    Raises
    ------
    DesignError
        If a group has n < 2 or the value is not finite.
    """
    first = at_least(n_intervention, 2, "n of the intervention group")
    second = at_least(n_comparator, 2, "n of the comparator group")
    value = finite(value, "value")
    return Estimate(
        effect=value,
        variance=(first + second) / (first * second) + value**2 / (2 * (first + second)),
        df=first + second - 2,
        method="standardised difference as printed, variance from the group sizes",
        per_squared_effect=1 / (2 * (first + second)),
    )
