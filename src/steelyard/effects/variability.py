"""Whether a plan changes how much people differ, on the log scale."""

from __future__ import annotations

import numpy as np

from steelyard.effects.groups import Estimate, Group
from steelyard.effects.independent import checked_group
from steelyard.reporting.refusals import above


def log_sd_ratio(intervention: Group, comparator: Group) -> Estimate:
    """Natural logarithm of the ratio of two SDs.

    ln(s₁/s₂) + 1/(2(n₁ − 1)) − 1/(2(n₂ − 1)), the last two terms against small-sample
    bias; variance 1/(2(n₁ − 1)) + 1/(2(n₂ − 1)) [1]_.

    Parameters
    ----------
    intervention, comparator : Group
        Fields are scalars or arrays of equal shape; n ≥ 2, SD > 0. The means are not used.

    Returns
    -------
    Estimate
        Log ratio, unitless; positive means more spread with the intervention.

    Raises
    ------
    DesignError
        If a field breaks its rule.

    References
    ----------
    .. [1] Nakagawa, S. et al. (2015). Meta-analysis of variation: ecological and
           evolutionary applications and beyond. Methods in Ecology and Evolution 6, 143-152.
    """
    first = checked_group(intervention, "intervention group")
    second = checked_group(comparator, "comparator group")
    first_term, second_term = 1 / (2 * (first.n - 1)), 1 / (2 * (second.n - 1))
    return Estimate(
        effect=np.log(first.sd / second.sd) + first_term - second_term,
        variance=first_term + second_term,
        df=None,
        method="log ratio of SDs",
    )


def log_cv_ratio(intervention: Group, comparator: Group) -> Estimate:
    """Natural logarithm of the ratio of two coefficients of variation.

    As `log_sd_ratio` with CV = SD/mean in place of the SD, and CV²/n of each group added
    to the variance; mean and SD are taken as uncorrelated, which holds for normal scores [1]_.

    Parameters
    ----------
    intervention, comparator : Group
        Fields are scalars or arrays of equal shape; n ≥ 2, mean > 0, SD > 0.

    Returns
    -------
    Estimate
        Log ratio, unitless.

    Raises
    ------
    DesignError
        If a mean is not positive or another field breaks its rule.

    References
    ----------
    .. [1] Nakagawa et al. (2015), as for `log_sd_ratio`.
    """
    spread = log_sd_ratio(intervention, comparator)
    first = checked_group(intervention, "intervention group")
    second = checked_group(comparator, "comparator group")
    above(first.mean, 0, "mean of the intervention group")
    above(second.mean, 0, "mean of the comparator group")
    return Estimate(
        effect=spread.effect - np.log(first.mean / second.mean),
        variance=spread.variance
        + (first.sd / first.mean) ** 2 / first.n
        + (second.sd / second.mean) ** 2 / second.n,
        df=None,
        method="log ratio of coefficients of variation",
    )
