"""Interval for the share of the variance between studies that moderators take up.

With the moderators as they are, the share is ``rho = s / (s + tau2)``: s the variance that their
coefficients b make between studies, ``b'Sb`` with S the moderators' covariance (divisor k - 1),
and tau2 the variance left. Two quantities have known distributions whatever the truth, and are
independent of each other [1]_: Q about the line with weights ``1/(v + tau2)`` is chi-square on
k - p degrees of freedom, and the moderators' part ``b'Mb``, M being the information on them, is
non-central chi-square on p - 1 with non-centrality ``beta'M beta``. Each value of the first gives
a tau2, and with it the second gives what the share may be; the two together give every share a
probability, whose tails are cut off (a generalised confidence interval, [2]_). Without sampling
error, and with one moderator or several, this is the exact interval that inverting the
non-central F gives [3]_.

Where tau2 is 0 and the moderators' part no larger than chance makes it, there is nothing to share:
what probability falls there counts as a share of 0 for the lower end and of 1 for the upper.

Simulated with one moderator, true shares of 0, 0.5 and 0.9, equal and unequal variances and a
variance between studies of 0.2, 1 and 3 times the sampling variance, the 95 % interval held the
share 93 to 99 times in 100 with 6, 8 and 12 studies; the highest where the variance is smallest
and the interval most of the way from 0 to 1. With one to three effects a study, taken as one
composite, it was 93 to 99 times, and 89 to 99 where their errors correlate at 0.8 and 0.6 is
assumed; studies resampled held it 62 to 99 times there. These counts leave out sets without any
variance between studies, for which no share is told.

References
----------
.. [1] Viechtbauer, W. (2007). Confidence intervals for the amount of heterogeneity in
       meta-analysis. Stat Med 26, 37-52 (Q as a pivot for tau2).
.. [2] Weerahandi, S. (1993). Generalized confidence intervals. Journal of the American
       Statistical Association 88, 899-905. From memory; its use for this share is own derivation.
.. [3] Steiger, J. H., & Fouladi, R. T. (1997). Noncentrality interval estimation and the
       evaluation of statistical models. In What if there were no significance tests? From memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri, chndtr, ndtr

from steelyard.pooling.moderator_resampling import ShareInterval
from steelyard.pooling.residual_variance import variances_where_q_equals

# Values of Q, equally likely; 199 put the ends within 0.002 of those that 4,999 give.
POINTS = 199
# Beyond this, the root of a non-central chi-square is normal to more digits than are shown.
LARGE = 1e4


@dataclass(frozen=True, slots=True, eq=False)
class _Draws:
    """At each value of Q, shape (POINTS,)."""

    tau2: np.ndarray
    part: np.ndarray  # b'Mb
    per_share: np.ndarray  # non-centrality per unit of s
    df: int

    def below(self, share: float, *, nothing: float) -> float:
        """Probability of a share of at most `share`; `nothing` of where there is none counts."""
        centre = self.per_share * self.tau2 * share / (1 - share)
        held = 1 - _non_central(self.part, self.df, centre)
        return float(np.where(self.tau2 > 0, held, nothing * held).mean())

    def end(self, probability: float, *, nothing: float) -> float:
        """The share up to which there is that probability."""
        if self.below(0.0, nothing=nothing) >= probability:
            return 0.0
        low, high = 0.0, 1 - 1e-12
        if self.below(high, nothing=nothing) < probability:
            return 1.0
        for _ in range(50):
            middle = (low + high) / 2
            if self.below(middle, nothing=nothing) < probability:
                low = middle
            else:
                high = middle
        return (low + high) / 2


def share_by_distributions(effect, variance, design, *, level: float = 0.95) -> ShareInterval:
    """Interval for the share of between-study variance that moderators take up.

    Parameters
    ----------
    effect, variance : ndarray, shape (k,)
        One independent effect per study.
    design : ndarray, shape (k, p)
        Intercept first; of full rank, p below k.
    level : float

    Returns
    -------
    ShareInterval
        No studies are resampled: ``used`` and ``draws`` are 0.
    """
    k, p = design.shape
    tails = (np.arange(POINTS) + 0.5) / POINTS
    tau2 = variances_where_q_equals(effect, variance, design, chdtri(k - p, tails))
    w = 1 / (variance + tau2[:, None])
    inverse = np.linalg.inv(np.einsum("kp,tk,kq->tpq", design, w, design))
    b = np.einsum("tpq,kq,tk,k->tp", inverse, design, w, effect, optimize=True)[:, 1:]
    information = np.linalg.inv(inverse[:, 1:, 1:])
    part = np.einsum("tp,tpq,tq->t", b, information, b)
    made = np.einsum("tp,pq,tq->t", b, np.atleast_2d(np.cov(design[:, 1:].T)), b)
    draws = _Draws(tau2, part, part / np.maximum(made, np.finfo(float).tiny), p - 1)
    tail = (1 - level) / 2
    low, high = draws.end(tail, nothing=1.0), draws.end(1 - tail, nothing=0.0)
    return ShareInterval(low, high, 0, 0)


def _non_central(value: np.ndarray, df: int, centre: np.ndarray) -> np.ndarray:
    """Distribution function of the non-central chi-square."""
    large = np.maximum(value, centre) > LARGE
    root = ndtr(np.sqrt(value) - np.sqrt(centre + df - 1))
    small = chndtr(np.minimum(value, LARGE), df, np.minimum(centre, LARGE))
    return np.where(large, root, small)
