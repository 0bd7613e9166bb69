"""Standard errors from p, when p is a number; bounds when it is a threshold."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import sqrt

from scipy.special import ndtri, stdtrit

from steelyard.errors import DesignError
from steelyard.reporting.number import Number, printed
from steelyard.reporting.refusals import above, at_least, between, finite

_P_TEXT = re.compile(r"^\s*p?\s*([=<≤>≥]?)\s*([01]?[.,]?\d+)\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class PValue:
    """A two-sided p as printed: exact, or an upper bound."""

    value: float
    exact: bool


def read_p(p) -> PValue:
    """A printed p: a number, or text such as ``"0.03"``, ``"p = .03"`` or ``"p < 0.05"``.

    Raises
    ------
    DesignError
        If it says only that something was not significant ("NS", "p > 0.05"), from which no
        standard error follows, or is no p at all.
    """
    if not isinstance(p, str):
        return PValue(float(between(p, 0, 1, "p")), True)
    found = _P_TEXT.match(p)
    if found is None or found[1] in (">", "≥"):
        raise DesignError(
            "p must be an exact number or an upper bound such as < 0.05, as no standard error "
            f"follows from a result that was not significant; got {p!r}"
        )
    value = float(between(float(found[2].replace(",", ".")), 0, 1, "p"))
    return PValue(value, found[1] in ("", "="))


def bounded_p(p) -> Number:
    """The p to use for a printed p that may be a threshold: p = bound [1]_.

    Parameters
    ----------
    p : float or str
        As for `read_p`.

    Returns
    -------
    Number
        As printed if exact. For an upper bound the bound itself, which gives the largest
        standard error it allows.

    Raises
    ------
    DesignError
        If it says only that something was not significant, or is no p at all.

    References
    ----------
    .. [1] Cochrane Handbook 5.1, 7.7.3.3, on the conservative use of p < 0.05.
    """
    read = read_p(p)
    if read.exact:
        return Number(read.value, "reported", (f"p = {printed(read.value)}",))
    step = f"p < {printed(read.value)} used as if p = {printed(read.value)}: SE is at most this"
    return Number(read.value, "bounded", (step,))


def se_from_p(difference, *, p, df=None) -> Number:
    """Standard error of a difference from its two-sided p.

    SE = |difference|/q, q the two-sided quantile of t on `df` degrees of freedom for that p, or
    of the normal distribution without `df` [1]_. A threshold is used as if p were
    equal to it, which gives the largest standard error it allows: a bound.

    Parameters
    ----------
    difference : float
        Not zero; raw units.
    p : float or str
        As for `read_p`.
    df : float, optional
        Degrees of freedom of the test, > 0.

    Returns
    -------
    Number
        Derived from an exact p, bounded from a threshold; raw units.

    Raises
    ------
    DesignError
        If p cannot be used, or the difference is zero.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.3.
    """
    size = float(above(abs(finite(difference, "difference")), 0, "size of the difference"))
    read = read_p(p)
    if df is None:
        quantile, distribution = -float(ndtri(read.value / 2)), "z"
    else:
        df = float(above(df, 0, "degrees of freedom"))
        quantile, distribution = -float(stdtrit(df, read.value / 2)), f"t on {printed(df)} df"
    se = size / quantile
    sign = "=" if read.exact else "<"
    chain = (
        f"p {sign} {printed(read.value)} → {distribution} {printed(quantile)}; "
        f"difference {printed(size)} / {printed(quantile)} = SE {printed(se)}",
        "p taken to be two-sided",
    )
    if read.exact:
        return Number(se, "derived", chain)
    return Number(se, "bounded", (*chain, "threshold used as if exact: SE is at most this"))


def sd_from_p(difference, *, p, n_intervention, n_comparator) -> Number:
    """SD common to two groups from the p of their difference in means.

    SD = SE/√(1/n₁ + 1/n₂), the SE from `se_from_p` on n₁ + n₂ − 2 degrees of freedom [1]_.

    Parameters
    ----------
    difference : float
        Not zero; raw units.
    p : float or str
        As for `read_p`.
    n_intervention, n_comparator : float
        People, each ≥ 2.

    Returns
    -------
    Number
        Derived, or bounded from a threshold; raw units.

    Raises
    ------
    DesignError
        If p cannot be used, the difference is zero or a group has n < 2.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.3.
    """
    first = float(at_least(n_intervention, 2, "n of the intervention group"))
    second = float(at_least(n_comparator, 2, "n of the comparator group"))
    se = se_from_p(difference, p=p, df=first + second - 2)
    sd = se.value / sqrt(1 / first + 1 / second)
    step = (
        f"SE {printed(se.value)} / √(1/{printed(first)} + 1/{printed(second)}) = SD {printed(sd)}"
    )
    return Number(sd, se.tier, (*se.chain, step, "SD taken to be the same in both groups"))


def sd_of_change_from_p(mean_change, *, p, n) -> Number:
    """SD of people's changes from the p of a paired t test: SE·√n on n − 1 degrees of freedom [1]_.

    Parameters
    ----------
    mean_change : float
        Not zero; raw units.
    p : float or str
        As for `read_p`.
    n : float
        People, ≥ 2.

    Returns
    -------
    Number
        Derived, or bounded from a threshold; raw units.

    Raises
    ------
    DesignError
        If p cannot be used, the change is zero or `n` is below 2.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.3 and 23.2.7.
    """
    n = float(at_least(n, 2, "n"))
    se = se_from_p(mean_change, p=p, df=n - 1)
    sd = se.value * sqrt(n)
    step = f"SE {printed(se.value)} × √{printed(n)} = SD of change {printed(sd)}"
    return Number(sd, se.tier, (*se.chain, step))
