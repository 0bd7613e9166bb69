"""Ratios and differences of risk between two groups of counted people."""

from __future__ import annotations

import numpy as np

from steelyard.effects.groups import Counts, Estimate
from steelyard.errors import DesignError
from steelyard.reporting.refusals import at_least, one_of, within

ZERO_CELLS = ("half", "refuse")


def _cells(group: Counts, who: str):
    n = at_least(group.n, 1, f"n of the {who}")
    events = within(group.events, 0, n, f"events of the {who} (0 to n)")
    return events, n - events


def _table(intervention, comparator):
    cells = (*_cells(intervention, "intervention group"), *_cells(comparator, "comparator group"))
    return np.broadcast_arrays(*cells)


def _without_zeros(cells, needs_correction, zero_cells):
    """Add one half to every cell of each table that needs it; or refuse."""
    one_of(zero_cells, ZERO_CELLS, "zero_cells")
    if zero_cells == "refuse" and np.any(needs_correction):
        raise DesignError(
            "every cell must have someone in it when zero_cells is 'refuse'; got a zero"
            f"{_where(needs_correction)}"
        )
    return tuple(cell + 0.5 * needs_correction for cell in cells)


def _half_for_risks(a, b, c, d):
    return (a == 0) | (c == 0) | ((b == 0) & (d == 0))


def _half_for_any(a, b, c, d):
    return (a == 0) | (b == 0) | (c == 0) | (d == 0)


def _refuse_empty(empty, what):
    if np.any(empty):
        raise DesignError(
            f"a ratio needs someone with and someone without the event; got {what} in both "
            f"groups{_where(empty)}"
        )


def _where(mask):
    indices = np.flatnonzero(mask)
    return "" if np.ndim(mask) == 0 else f" at index {int(indices[0])}"


def log_risk_ratio(
    intervention: Counts, comparator: Counts, *, zero_cells: str = "half"
) -> Estimate:
    """Natural logarithm of the risk ratio.

    ln((a/n₁)/(c/n₂)), variance 1/a − 1/n₁ + 1/c − 1/n₂ [1]_.

    Parameters
    ----------
    intervention, comparator : Counts
        0 ≤ events ≤ n, n ≥ 1; scalars or arrays of equal shape.
    zero_cells : {"half", "refuse"}
        ``half`` adds one half to all four cells of a table in which a group has no events,
        or in which everyone in both groups has one; common practice. No events in either
        group say nothing about a ratio and are refused under both.

    Returns
    -------
    Estimate
        Log ratio, unitless; positive means more events with the intervention.

    Raises
    ------
    DesignError
        If events exceed n, or there are none in both groups.

    References
    ----------
    .. [1] Borenstein et al. (2009). Introduction to Meta-Analysis, ch. 5. Wiley.
    """
    a, b, c, d = _table(intervention, comparator)
    _refuse_empty((a == 0) & (c == 0), "no events")
    a, b, c, d = _without_zeros((a, b, c, d), _half_for_risks(a, b, c, d), zero_cells)
    return Estimate(
        effect=np.log(a / (a + b)) - np.log(c / (c + d)),
        variance=1 / a - 1 / (a + b) + 1 / c - 1 / (c + d),
        df=None,
        method="log risk ratio",
    )


def log_odds_ratio(
    intervention: Counts, comparator: Counts, *, zero_cells: str = "half"
) -> Estimate:
    """Natural logarithm of the odds ratio.

    ln(ad/(bc)), variance 1/a + 1/b + 1/c + 1/d [1]_.

    Parameters
    ----------
    intervention, comparator : Counts
        0 ≤ events ≤ n, n ≥ 1; scalars or arrays of equal shape.
    zero_cells : {"half", "refuse"}
        ``half`` adds one half to all four cells of a table with an empty cell; common
        practice. No events in either group, or an event in everyone, say nothing about a
        ratio and are refused under both.

    Returns
    -------
    Estimate
        Log odds ratio, unitless; positive means more events with the intervention.

    Raises
    ------
    DesignError
        If events exceed n, or nobody or everybody in both groups has an event.

    References
    ----------
    .. [1] Borenstein et al. (2009). Introduction to Meta-Analysis, ch. 5. Wiley.
    """
    a, b, c, d = _table(intervention, comparator)
    _refuse_empty((a == 0) & (c == 0), "no events")
    _refuse_empty((b == 0) & (d == 0), "events in everyone")
    a, b, c, d = _without_zeros((a, b, c, d), _half_for_any(a, b, c, d), zero_cells)
    return Estimate(
        effect=np.log(a) + np.log(d) - np.log(b) - np.log(c),
        variance=1 / a + 1 / b + 1 / c + 1 / d,
        df=None,
        method="log odds ratio",
    )


def risk_difference(
    intervention: Counts, comparator: Counts, *, zero_cells: str = "half"
) -> Estimate:
    """Difference between two risks.

    a/n₁ − c/n₂, variance ab/n₁³ + cd/n₂³ [1]_.

    Parameters
    ----------
    intervention, comparator : Counts
        0 ≤ events ≤ n, n ≥ 1; scalars or arrays of equal shape.
    zero_cells : {"half", "refuse"}
        ``half`` adds one half to all four cells of a table with an empty cell, in the
        variance only, as it would otherwise claim a risk known without error.

    Returns
    -------
    Estimate
        Difference in proportions, unitless; positive means more events with the intervention.

    Raises
    ------
    DesignError
        If events exceed n.

    References
    ----------
    .. [1] Borenstein et al. (2009). Introduction to Meta-Analysis, ch. 5. Wiley.
    """
    a, b, c, d = _table(intervention, comparator)
    effect = a / (a + b) - c / (c + d)
    a, b, c, d = _without_zeros((a, b, c, d), _half_for_any(a, b, c, d), zero_cells)
    return Estimate(
        effect=effect,
        variance=a * b / (a + b) ** 3 + c * d / (c + d) ** 3,
        df=None,
        method="risk difference",
    )


def half_added(intervention: Counts, comparator: Counts, *, metric: str):
    """Whether one half is added to the four cells of a table, under ``zero_cells="half"``.

    Parameters
    ----------
    intervention, comparator : Counts
        As for the effect.
    metric : {"risk-ratio", "odds-ratio", "risk-difference"}
        A risk difference has it in its variance only.

    Returns
    -------
    added : bool or ndarray of bool
    """
    one_of(metric, ("risk-ratio", "odds-ratio", "risk-difference"), "metric")
    needed = _half_for_risks if metric == "risk-ratio" else _half_for_any
    return needed(*_table(intervention, comparator))


def comparator_part(intervention: Counts, comparator: Counts, *, metric: str):
    """Part of the variance that comes from the comparator group.

    1/c − 1/n₂ of a log risk ratio, 1/c + 1/d of a log odds ratio, cd/n₂³ of a risk difference;
    empty cells corrected as in the effect. It is the covariance of two such effects that share
    the group, exactly where none was corrected.

    Parameters
    ----------
    intervention, comparator : Counts
        As for the effect.
    metric : {"risk-ratio", "odds-ratio", "risk-difference"}

    Returns
    -------
    part : float or ndarray
        In squared units of the effect.
    """
    one_of(metric, ("risk-ratio", "odds-ratio", "risk-difference"), "metric")
    needed = half_added(intervention, comparator, metric=metric)
    _, _, c, d = _without_zeros(_table(intervention, comparator), needed, "half")
    if metric == "risk-ratio":
        return 1 / c - 1 / (c + d)
    return 1 / c + 1 / d if metric == "odds-ratio" else c * d / (c + d) ** 3
