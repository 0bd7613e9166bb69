"""Difference after training, adjusted for the difference before it (analysis of covariance)."""

from __future__ import annotations

import numpy as np

from steelyard.effects.groups import Estimate, PrePost
from steelyard.effects.prepost import checked_pre_post
from steelyard.effects.standardising import in_sd_units, pooled_sd
from steelyard.reporting.refusals import above


def adjusted_difference(intervention: PrePost, comparator: PrePost) -> Estimate:
    """Analysis-of-covariance difference in raw units, exactly as from the raw data.

    With within-group sums of squares and products added over the two groups,
    S_xx = Σ(n − 1)s_pre², S_xy = Σ(n − 1)·r·s_pre·s_post, S_yy = Σ(n − 1)s_post²:
    slope b = S_xy/S_xx, estimate (ȳ_T − ȳ_C) − b(x̄_T − x̄_C), residual mean square
    (S_yy − S_xy²/S_xx)/(N − 3), and variance that mean square times
    1/n_T + 1/n_C + (x̄_T − x̄_C)²/S_xx [1]_. One slope for both groups.

    Parameters
    ----------
    intervention, comparator : PrePost
        Fields are scalars or arrays of equal shape; n ≥ 2, SDs > 0, |r| < 1; raw units.

    Returns
    -------
    Estimate
        In raw units; N − 3 degrees of freedom.

    Raises
    ------
    DesignError
        If a field breaks its rule.

    References
    ----------
    .. [1] Fisher, R. A. (1932). Statistical Methods for Research Workers, 4th ed., on the
           analysis of covariance.
    """
    first = checked_pre_post(intervention, "intervention group")
    second = checked_pre_post(comparator, "comparator group")
    squares_pre = (first.n - 1) * first.pre_sd**2 + (second.n - 1) * second.pre_sd**2
    squares_post = (first.n - 1) * first.post_sd**2 + (second.n - 1) * second.post_sd**2
    products = (first.n - 1) * first.r * first.pre_sd * first.post_sd + (
        second.n - 1
    ) * second.r * second.pre_sd * second.post_sd
    slope = products / squares_pre
    pre_difference = first.pre_mean - second.pre_mean
    df = first.n + second.n - 3
    mean_square = (squares_post - products**2 / squares_pre) / df
    return Estimate(
        effect=first.post_mean - second.post_mean - slope * pre_difference,
        variance=mean_square * (1 / first.n + 1 / second.n + pre_difference**2 / squares_pre),
        df=df,
        method="post difference adjusted for pre (analysis of covariance, one slope)",
    )


def standardised_adjusted_difference(
    intervention: PrePost, comparator: PrePost, *, correction: str = "approximate"
) -> Estimate:
    """Analysis-of-covariance difference over the pooled pre-training SD.

    g = J·a/s_pre, with a and its variance V as in `adjusted_difference` and J on N − 2
    degrees of freedom; Var(g) = J²·(V/s_pre² + g²·(N − 2)/(N − 4)) − g².

    Given the pre scores, a is normal around the true difference and V is unbiased; averaging
    over the pre scores, V/s_pre² has the first part of Var(a/s_pre) as its mean, and the
    spread of 1/s_pre gives the second. No equality of pre and post SDs is assumed.

    Parameters
    ----------
    intervention, comparator : PrePost
        Fields are scalars or arrays of equal shape; n ≥ 2, SDs > 0, |r| < 1; raw units;
        more than four people in all.
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
    """
    raw = adjusted_difference(intervention, comparator)
    df = above(raw.df + 1, 2, "number of people less two")
    scale_sd = pooled_sd(
        *(np.asarray(value, dtype=float) for value in (intervention.n, intervention.pre_sd)),
        *(np.asarray(value, dtype=float) for value in (comparator.n, comparator.pre_sd)),
    )
    return in_sd_units(
        raw.effect,
        relative_variance=raw.variance / scale_sd**2,
        scale_sd=scale_sd,
        scale_df=df,
        correction=correction,
        method="post difference adjusted for pre, over the pooled pre-training SD",
    )
