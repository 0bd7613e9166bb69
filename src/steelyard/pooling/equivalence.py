"""Is a difference large enough to matter ruled out? Two one-sided tests against a margin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from steelyard.errors import DesignError
from steelyard.pooling.checking import choice, level_between_zero_and_one
from steelyard.pooling.checking_settings import above_zero, finite, strictly_between, whole
from steelyard.pooling.pool import PoolResult
from steelyard.pooling.pool_nested import NestedPoolResult
from steelyard.pooling.verdict import Verdict, verdict
from steelyard.show import Shown, number, p_text
from steelyard.show import interval as shown_interval


@dataclass(frozen=True, slots=True)
class Equivalence(Shown):
    """Two one-sided tests of an effect against ±margin, and what they settle.

    Attributes
    ----------
    estimate, standard_error, margin : float
        On one scale.
    df : float
        Of t; infinite for the normal distribution.
    alpha : float
        Of each one-sided test.
    against_lower, against_upper : float
        Distance of the estimate from -margin and from +margin, in standard errors.
    p_lower, p_upper : float
        One-sided: that the effect is at or below -margin, at or above +margin.
    p : float
        The larger of the two; equivalence is claimed where it is below `alpha`.
    low, high : float
        Interval at level ``1 - 2 alpha``: it lies within ±margin exactly where ``p < alpha``.
    wide_low, wide_high : float
        Interval at level ``1 - alpha``, which decides between better and worse.
    verdict : Verdict
    """

    estimate: float
    standard_error: float
    margin: float
    df: float
    alpha: float
    against_lower: float
    against_upper: float
    p_lower: float
    p_upper: float
    p: float
    low: float
    high: float
    wide_low: float
    wide_high: float
    verdict: Verdict

    def _title(self) -> str:
        return f"Two one-sided tests, margin {self.margin:g}"

    def _rows(self) -> list[tuple[str, str]]:
        spread = f"t on {self.df:g} df" if np.isfinite(self.df) else "normal"
        return [
            ("answer", self.verdict.sentence),
            (
                "estimate",
                f"{number(self.estimate, decimals=3, sign=True)}, "
                f"{100 * (1 - 2 * self.alpha):g} % interval "
                f"{shown_interval(self.low, self.high, decimals=3)}",
            ),
            ("above −margin", p_text(self.p_lower)),
            ("below +margin", p_text(self.p_upper)),
            ("method", f"{spread}; each test at {100 * self.alpha:g} %"),
        ]


def equivalence(
    estimate, standard_error, *, margin, df: float = np.inf, alpha: float = 0.05
) -> Equivalence:
    """Test an effect against ±margin.

    Parameters
    ----------
    estimate, standard_error : float
        Effect and its standard error, above 0; any unit, logarithms for ratios.
    margin : float
        Largest difference that would not matter, above 0; same unit. To be set beforehand.
    df : float
        Degrees of freedom of t; infinite for the normal distribution.
    alpha : float
        Of each one-sided test; between 0 and 0.5.

    Returns
    -------
    Equivalence

    Raises
    ------
    DesignError
        For a number outside its range.

    Notes
    -----
    ``(estimate + margin)/SE`` must exceed, and ``(estimate - margin)/SE`` fall short of, the
    one-sided critical value; both together are a test of size `alpha` [1]_, [2]_.

    References
    ----------
    .. [1] Schuirmann, D. J. (1987). A comparison of the two one-sided tests procedure and the
           power approach. Journal of Pharmacokinetics and Biopharmaceutics 15, 657-680.
    .. [2] Lakens, D. (2017). Equivalence tests: a practical primer for t tests, correlations,
           and meta-analyses. Soc Psychol Personal Sci 8, 355-362.
    """
    estimate = finite(estimate, name="estimate")
    error = above_zero(standard_error, name="standard_error")
    margin = above_zero(margin, name="margin")
    df = above_zero(df, name="df", infinite=True)
    alpha = strictly_between(alpha, name="alpha", low=0, high=0.5)
    half, wide = _quantile(df, 1 - alpha) * error, _quantile(df, 1 - alpha / 2) * error
    return _tested(
        estimate,
        error,
        margin=margin,
        df=df,
        alpha=alpha,
        ends=(estimate - half, estimate + half),
        wide=(estimate - wide, estimate + wide),
    )


def _tested(estimate, error, *, margin, df, alpha, ends, wide) -> Equivalence:
    against_lower, against_upper = (estimate + margin) / error, (estimate - margin) / error
    p_lower, p_upper = _below(df, -against_lower), _below(df, against_upper)
    return Equivalence(
        estimate=estimate,
        standard_error=error,
        margin=margin,
        df=df,
        alpha=alpha,
        against_lower=against_lower,
        against_upper=against_upper,
        p_lower=p_lower,
        p_upper=p_upper,
        p=max(p_lower, p_upper),
        low=ends[0],
        high=ends[1],
        wide_low=wide[0],
        wide_high=wide[1],
        verdict=verdict(
            low=wide[0], high=wide[1], low_90=ends[0], high_90=ends[1], worthwhile=margin
        ),
    )


def equivalence_of_pool(
    pooled: PoolResult | NestedPoolResult, *, wide: PoolResult | NestedPoolResult, margin
) -> Equivalence:
    """`equivalence` of a pooled effect, each interval from a fit at its own level.

    Parameters
    ----------
    pooled, wide : PoolResult or NestedPoolResult
        The same effects pooled at the levels ``1 - 2 alpha``, which gives the tests, and
        ``1 - alpha``; 0.90 and 0.95 for tests at 5 %. The width of an interval at one level
        does not follow from that at another: a Knapp-Hartung or cluster-robust interval may
        have to be widened to the common-effect one at 0.90 and not at 0.95.
    margin : float
        As in `equivalence`.

    Returns
    -------
    Equivalence

    Raises
    ------
    DesignError
        For a margin outside its range, or levels that do not go together.
    """
    margin = above_zero(margin, name="margin")
    alpha = (1 - pooled.level) / 2
    if abs(wide.level - (1 - alpha)) > 1e-9:
        raise DesignError(
            f"wide must be pooled at level {1 - alpha:g} where pooled is at {pooled.level:g}; "
            f"it is at {wide.level:g}"
        )
    return _tested(
        pooled.estimate,
        pooled.standard_error,
        margin=margin,
        df=pooled.df,
        alpha=alpha,
        ends=(pooled.low, pooled.high),
        wide=(wide.low, wide.high),
    )


def equivalence_of_interval(
    low, high, *, margin, level: float = 0.95, df: float = np.inf, alpha: float = 0.05
) -> Equivalence:
    """`equivalence` from a printed interval that is symmetrical about its estimate.

    Parameters
    ----------
    low, high : float
        Interval, low end first; on the log scale for ratios.
    margin, df, alpha : float
        As in `equivalence`.
    level : float
        Of the interval; between 0 and 1.
    """
    low, high = finite(low, name="low"), finite(high, name="high")
    level = level_between_zero_and_one(level)
    if not low < high:
        raise DesignError(f"low must lie below high; they are {low:g} and {high:g}")
    df = above_zero(df, name="df", infinite=True)
    error = (high - low) / 2 / _quantile(df, (1 + level) / 2)
    return equivalence((low + high) / 2, error, margin=margin, df=df, alpha=alpha)


def equivalence_of_groups(
    *,
    means,
    sds,
    ns,
    margin,
    margin_in: str = "unit",
    equal_variances: bool = True,
    alpha: float = 0.05,
) -> Equivalence:
    """`equivalence` of two independent groups' means, from n, mean and SD.

    Parameters
    ----------
    means, sds, ns : (float, float)
        Means, SDs (above 0) and people (at least 2) of the intervention, then the comparator.
    margin : float
        Above 0.
    margin_in : str
        ``unit`` of the means, or ``sd``: a number of standard deviations (pooled; with unequal
        variances the root of the mean variance).
    equal_variances : bool
        Student's t; otherwise Welch's, with Satterthwaite's degrees of freedom.
    alpha : float
        Of each one-sided test.

    Returns
    -------
    Equivalence
        In the unit of the means.

    Raises
    ------
    DesignError
        For a number outside its range.

    References
    ----------
    .. [1] Lakens, D. (2017), as in `equivalence`.
    """
    choice(margin_in, name="margin_in", among=("unit", "sd"))
    margin = above_zero(margin, name="margin")
    m1, m2 = (finite(value, name="each mean") for value in _pair(means, "means"))
    s1, s2 = (above_zero(value, name="each sd") for value in _pair(sds, "sds"))
    n1, n2 = (whole(value, name="each n", least=2) for value in _pair(ns, "ns"))
    if equal_variances:
        df = n1 + n2 - 2
        sd = np.sqrt(((n1 - 1) * s1**2 + (n2 - 1) * s2**2) / df)
        error = sd * np.sqrt(1 / n1 + 1 / n2)
    else:
        a, b = s1**2 / n1, s2**2 / n2
        df = (a + b) ** 2 / (a**2 / (n1 - 1) + b**2 / (n2 - 1))
        sd, error = np.sqrt((s1**2 + s2**2) / 2), np.sqrt(a + b)
    return equivalence(
        m1 - m2, error, margin=margin * (sd if margin_in == "sd" else 1), df=df, alpha=alpha
    )


def _pair(values, name: str):
    values = tuple(values) if np.ndim(values) == 1 else ()
    if len(values) != 2:
        raise DesignError(f"{name} must be two numbers, the intervention's and the comparator's")
    return values


def _below(df: float, value: float) -> float:
    return float(ndtr(value) if np.isinf(df) else stdtr(df, value))


def _quantile(df: float, probability: float) -> float:
    return float(ndtri(probability) if np.isinf(df) else stdtrit(df, probability))
