"""Test statistics and p-values as spans, and whether two of them can both be true."""

from __future__ import annotations

from math import sqrt

from scipy.special import ndtr as normal
from scipy.special import ndtri, stdtr, stdtrit

from steelyard.errors import DesignError
from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.rounded import HAIR, Rounded, told
from steelyard.records.study import INTERVAL_KEYS, ReportedEffect
from steelyard.reporting import read_p


def two_sided_p(t: float, df: float | None = None) -> float:
    """p = 2·P(T > |t|), of t on `df` degrees of freedom, or normal without them."""
    size = abs(t)
    return float(2 * (normal(-size) if df is None else stdtr(df, -size)))


def p_of_statistic(size: Rounded, df: float | None) -> Rounded:
    """Span of two-sided p for a span of |t|; its low end also allows the normal distribution."""
    low, high = max(size.low, 0.0), max(size.high, 0.0)
    return Rounded(two_sided_p(size.value, df), two_sided_p(high), two_sided_p(low, df))


def told_p(p: float) -> str:
    """A computed p with its sign: ``p = 0.033``, or ``p < 0.001`` below what tells apart."""
    return f"p < {limits.P_LEAST}" if p < limits.P_LEAST else f"p = {told(p)}"


def p_as_printed(p) -> Rounded | None:
    """Span of a printed p: the rounding of an exact one, all below or above a bound."""
    if p is None:
        return None
    if isinstance(p, str):
        above = p.strip().startswith(">")
        try:
            bound = read_p(p.replace(">", "<")).value
        except DesignError:
            return None
        return Rounded(bound, bound, 1.0) if above else Rounded(bound, 0.0, bound)
    span = Rounded.printed(p)
    return None if span is None else Rounded(span.value, max(span.low, 0.0), min(span.high, 1.0))


def size_of(span: Rounded) -> Rounded:
    """Span of the absolute value."""
    if span.low >= 0:
        return span
    if span.high <= 0:
        return -span
    return Rounded(abs(span.value), 0.0, max(-span.low, span.high))


def statistic_of(effect: ReportedEffect, df: float | None) -> Rounded | None:
    """|value|/SE of a printed effect, its SE printed or from an interval by t or normal."""
    value, se = Rounded.printed(effect.value), standard_error_of(effect, df)
    if value is None or se is None:
        return None
    size = size_of(value)
    return Rounded(size.value / se.value, size.low / se.high, size.high / se.low)


def standard_error_of(effect: ReportedEffect, df: float | None) -> Rounded | None:
    """Standard error of a printed effect, as printed or from an interval by t or normal."""
    se = Rounded.printed(effect.se)
    if se is None:
        se = _se_of_interval(effect, df)
    return None if se is None or se.low <= 0 else se


def _se_of_interval(effect: ReportedEffect, df: float | None) -> Rounded | None:
    for key, level in INTERVAL_KEYS.items():
        pair = getattr(effect, key)
        if pair is None:
            continue
        low, high = (Rounded.printed(limit) for limit in pair)
        if low is None or high is None:
            return None
        width, tail = high - low, (1 + level) / 2
        by_normal = 2 * float(ndtri(tail))
        by_t = by_normal if df is None else 2 * float(stdtrit(df, tail))
        return Rounded(width.value / by_t, width.low / by_t, width.high / by_normal)
    return None


def statistic_from_f(f) -> Rounded | None:
    """|t| = √F for one degree of freedom above."""
    span = Rounded.printed(f)
    if span is None:
        return None
    return Rounded(sqrt(span.value), sqrt(max(span.low, 0.0)), sqrt(span.high))


def disagree(one: Rounded, other: Rounded) -> bool:
    """Whether two spans of p contradict each other.

    They do when they lie further apart than a factor that also covers one-sided tests and
    other degrees of freedom. Two p's above an upper limit, or below a lower one, are not held
    against each other: there a small slip moves p by a large factor.
    """
    low, high = (one, other) if one.value <= other.value else (other, one)
    top = max(low.high, limits.P_LEAST)
    return top * limits.P_RATIO < high.low * (1 - HAIR) and top <= limits.P_MOST


def contradict(one: Rounded, other: Rounded) -> bool:
    """Whether two spans of p of one test, on the same numbers, contradict each other.

    Above the limit to which `disagree` looks they do where their normal deviates lie further
    apart than ranks, unequal variances and a small slip explain.
    """
    if disagree(one, other):
        return True
    low, high = (one, other) if one.value <= other.value else (other, one)
    if not limits.P_MOST < low.high < high.low <= 1:
        return False
    return float(ndtri(high.low / 2) - ndtri(low.high / 2)) > limits.Z_APART


def agree(one: Rounded, other: Rounded) -> bool:
    """Whether two spans of p meet, give or take a small factor."""
    factor = limits.P_FIT
    return one.low <= other.high * factor and other.low <= one.high * factor


def opposite_at_five_percent(effect: ReportedEffect, p: Rounded) -> bool:
    """Whether the 95 % interval and p stand on different sides of p = 0.05, past rounding."""
    if effect.ci95 is None:
        return False
    low, high = (Rounded.printed(limit) for limit in effect.ci95)
    if low is None or high is None:
        return False
    holds_zero = low.high < 0 < high.low
    leaves_zero = low.low > 0 or high.high < 0
    return (holds_zero and p.high < limits.SIGNIFICANCE) or (
        leaves_zero and p.low > limits.SIGNIFICANCE
    )
