"""How far effects rest on the same people, for many studies with equally many effects at once."""

from __future__ import annotations

import numpy as np

from steelyard.errors import DesignError
from steelyard.reporting.refusals import above, within


def studies_covariance(
    variance,
    *,
    intervention_arm,
    comparator_arm,
    n_intervention,
    n_comparator,
    outcome,
    week,
    r_between_outcomes,
    comparator_variance,
) -> np.ndarray:
    """Covariance matrices of the effects of many studies, each with m effects.

    The numbers are those of `study_covariance`, study by study, with every arm's part written
    out: comparisons i and j correlate at

        [I_i = I_j] √((1 − w_i)(1 − w_j)) + [C_i = C_j] √(w_i·w_j)
        − [I_i = C_j] √((1 − w_i) w_j) − [C_i = I_j] √(w_i (1 − w_j)),

    with I and C their intervention and comparator arms and w the comparator's share of the
    variance.

    Parameters
    ----------
    variance : array_like of float, shape (studies, m)
        Sampling variances, > 0.
    intervention_arm, comparator_arm, outcome : array_like of int, shape (studies, m)
        A number for each arm (both columns counted alike) and each outcome; only those of one
        study are held against each other.
    n_intervention, n_comparator : array_like of float, shape (studies, m)
        People analysed in each arm, > 0.
    week : array_like of float, shape (studies, m)
        NaN is like no other week.
    r_between_outcomes : float
        Correlation between different outcomes, or weeks, of the same people; 0 to 1.
    comparator_variance : array_like of float, shape (studies, m)
        Part of each variance that comes from the comparator arm; NaN where it is not known.

    Returns
    -------
    covariance : ndarray of float, shape (studies, m, m)

    Raises
    ------
    DesignError
        If a number breaks its rule, or an arm is compared with itself in a study in which not
        every effect is of a single arm.
    """
    variance = np.asarray(above(variance, 0, "variance"), dtype=float)
    r = within(r_between_outcomes, 0, 1, "correlation between outcomes")
    first, second = np.asarray(intervention_arm), np.asarray(comparator_arm)
    inside = (first == second).all(axis=1)
    itself = (first == second) & ~inside[:, None]
    if itself.any():
        study, row = (int(place) for place in np.argwhere(itself)[0])
        raise DesignError(f"an arm cannot be compared with itself; study {study}, effect {row}")
    share = _comparator_share(variance, n_intervention, n_comparator, comparator_variance, inside)

    def alike(one, other):
        return one[:, :, None] == other[:, None, :]

    own, theirs = np.sqrt(1 - share), np.sqrt(share)
    compared = alike(first, first) * _outer(own, own) + alike(second, second) * _outer(
        theirs, theirs
    )
    compared -= alike(first, second) * _outer(own, theirs)
    compared -= alike(second, first) * _outer(theirs, own)
    people = np.where(inside[:, None, None], alike(first, first), compared)
    outcome, week = np.asarray(outcome), np.asarray(week, dtype=float)
    measured = np.where(alike(outcome, outcome) & alike(week, week), 1.0, r)
    root = np.sqrt(variance)
    covariance = people * measured * _outer(root, root)
    each = np.arange(variance.shape[1])
    covariance[:, each, each] = variance
    return covariance


def _comparator_share(variance, n_intervention, n_comparator, comparator_variance, inside):
    between_arms = ~inside[:, None]
    n_first = above(np.where(between_arms, n_intervention, 1.0), 0, "n of the intervention arm")
    n_second = above(np.where(between_arms, n_comparator, 1.0), 0, "n of the comparator arm")
    by_people = (1 / n_second) / (1 / n_first + 1 / n_second)
    given = np.clip(np.asarray(comparator_variance, dtype=float) / variance, 0.0, 1.0)
    return np.where(np.isnan(given), by_people, given)


def _outer(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return one[:, :, None] * other[:, None, :]
