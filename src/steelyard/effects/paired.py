"""Two conditions in the same people: two limbs, a crossover, or before and after.

Why not the usual variance. The form √(1/n + d²/(2n))·√(2(1 − r)) of handbooks shrinks the
part that comes from estimating the SD by 2(1 − r), although that part has nothing to do with
how well the two conditions agree; with r = 0.9 and twelve people it is almost half too small.
Here the moments are worked out instead.

With equal SDs σ and correlation r, the sum and the difference of a person's two scores
are independent, with variances 2σ²(1 + r) and 2σ²(1 − r). The mean of the two sample variances
is then a weighted sum of two independent chi-squares on n − 1 degrees of freedom, with mean σ²
and variance σ⁴(1 + r²)/(n − 1): the same as a chi-square on f = 2(n − 1)/(1 + r²) degrees of
freedom, exact at r = 0 and r = ±1. Sample means are independent of sample variances, so the
standardised difference is close to a scaled non-central t on f degrees of freedom.

Limits: normal scores and SDs not far from equal.
"""

from __future__ import annotations

import numpy as np

from steelyard.effects.groups import Estimate, Group
from steelyard.effects.independent import checked_group
from steelyard.effects.small_sample import correction_factor
from steelyard.effects.standardising import in_sd_units
from steelyard.errors import DesignError
from steelyard.reporting.refusals import above, between, one_of

VARIANCES = ("moments", "handbook")


def _checked_pair(intervention, comparator):
    first = checked_group(intervention, "intervention condition")
    second = checked_group(comparator, "comparator condition")
    if np.any(first.n != second.n):
        raise DesignError(
            "n must be the number of people and the same in both conditions; "
            f"got {np.asarray(first.n)} and {np.asarray(second.n)}"
        )
    return first, second


def _difference_variance(first, second, r, sd_difference):
    """Variance of one person's difference, from the correlation or as printed."""
    if (r is None) == (sd_difference is None):
        raise DesignError("give exactly one of r and sd_difference")
    if r is None:
        return above(sd_difference, 0, "SD of the differences") ** 2
    r = between(r, -1, 1, "correlation between the conditions")
    return first.sd**2 + second.sd**2 - 2 * r * first.sd * second.sd


def paired_difference(
    intervention: Group, comparator: Group, *, r=None, sd_difference=None
) -> Estimate:
    """Raw mean difference between two conditions in the same people.

    Variance s_D²/n, with s_D² = s₁² + s₂² − 2·r·s₁·s₂ unless the SD of the differences is
    given. For two limbs measured before and after, give each limb's changes and the
    correlation of the limbs' changes.

    Parameters
    ----------
    intervention, comparator : Group
        n is the number of people, the same in both, ≥ 2; SD > 0; raw units. Scalars or
        arrays of equal shape.
    r : array_like of float, optional
        Correlation between the two conditions, |r| < 1.
    sd_difference : array_like of float, optional
        SD of people's own differences, > 0, raw units. Give one of the two.

    Returns
    -------
    Estimate
        In raw units; n − 1 degrees of freedom.

    Raises
    ------
    DesignError
        If a field breaks its rule, or both or neither of `r` and `sd_difference` are given.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 23.2.7 (crossover trials).
    """
    first, second = _checked_pair(intervention, comparator)
    return Estimate(
        effect=first.mean - second.mean,
        variance=_difference_variance(first, second, r, sd_difference) / first.n,
        df=first.n - 1,
        method="mean difference within people",
    )


def standardised_paired_difference(
    intervention: Group,
    comparator: Group,
    *,
    r=None,
    sd_difference=None,
    variance: str = "moments",
    correction: str = "approximate",
) -> Estimate:
    """Mean difference within people over the SD between people, from both conditions' SDs.

    g = J·(m₁ − m₂)/s with s² = (s₁² + s₂²)/2. By ``moments`` (see the head of this file)
    J is on f = 2(n − 1)/(1 + r²) degrees of freedom and
    Var(g) = J²·(s_D²/(n·s²) + g²·f/(f − 2)) − g².

    Parameters
    ----------
    intervention, comparator : Group
        n is the number of people, the same in both, ≥ 3; SD > 0; raw units. Scalars or
        arrays of equal shape.
    r, sd_difference : array_like of float, optional
        As for `paired_difference`; give one of the two.
    variance : {"moments", "handbook"}
        ``handbook`` is (1/n + d²/(2n))·2(1 − r) with J on n − 1 degrees of freedom [1]_,
        kept for checking papers that used it: far too small at small n and high r [2]_.
    correction : {"approximate", "exact", "none"}
        As for `standardised_difference`.

    Returns
    -------
    Estimate
        In SDs between people.

    Raises
    ------
    DesignError
        If a field breaks its rule, the differences contradict the two SDs, or there are
        too few people for a variance to exist.

    References
    ----------
    .. [1] Cochrane Handbook 5.1, 16.4.6.2; Borenstein et al. (2009), eq. 4.26-4.30.
    .. [2] Kitchenham, B. & Madeyski, L. (2020), in Statistics in Medicine, on the variance of
           standardised effects in crossover trials.
    """
    one_of(variance, VARIANCES, "variance")
    first, second = _checked_pair(intervention, comparator)
    difference_variance = _difference_variance(first, second, r, sd_difference)
    implied_r = (first.sd**2 + second.sd**2 - difference_variance) / (2 * first.sd * second.sd)
    between(implied_r, -1, 1, "correlation implied by the SD of the differences")
    difference = first.mean - second.mean
    scale_sd = np.sqrt((first.sd**2 + second.sd**2) / 2)
    if variance == "handbook":
        return _handbook(difference / scale_sd, first.n, implied_r, correction)
    df = above(2 * (first.n - 1) / (1 + implied_r**2), 2, "degrees of freedom of the SD")
    return in_sd_units(
        difference,
        relative_variance=difference_variance / (first.n * scale_sd**2),
        scale_sd=scale_sd,
        scale_df=df,
        correction=correction,
        method="mean difference within people over the SD between people",
    )


def standardised_paired_from_differences(
    differences: Group, *, r, variance: str = "moments", correction: str = "approximate"
) -> Estimate:
    """The same effect from the mean and SD of people's differences and a correlation.

    s = s_D/√(2(1 − r)), an SD on n − 1 degrees of freedom when r comes from elsewhere;
    g = J·m_D/s, and by ``moments`` Var(g) = J²·(k + g²)·(n − 1)/(n − 3) − g² with
    k = 2(1 − r)/n [1]_.

    Parameters
    ----------
    differences : Group
        People's own differences: n ≥ 4, mean, SD > 0; raw units. Scalars or arrays.
    r : array_like of float
        Correlation between the conditions, |r| < 1.
    variance, correction
        As for `standardised_paired_difference`.

    Returns
    -------
    Estimate
        In SDs between people.

    Raises
    ------
    DesignError
        If a field breaks its rule.

    References
    ----------
    .. [1] Point estimate: Borenstein et al. (2009), eq. 4.26-4.30. Variance: as at the head
           of this file.
    """
    one_of(variance, VARIANCES, "variance")
    group = checked_group(differences, "differences")
    r = between(r, -1, 1, "correlation between the conditions")
    scale_sd = group.sd / np.sqrt(2 * (1 - r))
    if variance == "handbook":
        return _handbook(group.mean / scale_sd, group.n, r, correction)
    df = above(group.n - 1, 2, "number of people less one")
    return in_sd_units(
        group.mean,
        relative_variance=2 * (1 - r) / group.n * df / (df - 2),
        scale_sd=scale_sd,
        scale_df=df,
        correction=correction,
        method="mean difference within people over the SD implied by the SD of the differences",
    )


def standardised_limb_changes(
    intervention_change: Group,
    comparator_change: Group,
    *,
    r_changes,
    pre_sd_intervention,
    pre_sd_comparator,
    r_pre=None,
    correction: str = "approximate",
) -> Estimate:
    """Difference between two limbs' changes over the SD between people before training.

    g = J·(Δ_A − Δ_B)/s_pre with s_pre² the mean of the limbs' variances before training,
    s_D² = s_ΔA² + s_ΔB² − 2·ρ·s_ΔA·s_ΔB, and Var(g) = J²·(s_D²/(n·s_pre²) +
    g²·f/(f − 2)) − g² with f = 2(n − 1)/(1 + r_pre²) as at the head of this file.

    Parameters
    ----------
    intervention_change, comparator_change : Group
        Each limb's changes; n is the number of people; raw units. Scalars or arrays.
    r_changes : array_like of float
        Correlation ρ between the limbs' changes, |ρ| < 1; not the pre-post correlation.
    pre_sd_intervention, pre_sd_comparator : array_like of float
        SDs between people before training, > 0; raw units.
    r_pre : array_like of float, optional
        Correlation between the limbs before training. Left out, f = n − 1, which is the
        limit of full agreement and errs on the wide side.
    correction : {"approximate", "exact", "none"}
        As for `standardised_difference`.

    Returns
    -------
    Estimate
        In pre-training SDs.

    Raises
    ------
    DesignError
        If a field breaks its rule or there are too few people for a variance to exist.
    """
    first, second = _checked_pair(intervention_change, comparator_change)
    difference_variance = _difference_variance(first, second, r_changes, None)
    sd_first = above(pre_sd_intervention, 0, "pre SD of the intervention limb")
    sd_second = above(pre_sd_comparator, 0, "pre SD of the comparator limb")
    scale_sd = np.sqrt((sd_first**2 + sd_second**2) / 2)
    agreement = 1.0 if r_pre is None else between(r_pre, -1, 1, "correlation of limbs before")
    return in_sd_units(
        first.mean - second.mean,
        relative_variance=difference_variance / (first.n * scale_sd**2),
        scale_sd=scale_sd,
        scale_df=2 * (first.n - 1) / (1 + np.asarray(agreement) ** 2),
        correction=correction,
        method="difference between limbs' changes over the pre-training SD between people",
    )


def _handbook(d, n, r, correction) -> Estimate:
    variance = (1 / n + d**2 / (2 * n)) * 2 * (1 - r)
    factor = correction_factor(n - 1, correction=correction)
    if correction == "none":
        factor = np.ones_like(factor)
    return Estimate(
        effect=factor * d,
        variance=factor**2 * variance,
        df=n - 1,
        method="mean difference within people over the SD between people, handbook variance "
        "(too small at small n and high r)",
        per_squared_effect=(1 - r) / n,
    )
