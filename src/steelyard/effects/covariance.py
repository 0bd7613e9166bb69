"""How far the effects of one study rest on the same people."""

from __future__ import annotations

import numpy as np

from steelyard.errors import DesignError
from steelyard.reporting.refusals import above, at_least, between, finite, within


def comparison_correlation(
    *, intervention_arm, comparator_arm, n_intervention, n_comparator, comparator_share=None
) -> np.ndarray:
    """Correlation between comparisons that share arms.

    Each comparison is a contrast c over the arms, +1 and −1, and an arm's mean has variance in
    proportion to 1/n: corr = c_i'Dc_j/√(c_i'Dc_i · c_j'Dc_j), D = diag(1/n). Two comparisons
    with one control then correlate at (1/n_C)/√((1/n_1 + 1/n_C)(1/n_2 + 1/n_C)), one half with
    equal arms, which is the covariance of Gleser & Olkin [1]_ for small effects.

    Where arms differ in more than size (a rare event in the control, unlike SDs), 1/n is not in
    proportion. `comparator_share` w then splits each comparison: √(1 − w) on the intervention
    arm, −√w on the comparator arm, so that two with one control correlate at √(w_i·w_j). A
    comparison without a share keeps w = (1/n_C)/(1/n_1 + 1/n_C).

    Parameters
    ----------
    intervention_arm, comparator_arm : sequence of str, length m
        Arm ids of each comparison.
    n_intervention, n_comparator : array_like of float, shape (m,)
        People analysed in each arm, > 0.
    comparator_share : array_like of float, shape (m,), optional
        Share of each comparison's variance that comes from its comparator arm, 0 to 1; NaN
        where it is not known.

    Returns
    -------
    correlation : ndarray of float, shape (m, m)
        A Gram matrix of unit vectors, hence positive semi-definite, whatever mix of shares is
        known.

    Raises
    ------
    DesignError
        If lengths differ, an n is not positive, or an arm is compared with itself.

    References
    ----------
    .. [1] Gleser, L. J. & Olkin, I. (2009). Stochastically dependent effect sizes. In Cooper,
           Hedges & Valentine (eds), Handbook of Research Synthesis, 2nd ed., ch. 19.
    """
    arms = list(dict.fromkeys([*intervention_arm, *comparator_arm]))
    column = {arm: place for place, arm in enumerate(arms)}
    m = len(intervention_arm)
    n_first = np.atleast_1d(above(n_intervention, 0, "n of the intervention arm"))
    n_second = np.atleast_1d(above(n_comparator, 0, "n of the comparator arm"))
    _refuse_lengths(m, comparator_arm, n_first, n_second)
    share = (1 / n_second) / (1 / n_first + 1 / n_second)
    if comparator_share is not None:
        given = np.atleast_1d(np.asarray(comparator_share, dtype=float))
        _refuse_lengths(m, given)
        share = within(np.where(np.isnan(given), share, given), 0, 1, "share of the comparator")
    scaled = np.zeros((m, len(arms)))
    for row, (first, second) in enumerate(zip(intervention_arm, comparator_arm, strict=True)):
        if first == second:
            raise DesignError(f"an arm cannot be compared with itself; got {first!r} at {row}")
        scaled[row, column[first]] = np.sqrt(1 - share[row])
        scaled[row, column[second]] = -np.sqrt(share[row])
    correlation = scaled @ scaled.T
    np.fill_diagonal(correlation, 1.0)
    return correlation


def outcome_correlation(*, outcome, week, r_between_outcomes) -> np.ndarray:
    """Correlation between what was measured: 1 for the same outcome and week, else `r`.

    Parameters
    ----------
    outcome : sequence of str, length m
    week : sequence of float, length m
    r_between_outcomes : float
        Correlation between different outcomes, or one outcome at different weeks, of the same
        people; 0 to 1. Unitless.

    Returns
    -------
    correlation : ndarray of float, shape (m, m)
        r in every place plus 1 − r in the blocks of one outcome and week: a sum of positive
        semi-definite matrices, hence one itself.

    Raises
    ------
    DesignError
        If lengths differ or `r_between_outcomes` lies outside 0 to 1.
    """
    r = within(r_between_outcomes, 0, 1, "correlation between outcomes")
    _refuse_lengths(len(outcome), week)
    measured = list(zip(outcome, week, strict=True))
    same = np.array([[first == second for second in measured] for first in measured], dtype=bool)
    return np.where(same.reshape(len(measured), len(measured)), 1.0, r)


def study_covariance(
    variance,
    *,
    intervention_arm,
    comparator_arm,
    n_intervention,
    n_comparator,
    outcome,
    week,
    r_between_outcomes,
    comparator_variance=None,
) -> np.ndarray:
    """Covariance matrix of the effects of one study.

    √(v_i·v_j) times `comparison_correlation` times `outcome_correlation`, element by element.
    Both correlation matrices are positive semi-definite, so their element-wise product
    is too (Schur product theorem), and so is the scaled result. Two rows for the same
    comparison, outcome and week correlate at 1, which makes the matrix singular.

    With `comparator_variance` u, two effects on one outcome and week that share a comparator
    have covariance √(u_i·u_j), the comparator's own variance, times the correlation between
    outcomes where those differ. It is exact for raw differences and for counts; for
    standardised effects it leaves out g_i·g_j/(2N), which is of second order. A part outside
    0 to the variance (a widened or an adjusted variance) is cut to that span.

    Where every row names one arm twice, the effects are of single arms (a correlation inside a
    group): those of one arm share its people, those of different arms share nobody.

    Parameters
    ----------
    variance : array_like of float, shape (m,)
        Sampling variances, > 0.
    intervention_arm, comparator_arm, n_intervention, n_comparator
        As for `comparison_correlation`.
    outcome, week, r_between_outcomes
        As for `outcome_correlation`.
    comparator_variance : array_like of float, shape (m,), optional
        Part of each variance that comes from the comparator arm; NaN where it is not known,
        which leaves that effect its share by numbers of people.

    Returns
    -------
    covariance : ndarray of float, shape (m, m)
        With `variance` on its diagonal.

    Raises
    ------
    DesignError
        If lengths differ or a number breaks its rule.
    """
    variance = np.atleast_1d(above(variance, 0, "variance"))
    _refuse_lengths(len(variance), intervention_arm, outcome)
    share = None
    if comparator_variance is not None:
        part = np.atleast_1d(np.asarray(comparator_variance, dtype=float))
        _refuse_lengths(len(variance), part)
        share = np.clip(part / variance, 0.0, 1.0)
    measured = outcome_correlation(
        outcome=outcome, week=week, r_between_outcomes=r_between_outcomes
    )
    if list(intervention_arm) == list(comparator_arm):
        people = np.array(
            [[one == other for other in intervention_arm] for one in intervention_arm]
        )
        correlation = people * measured
    else:
        correlation = measured * comparison_correlation(
            intervention_arm=intervention_arm,
            comparator_arm=comparator_arm,
            n_intervention=n_intervention,
            n_comparator=n_comparator,
            comparator_share=share,
        )
    root = np.sqrt(variance)
    covariance = correlation * np.outer(root, root)
    np.fill_diagonal(covariance, variance)
    return covariance


def shared_control_covariance(effect, *, n_intervention, n_control, r_pre_post=None) -> np.ndarray:
    """Covariance of standardised differences of several arms from one control.

    Cov(d_i, d_j) = c/n_C + d_i·d_j/(2N) and Var(d_i) = c(1/n_i + 1/n_C) + d_i²/(2N), with N
    all people and one SD pooled over all arms [1]_. The factor c is 1 for scores after training
    and 2(1 − r) for differences in changes over the pre-training SD.

    Parameters
    ----------
    effect : array_like of float, shape (m,)
        Standardised differences from the control.
    n_intervention : array_like of float, shape (m,)
        People in each arm, ≥ 2.
    n_control : float
        People in the control arm, ≥ 2.
    r_pre_post : float, optional
        Pre-post correlation r, −1 to 1; left out for scores after training.

    Returns
    -------
    covariance : ndarray of float, shape (m, m)

    Raises
    ------
    DesignError
        If lengths differ or a number breaks its rule.

    References
    ----------
    .. [1] Gleser & Olkin (2009), as for `comparison_correlation`; eq. 19.19-19.20.
    """
    effect = np.atleast_1d(finite(effect, "effect"))
    n_intervention = np.atleast_1d(at_least(n_intervention, 2, "n of the intervention arm"))
    n_control = at_least(n_control, 2, "n of the control arm")
    _refuse_lengths(len(effect), n_intervention)
    spread = 1.0
    if r_pre_post is not None:
        spread = 2 * (1 - between(r_pre_post, -1, 1, "pre-post correlation"))
    people = n_intervention.sum() + n_control
    covariance = spread / n_control + np.outer(effect, effect) / (2 * people)
    return covariance + np.diag(spread / n_intervention)


def shared_control_covariance_raw(variance, *, control_sd, n_control) -> np.ndarray:
    """Covariance of raw differences of several arms from one control: s_C²/n_C.

    Exact, as the control mean is all that two such differences have in common.

    Parameters
    ----------
    variance : array_like of float, shape (m,)
        Sampling variances of the differences, > 0; raw units squared.
    control_sd : float
        SD of the control arm (or the pooled SD, if the variances were pooled), > 0; raw units.
    n_control : float
        People in the control arm, ≥ 2.

    Returns
    -------
    covariance : ndarray of float, shape (m, m)
        In raw units squared.

    Raises
    ------
    DesignError
        If a number breaks its rule.
    """
    variance = np.atleast_1d(above(variance, 0, "variance"))
    shared = above(control_sd, 0, "SD of the control arm") ** 2 / at_least(n_control, 2, "n")
    covariance = np.full((len(variance), len(variance)), shared)
    np.fill_diagonal(covariance, variance)
    return covariance


def _refuse_lengths(length, *others):
    for other in others:
        if len(other) != length:
            raise DesignError(f"all columns must have one length; got {length} and {len(other)}")
