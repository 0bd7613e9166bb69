"""A raw difference in units of an estimated SD: the estimate and its exact-moment variance."""

from __future__ import annotations

import numpy as np

from steelyard.effects.groups import Estimate
from steelyard.effects.small_sample import correction_factor
from steelyard.reporting.refusals import above, at_least, finite


def pooled_sd(n_first, sd_first, n_second, sd_second):
    """SD pooled over two groups, weighted by their degrees of freedom n − 1."""
    df_first, df_second = n_first - 1, n_second - 1
    return np.sqrt((df_first * sd_first**2 + df_second * sd_second**2) / (df_first + df_second))


def in_sd_units(
    difference, *, relative_variance, scale_sd, scale_df, correction, method
) -> Estimate:
    """Divide a difference by an estimated SD, correct for small samples, give the variance.

    g = J·difference/s and Var(g) = J²·(v + g²·f/(f − 2)) − g².

    A normal difference over an independent SD on f degrees of freedom is a scaled
    non-central t, so E(1/s²) = f/((f − 2)·σ²) and E(1/s) = 1/(J·σ). The first term of the
    variance, `relative_variance` v, must estimate Var(difference)·E(1/s²): a sampling
    variance estimated from the same people and divided by s² does so as it stands; a known
    multiple k of σ² has to come as k·f/(f − 2). With v = k·f/(f − 2) this is the
    form of Morris (2008) [1]_.

    Parameters
    ----------
    difference : array_like of float
        In raw units.
    relative_variance : array_like of float, same shape
        v above; unitless.
    scale_sd : array_like of float, same shape
        The SD divided by, in raw units; > 0.
    scale_df : array_like of float, same shape
        Its degrees of freedom f; > 2, as the variance does not exist otherwise.
    correction : str
        ``approximate``, ``exact`` or ``none``.
    method : str
        The formula in words.

    Returns
    -------
    Estimate
        With `df` equal to `scale_df` and `per_squared_effect` J²·f/(f − 2) − 1.

    Raises
    ------
    DesignError
        If `scale_sd` is not positive or `scale_df` is not above 2.

    References
    ----------
    .. [1] Morris, S. B. (2008). Estimating effect sizes from pretest-posttest-control group
           designs. Organizational Research Methods 11, 364-386.
    """
    difference = finite(difference, "difference")
    relative_variance = at_least(relative_variance, 0, "relative variance")
    scale_sd = above(scale_sd, 0, "SD")
    scale_df = above(scale_df, 2, "degrees of freedom of the SD")
    factor = correction_factor(scale_df, correction=correction)
    effect = factor * difference / scale_sd
    inflation = scale_df / (scale_df - 2)
    variance = factor**2 * (relative_variance + effect**2 * inflation) - effect**2
    if correction == "none":
        effect, variance = effect / factor, variance / factor**2
        method += ", not corrected for small samples"
    return Estimate(effect, variance, scale_df, method, factor**2 * inflation - 1)
