"""Standard errors from t and F."""

from __future__ import annotations

from math import sqrt

from steelyard.errors import DesignError
from steelyard.reporting.number import Number, printed
from steelyard.reporting.refusals import above, at_least, finite


def se_from_t(difference, *, t) -> Number:
    """Standard error of a difference from its t statistic: |difference/t| [1]_.

    Parameters
    ----------
    difference, t : float
        Neither zero; `difference` in raw units. Signs are not used.

    Returns
    -------
    Number
        Derived; raw units.

    Raises
    ------
    DesignError
        If either is zero, as no SE follows then.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.3.
    """
    size = float(above(abs(finite(difference, "difference")), 0, "size of the difference"))
    t = float(above(abs(finite(t, "t")), 0, "size of t"))
    se = size / t
    step = f"difference {printed(size)} / t {printed(t)} = SE {printed(se)}"
    return Number(se, "derived", (step,))


def se_from_f(difference, *, f, df_numerator=1) -> Number:
    """Standard error of a difference from its F: |difference|/√F, as F on 1 and ν is t² on ν [1]_.

    For two groups, or for the group-by-time F of two groups at two times with the difference
    in mean changes: with two times that F is the squared t of the changes, own derivation.

    Parameters
    ----------
    difference : float
        Not zero; raw units.
    f : float
        > 0.
    df_numerator : float
        Must be 1: an F over more than two means says nothing about one difference.

    Returns
    -------
    Number
        Derived; raw units.

    Raises
    ------
    DesignError
        If `df_numerator` is not 1, F is not positive or the difference is zero.

    References
    ----------
    .. [1] Lipsey, M. W. & Wilson, D. B. (2001). Practical Meta-Analysis. Sage, Appendix B, on
           effects from F with one degree of freedom; from memory.
    """
    if df_numerator != 1:
        raise DesignError(
            f"F must have 1 numerator degree of freedom to give one difference; got {df_numerator}"
        )
    t = sqrt(above(f, 0, "F"))
    by_t = se_from_t(difference, t=t)
    return Number(by_t.value, "derived", (f"t = √F = √{printed(f)} = {printed(t)}", *by_t.chain))


def sd_of_change_from_t(mean_change, *, t, n) -> Number:
    """SD of people's changes from a paired t test: |mean change/t|·√n [1]_.

    Parameters
    ----------
    mean_change, t : float
        Neither zero; `mean_change` in raw units.
    n : float
        People, ≥ 2.

    Returns
    -------
    Number
        Derived; raw units.

    Raises
    ------
    DesignError
        If the change or t is zero, or `n` is below 2.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 23.2.7.
    """
    n = float(at_least(n, 2, "n"))
    se = se_from_t(mean_change, t=t)
    sd = se.value * sqrt(n)
    step = f"SE {printed(se.value)} × √{printed(n)} = SD of change {printed(sd)}"
    return Number(sd, "derived", (*se.chain, step))
