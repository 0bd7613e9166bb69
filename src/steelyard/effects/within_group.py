"""The change inside one group. Describes a group; it is no evidence for one plan over another."""

from __future__ import annotations

from steelyard.effects.groups import Estimate, PrePost
from steelyard.effects.prepost import change_variance, checked_pre_post
from steelyard.effects.small_sample import correction_factor
from steelyard.effects.standardising import in_sd_units
from steelyard.reporting.refusals import above


def change_in_group(group: PrePost) -> Estimate:
    """Raw mean change in one group; variance s_Δ²/n on n − 1 degrees of freedom.

    Parameters
    ----------
    group : PrePost
        Fields are scalars or arrays of equal shape; n ≥ 2, SDs > 0, |r| < 1; raw units.

    Returns
    -------
    Estimate
        In raw units.

    Raises
    ------
    DesignError
        If a field breaks its rule.
    """
    group = checked_pre_post(group, "group")
    return Estimate(
        effect=group.post_mean - group.pre_mean,
        variance=change_variance(group) / group.n,
        df=group.n - 1,
        method="mean change in one group",
    )


def standardised_change_in_group(group: PrePost, *, correction: str = "approximate") -> Estimate:
    """Mean change in one group over its own pre-training SD [1]_.

    g = J·Δ/s_pre with J on n − 1 degrees of freedom; Var(g) = 2(1 − r)/n + g²/(2n), a
    large-sample form.

    Parameters
    ----------
    group : PrePost
        Fields are scalars or arrays of equal shape; n ≥ 3, SDs > 0, |r| < 1; raw units.
    correction : {"approximate", "exact", "none"}
        As for `standardised_difference`.

    Returns
    -------
    Estimate
        In pre-training SDs.

    Raises
    ------
    DesignError
        If a field breaks its rule.

    References
    ----------
    .. [1] Becker, B. J. (1988). Synthesizing standardized mean-change measures. British
           Journal of Mathematical and Statistical Psychology 41, 257-278.
    """
    group = checked_pre_post(group, "group")
    effect = (group.post_mean - group.pre_mean) / group.pre_sd
    method = "mean change over the group's own pre-training SD (Becker 1988)"
    factor = correction_factor(group.n - 1, correction=correction)
    if correction == "none":
        method += ", not corrected for small samples"
    else:
        effect = factor * effect
    return Estimate(
        effect=effect,
        variance=2 * (1 - group.r) / group.n + effect**2 / (2 * group.n),
        df=group.n - 1,
        method=method,
        per_squared_effect=1 / (2 * group.n),
    )


def change_over_shared_sd(group: PrePost, *, scale_sd, scale_df) -> Estimate:
    """Mean change in one group over an SD that its study's groups share.

    g = J·Δ/s with J on f = `scale_df`; Var(g) = J²·(s_Δ²/(n·s²) + g²·f/(f − 2)) − g², as in
    `standardised_change_from_changes`. With s the pooled pre-training SD of two groups, the
    difference of their g is that effect, to the digit; with each group's own SD it is not, and
    may even point the other way.

    Parameters
    ----------
    group : PrePost
        Fields are scalars or arrays of equal shape; n ≥ 2, SDs > 0, |r| < 1; raw units.
    scale_sd, scale_df : array_like of float
        The shared SD, > 0, raw units, and its degrees of freedom, > 2.

    Returns
    -------
    Estimate
        In SDs.

    Raises
    ------
    DesignError
        If a field breaks its rule.
    """
    raw = change_in_group(group)
    return in_sd_units(
        raw.effect,
        relative_variance=raw.variance / above(scale_sd, 0, "SD") ** 2,
        scale_sd=scale_sd,
        scale_df=scale_df,
        correction="approximate",
        method="mean change in one group over the pre-training SD of all groups",
    )


def difference_of_standardised_changes(
    intervention: PrePost, comparator: PrePost, *, correction: str = "approximate"
) -> Estimate:
    """Each group's change over its own pre-training SD, then the difference [1]_.

    Less precise than `standardised_change_difference`, which pools the pre-training SDs;
    here to check papers that report it.

    Parameters
    ----------
    intervention, comparator : PrePost
        As for `standardised_change_in_group`.
    correction : {"approximate", "exact", "none"}
        As for `standardised_difference`.

    Returns
    -------
    Estimate
        In pre-training SDs; variances of the two groups added.

    Raises
    ------
    DesignError
        If a field breaks its rule.

    References
    ----------
    .. [1] Becker (1988), as for `standardised_change_in_group`; called d_ppc1 in Morris (2008).
    """
    first = standardised_change_in_group(intervention, correction=correction)
    second = standardised_change_in_group(comparator, correction=correction)
    return Estimate(
        effect=first.effect - second.effect,
        variance=first.variance + second.variance,
        df=first.df + second.df,
        method="difference of changes, each over its own pre-training SD (Becker 1988)",
    )
