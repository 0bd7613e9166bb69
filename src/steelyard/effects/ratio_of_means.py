"""Ratios of means on the log scale, for effects told in percent."""

from __future__ import annotations

import numpy as np

from steelyard.effects.groups import Estimate, Group, PrePost
from steelyard.effects.independent import checked_group
from steelyard.effects.prepost import checked_pre_post
from steelyard.reporting.refusals import above, between


def log_ratio_of_means(intervention: Group, comparator: Group) -> Estimate:
    """Natural logarithm of the ratio of two means.

    ln(m₁/m₂), variance CV₁²/n₁ + CV₂²/n₂ with CV = SD/mean in each group [1]_.

    Parameters
    ----------
    intervention, comparator : Group
        Fields are scalars or arrays of equal shape; n ≥ 2, mean > 0, SD > 0; raw units.

    Returns
    -------
    Estimate
        Log ratio, unitless; 100·(exp(effect) − 1) is the difference in percent.

    Raises
    ------
    DesignError
        If a mean is not positive or another field breaks its rule.

    References
    ----------
    .. [1] Hedges, L. V., Gurevitch, J. & Curtis, P. S. (1999). The meta-analysis of response
           ratios in experimental ecology. Ecology 80, 1150-1156.
    """
    first = checked_group(intervention, "intervention group")
    second = checked_group(comparator, "comparator group")
    above(first.mean, 0, "mean of the intervention group")
    above(second.mean, 0, "mean of the comparator group")
    return Estimate(
        effect=np.log(first.mean / second.mean),
        variance=(first.sd / first.mean) ** 2 / first.n + (second.sd / second.mean) ** 2 / second.n,
        df=None,
        method="log ratio of means",
    )


def _log_change(group: PrePost, who: str) -> tuple[np.ndarray, np.ndarray]:
    group = checked_pre_post(group, who)
    pre_cv = group.pre_sd / above(group.pre_mean, 0, f"pre mean of the {who}")
    post_cv = group.post_sd / above(group.post_mean, 0, f"post mean of the {who}")
    log_change = np.log(group.post_mean / group.pre_mean)
    return log_change, (pre_cv**2 + post_cv**2 - 2 * group.r * pre_cv * post_cv) / group.n


def log_ratio_of_changes(intervention: PrePost, comparator: PrePost) -> Estimate:
    """Difference between two groups in the log of their post-to-pre ratio of means.

    ln(post/pre)_T − ln(post/pre)_C; each group adds
    (CV_pre² + CV_post² − 2·r·CV_pre·CV_post)/n to the variance, by the delta method [1]_.
    The percent change of group means, which is not the mean of people's own percent changes.

    Parameters
    ----------
    intervention, comparator : PrePost
        Fields are scalars or arrays of equal shape; n ≥ 2, means > 0, SDs > 0, |r| < 1.

    Returns
    -------
    Estimate
        Log ratio, unitless; 100·(exp(effect) − 1) is the difference in percent.

    Raises
    ------
    DesignError
        If a mean is not positive or another field breaks its rule.

    References
    ----------
    .. [1] Lajeunesse, M. J. (2011). On the meta-analysis of response ratios for studies with
           correlated and multi-group designs. Ecology 92, 2049-2055.
    """
    first_effect, first_variance = _log_change(intervention, "intervention group")
    second_effect, second_variance = _log_change(comparator, "comparator group")
    return Estimate(
        effect=first_effect - second_effect,
        variance=first_variance + second_variance,
        df=None,
        method="difference in the log of post over pre means",
    )


def paired_log_ratio_of_means(intervention: Group, comparator: Group, *, r) -> Estimate:
    """Log ratio of two conditions' means in the same people.

    ln(m₁/m₂) with variance (CV₁² + CV₂² − 2·r·CV₁·CV₂)/n, by the delta method [1]_.

    Parameters
    ----------
    intervention, comparator : Group
        n is the number of people, the same in both, ≥ 2; means > 0, SDs > 0.
    r : array_like of float
        Correlation between the conditions, |r| < 1.

    Returns
    -------
    Estimate
        Log ratio, unitless.

    Raises
    ------
    DesignError
        If a field breaks its rule.

    References
    ----------
    .. [1] Lajeunesse (2011), as for `log_ratio_of_changes`.
    """
    first = checked_group(intervention, "intervention condition")
    second = checked_group(comparator, "comparator condition")
    above(first.mean, 0, "mean of the intervention condition")
    above(second.mean, 0, "mean of the comparator condition")
    r = between(r, -1, 1, "correlation between the conditions")
    cv_first, cv_second = first.sd / first.mean, second.sd / second.mean
    return Estimate(
        effect=np.log(first.mean / second.mean),
        variance=(cv_first**2 + cv_second**2 - 2 * r * cv_first * cv_second) / first.n,
        df=first.n - 1,
        method="log ratio of means within people",
    )


def paired_log_ratio_of_changes(
    intervention: PrePost, comparator: PrePost, *, r_changes
) -> Estimate:
    """Difference between two conditions of the same people in the log of post over pre.

    As `log_ratio_of_changes`, less 2·ρ·√(v₁v₂) in the variance, where v₁ and v₂ are the two
    conditions' own parts and ρ the correlation of their changes.

    Parameters
    ----------
    intervention, comparator : PrePost
        n is the number of people, the same in both; means > 0, SDs > 0, |r| < 1.
    r_changes : array_like of float
        Correlation of the conditions' changes, |ρ| < 1.

    Returns
    -------
    Estimate
        Log ratio, unitless.

    Raises
    ------
    DesignError
        If a field breaks its rule.
    """
    first_effect, first_variance = _log_change(intervention, "intervention condition")
    second_effect, second_variance = _log_change(comparator, "comparator condition")
    r_changes = between(r_changes, -1, 1, "correlation of the changes")
    shared = 2 * r_changes * np.sqrt(first_variance * second_variance)
    return Estimate(
        effect=first_effect - second_effect,
        variance=first_variance + second_variance - shared,
        df=np.asarray(intervention.n) - 1,
        method="difference in the log of post over pre means, within people",
    )
