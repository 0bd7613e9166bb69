"""Differences between two groups in their change from before to after training."""

from __future__ import annotations

from steelyard.effects.groups import Estimate, Group, PrePost
from steelyard.effects.independent import checked_group, mean_difference
from steelyard.effects.standardising import in_sd_units, pooled_sd
from steelyard.reporting.refusals import above, at_least, between, finite, one_of

CHANGE_SPREADS = ("equal", "observed")


def checked_pre_post(group: PrePost, who: str) -> PrePost:
    """The group as float arrays; refuse n < 2, SDs ≤ 0, |r| ≥ 1 and what is not finite."""
    return PrePost(
        n=at_least(group.n, 2, f"n of the {who}"),
        pre_mean=finite(group.pre_mean, f"pre mean of the {who}"),
        pre_sd=above(group.pre_sd, 0, f"pre SD of the {who}"),
        post_mean=finite(group.post_mean, f"post mean of the {who}"),
        post_sd=above(group.post_sd, 0, f"post SD of the {who}"),
        r=between(group.r, -1, 1, f"pre-post correlation of the {who}"),
    )


def change_variance(group: PrePost):
    """Variance of one person's change: s_pre² + s_post² − 2·r·s_pre·s_post, raw units squared."""
    return group.pre_sd**2 + group.post_sd**2 - 2 * group.r * group.pre_sd * group.post_sd


def changes(group: PrePost) -> Group:
    """Size, mean and SD of the changes in a group."""
    return Group(n=group.n, mean=group.post_mean - group.pre_mean, sd=change_variance(group) ** 0.5)


def change_difference(intervention: PrePost, comparator: PrePost) -> Estimate:
    """Raw difference between the mean changes of two groups, with separate variances.

    SD of change from s_Δ² = s_pre² + s_post² − 2·r·s_pre·s_post in each group; then as
    `mean_difference`.

    Parameters
    ----------
    intervention, comparator : PrePost
        Fields are scalars or arrays of equal shape; n ≥ 2, SDs > 0, |r| < 1; raw units.

    Returns
    -------
    Estimate
        In raw units; Welch degrees of freedom.

    Raises
    ------
    DesignError
        If a field breaks its rule.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.8.
    """
    first = checked_pre_post(intervention, "intervention group")
    second = checked_pre_post(comparator, "comparator group")
    raw = mean_difference(changes(first), changes(second))
    return Estimate(
        effect=raw.effect,
        variance=raw.variance,
        df=raw.df,
        method="difference in mean changes, separate variances (Welch)",
    )


def standardised_change_difference(
    intervention: PrePost,
    comparator: PrePost,
    *,
    correction: str = "approximate",
    change_spread: str = "equal",
) -> Estimate:
    """Difference in mean changes over the pooled pre-training SD [1]_.

    g = J·(Δ_T − Δ_C)/s_pre with J on N − 2 degrees of freedom. With
    k = 2(1 − r_T)/n_T + 2(1 − r_C)/n_C,
    Var(g) = J²·k·(N − 2)/(N − 4)·(1 + g²/k) − g².

    Parameters
    ----------
    intervention, comparator : PrePost
        Fields are scalars or arrays of equal shape; n ≥ 2, SDs > 0, |r| < 1; raw units;
        more than four people in all.
    correction : {"approximate", "exact", "none"}
        As for `standardised_difference`.
    change_spread : {"equal", "observed"}
        ``equal`` is the published formula, which takes the SD to be the same before and
        after. ``observed`` replaces the part that does not depend on g by the change SDs
        that the group's own pre SD, post SD and r imply, for use when training has
        widened or narrowed the spread.

    Returns
    -------
    Estimate
        In pre-training SDs; `df` is N − 2.

    Raises
    ------
    DesignError
        If a field breaks its rule, or there are four people or fewer.

    References
    ----------
    .. [1] Morris, S. B. (2008). Estimating effect sizes from pretest-posttest-control group
           designs. Organizational Research Methods 11, 364-386; eq. 8-10 and 25, here with
           a correlation per group.
    """
    one_of(change_spread, CHANGE_SPREADS, "change_spread")
    first = checked_pre_post(intervention, "intervention group")
    second = checked_pre_post(comparator, "comparator group")
    if change_spread == "observed":
        return standardised_change_from_changes(
            changes(first),
            changes(second),
            pre_sd_intervention=first.pre_sd,
            pre_sd_comparator=second.pre_sd,
            correction=correction,
        )
    df = above(first.n + second.n - 2, 2, "number of people less two")
    k = 2 * (1 - first.r) / first.n + 2 * (1 - second.r) / second.n
    return in_sd_units(
        (first.post_mean - first.pre_mean) - (second.post_mean - second.pre_mean),
        relative_variance=k * df / (df - 2),
        scale_sd=pooled_sd(first.n, first.pre_sd, second.n, second.pre_sd),
        scale_df=df,
        correction=correction,
        method="difference in changes over the pooled pre-training SD (Morris 2008)",
    )


def standardised_change_from_changes(
    intervention_change: Group,
    comparator_change: Group,
    *,
    pre_sd_intervention,
    pre_sd_comparator,
    correction: str = "approximate",
) -> Estimate:
    """Difference in mean changes over the pooled pre-training SD, from printed change SDs.

    g = J·(Δ_T − Δ_C)/s_pre and Var(g) = J²·(v + g²·(N − 2)/(N − 4)) − g², where
    v = (s_ΔT²/n_T + s_ΔC²/n_C)/s_pre². The form is that of Morris [1]_ with the change SDs
    as they were observed, in place of √(2(1 − r)) pre-training SDs.

    Parameters
    ----------
    intervention_change, comparator_change : Group
        Changes; fields are scalars or arrays of equal shape; n ≥ 2, SD > 0; raw units.
    pre_sd_intervention, pre_sd_comparator : array_like of float, same shape
        SDs before training, > 0; raw units.
    correction : {"approximate", "exact", "none"}
        As for `standardised_difference`.

    Returns
    -------
    Estimate
        In pre-training SDs; `df` is N − 2.

    Raises
    ------
    DesignError
        If a field breaks its rule, or there are four people or fewer.

    References
    ----------
    .. [1] Morris (2008), as for `standardised_change_difference`.
    """
    first = checked_group(intervention_change, "changes in the intervention group")
    second = checked_group(comparator_change, "changes in the comparator group")
    sd = pooled_sd(
        first.n,
        above(pre_sd_intervention, 0, "pre SD of the intervention group"),
        second.n,
        above(pre_sd_comparator, 0, "pre SD of the comparator group"),
    )
    return in_sd_units(
        first.mean - second.mean,
        relative_variance=(first.sd**2 / first.n + second.sd**2 / second.n) / sd**2,
        scale_sd=sd,
        scale_df=first.n + second.n - 2,
        correction=correction,
        method="difference in changes over the pooled pre-training SD, observed change SDs",
    )
