"""Several arms against one, adjusted for the start with one slope, and how the contrasts agree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.effects.groups import PrePost
from steelyard.effects.prepost import checked_pre_post
from steelyard.errors import DesignError


@dataclass(frozen=True, slots=True, eq=False)
class AdjustedArms:
    """Differences of the other arms from one arm, adjusted for the start.

    Attributes
    ----------
    effect : ndarray of float, shape (m − 1,)
        Raw units, in the order the arms were given.
    covariance : ndarray of float, shape (m − 1, m − 1)
        Raw units squared.
    slope : float
        Of scores after training on scores before, within arms; unitless.
    mean_square : float
        Residual variance, raw units squared.
    df : float
        N − m − 1.
    """

    effect: np.ndarray
    covariance: np.ndarray
    slope: float
    mean_square: float
    df: float


def adjusted_differences(arms: PrePost, *, comparator: int) -> AdjustedArms:
    """Analysis of covariance over several arms, exactly as from the raw data.

    S_xx = Σ(n − 1)s_pre², S_xy = Σ(n − 1)·r·s_pre·s_post, S_yy = Σ(n − 1)s_post² over all arms;
    b = S_xy/S_xx; a_i = (ȳ_i − ȳ_C) − b·g_i with g_i = x̄_i − x̄_C; residual mean square
    s² = (S_yy − S_xy²/S_xx)/(N − m − 1) and
    Cov(a_i, a_j) = s²·(1/n_C + [i = j]/n_i + g_i·g_j/S_xx) [1]_.

    For two arms it is `adjusted_difference`. A third arm adds its people to the slope and to
    the mean square, and moves both where its own slope is another one.

    Parameters
    ----------
    arms : PrePost
        Fields of shape (m,), m ≥ 2; n ≥ 2, SDs > 0, |r| < 1; raw units.
    comparator : int
        Position of the arm that the others are held against, from 0.

    Returns
    -------
    AdjustedArms

    Raises
    ------
    DesignError
        If a field breaks its rule, there are fewer than two arms, or `comparator` is none of
        them.

    References
    ----------
    .. [1] Fisher, R. A. (1932). Statistical Methods for Research Workers, 4th ed., on the
           analysis of covariance.
    """
    arms = checked_pre_post(arms, "arms")
    if arms.n.ndim != 1 or len(arms.n) < 2:
        raise DesignError("give two arms or more, each field with one number an arm")
    if not 0 <= comparator < len(arms.n):
        raise DesignError(f"comparator must be from 0 to {len(arms.n) - 1}; got {comparator}")
    weights = arms.n - 1
    squares_pre = np.sum(weights * arms.pre_sd**2)
    squares_post = np.sum(weights * arms.post_sd**2)
    products = np.sum(weights * arms.r * arms.pre_sd * arms.post_sd)
    slope = products / squares_pre
    df = arms.n.sum() - len(arms.n) - 1
    mean_square = (squares_post - products * slope) / df
    others = np.arange(len(arms.n)) != comparator
    gap = arms.pre_mean[others] - arms.pre_mean[comparator]
    shared = 1 / arms.n[comparator] + np.outer(gap, gap) / squares_pre
    return AdjustedArms(
        effect=arms.post_mean[others] - arms.post_mean[comparator] - slope * gap,
        covariance=mean_square * (shared + np.diag(1 / arms.n[others])),
        slope=float(slope),
        mean_square=float(mean_square),
        df=float(df),
    )
