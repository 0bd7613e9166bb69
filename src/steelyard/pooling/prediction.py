"""Where the true effect of a further, similar study would lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from steelyard.pooling.batch import by_distinct


@dataclass(frozen=True, slots=True)
class PredictionInterval:
    """Bounds of a prediction interval at its level."""

    low: np.ndarray
    high: np.ndarray
    level: float


def prediction_interval(estimate, *, model_standard_error, tau2, count, level, low, high):
    """Interval for the true effect of a further study: ``estimate ± t sqrt(tau2 + SE**2)``.

    Parameters
    ----------
    estimate, tau2 : ndarray, shape (analyses,)
        Pooled effect and between-study variance.
    model_standard_error : ndarray, shape (analyses,)
        ``1/sqrt(sum(w))``, whichever interval is used for the mean: this is the standard
        error in the published formula, and with it the published examples are met.
    count : ndarray of int, shape (analyses,)
        Studies, k; t has k - 2 degrees of freedom.
    level : float
        Between 0 and 1.
    low, high : ndarray, shape (analyses,)
        Interval for the mean. A next study cannot be better known than the mean of all, so
        the prediction interval is widened to hold this one where the formula gives less
        (which it can when tau2 is zero and the mean's interval is a Knapp-Hartung one).

    Returns
    -------
    PredictionInterval
        NaN with fewer than three studies.

    Notes
    -----
    t on k - 2 degrees of freedom allows for a between-study variance known as well as a sample
    variance of k effects would be. Sampling error makes it less well known: simulated with
    twenty studies, the 95 % interval held the next true effect about 95 times in 100 where
    tau2 was ten times a typical sampling variance, and about 90 where the two were equal.

    References
    ----------
    .. [1] Higgins, J. P. T., Thompson, S. G., & Spiegelhalter, D. J. (2009). A re-evaluation
           of random-effects meta-analysis. J R Stat Soc A 172, 137-159, equation 12.
    """
    multiplier = by_distinct(
        lambda distinct: stdtrit(distinct, (1 + level) / 2), np.maximum(count - 2, 1)
    )
    half = multiplier * np.sqrt(tau2 + model_standard_error**2)
    enough = count >= 3
    return PredictionInterval(
        low=np.where(enough, np.minimum(estimate - half, low), np.nan),
        high=np.where(enough, np.maximum(estimate + half, high), np.nan),
        level=level,
    )
