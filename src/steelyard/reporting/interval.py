"""SDs and standard errors from confidence intervals."""

from __future__ import annotations

from math import sqrt

from scipy.special import ndtri, stdtrit

from steelyard.reporting.number import Number, printed
from steelyard.reporting.refusals import above, at_least, between, finite, one_of

DIVISORS = ("t", "normal")


def _width(low, high) -> float:
    return float(above(finite(high, "high") - finite(low, "low"), 0, "width of the interval"))


def _quantile(level, df, by) -> float:
    one_of(by, DIVISORS, "by")
    probability = (1 + float(between(level, 0, 1, "level"))) / 2
    return float(ndtri(probability) if by == "normal" else stdtrit(df, probability))


def _assumption(df, by) -> str:
    if by == "normal":
        return "interval taken to be from the normal distribution"
    return f"interval taken to be from t on {printed(df)} degrees of freedom"


def sd_from_interval(low, high, *, n, level=0.95, by="t") -> Number:
    """SD of a group from the confidence interval of its mean.

    SD = √n·(high − low)/(2q), q the two-sided quantile of t on n − 1 degrees of freedom [1]_.

    Parameters
    ----------
    low, high : float
        low < high; raw units.
    n : float
        People, ≥ 2.
    level : float
        Confidence level, between 0 and 1.
    by : {"t", "normal"}
        ``normal`` only where the paper says so, or with some 60 people and more.

    Returns
    -------
    Number
        Derived; raw units.

    Raises
    ------
    DesignError
        If the limits are out of order, `n` is below 2 or `level` is not between 0 and 1.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.2.
    """
    width = _width(low, high)
    df = float(at_least(n, 2, "n")) - 1
    divisor = 2 * _quantile(level, df, by)
    sd = sqrt(n) * width / divisor
    step = (
        f"{printed(100 * level)} % interval {printed(low)} to {printed(high)}: "
        f"√{printed(n)} × {printed(width)} / {printed(divisor)} = SD {printed(sd)}"
    )
    return Number(sd, "derived", (step, _assumption(df, by)))


def se_from_interval(low, high, *, df=None, level=0.95) -> Number:
    """Standard error of a mean or a difference from its confidence interval.

    SE = (high − low)/(2q), q of t on `df` degrees of freedom, or normal without them [1]_.

    Parameters
    ----------
    low, high : float
        low < high; raw units, or the log scale for a ratio.
    df : float, optional
        n − 1 for one group, n₁ + n₂ − 2 for a difference; > 0.
    level : float
        Confidence level, between 0 and 1.

    Returns
    -------
    Number
        Derived; unit of the limits.

    Raises
    ------
    DesignError
        If the limits are out of order, `df` is not positive or `level` is not between 0 and 1.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.3.
    """
    width = _width(low, high)
    by = "normal" if df is None else "t"
    degrees = None if df is None else float(above(df, 0, "degrees of freedom"))
    divisor = 2 * _quantile(level, degrees, by)
    se = width / divisor
    step = (
        f"{printed(100 * level)} % interval {printed(low)} to {printed(high)}: "
        f"{printed(width)} / {printed(divisor)} = SE {printed(se)}"
    )
    return Number(se, "derived", (step, _assumption(degrees, by)))
