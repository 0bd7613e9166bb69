"""The likelihood of effects that were selected by a one-sided p with one cut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from scipy.special import ndtr, ndtri

from steelyard.pooling.pool import pool

# Relative publication weights outside exp(±9) are not told apart.
FARTHEST_LOG_WEIGHT = 9.0


@dataclass(frozen=True, slots=True)
class Peak:
    """Parameters (mean, tau2, log weight) and the log-likelihood there."""

    at: np.ndarray
    height: float


class SelectionLikelihood:
    """The likelihood of mean, tau2 and log weight, in units of the median standard error.

    Attributes
    ----------
    unit : float
        The median standard error; `y` and `v` are in units of it and of its square.
    threshold : ndarray, shape (k,)
        Effect from which a study counts as significant.
    easy : int
        Effects at or beyond it.
    start, start_tau2, error : float
        Maximum likelihood without selection, and the standard error of its mean.
    """

    def __init__(self, y: np.ndarray, v: np.ndarray, cut: float):
        self.unit = float(np.sqrt(np.median(v)))
        self.y, self.v = y / self.unit, v / self.unit**2
        self.threshold = -float(ndtri(cut)) * np.sqrt(self.v)
        self.easy = int((self.y >= self.threshold).sum())
        start = pool(self.y, self.v, between="ml", interval="normal")
        self.start, self.start_tau2, self.error = start.estimate, start.tau2, start.standard_error

    def height_and_slope(self, at):
        """Log-likelihood and its gradient."""
        mean, tau2, log_weight = at
        weight, hard = np.exp(log_weight), self.y.size - self.easy
        variance = self.v + tau2
        s = np.sqrt(variance)
        z, d = (self.y - mean) / s, (mean - self.threshold) / s
        above, below = ndtr(d), ndtr(-d)
        share = above + weight * below
        height = -(np.log(2 * np.pi * variance) + z**2).sum() / 2
        height += hard * log_weight - np.log(share).sum()
        bend = (1 - weight) * np.exp(-(d**2) / 2) / np.sqrt(2 * np.pi) / share
        slope = np.array(
            [
                ((z - bend) / s).sum(),
                ((z**2 - 1 + bend * d) / variance).sum() / 2,
                hard - (weight * below / share).sum(),
            ]
        )
        return height, slope

    def highest(self, *, fixed: dict[int, float], near=None) -> Peak:
        """Highest point with some parameters held at given values."""
        free = [place for place in range(3) if place not in fixed]
        bounds = [(None, None), (0, None), (-FARTHEST_LOG_WEIGHT, FARTHEST_LOG_WEIGHT)]

        def fall(values):
            at = np.empty(3)
            at[free] = values
            for place, value in fixed.items():
                at[place] = value
            height, slope = self.height_and_slope(at)
            return -height, -slope[free]

        best = None
        for start in [near] if near is not None else self._starts():
            found = scipy.optimize.minimize(
                fall,
                np.asarray(start)[free],
                jac=True,
                method="SLSQP",
                bounds=[bounds[place] for place in free],
                options={"ftol": 1e-14, "maxiter": 500},
            )
            if best is None or -found.fun > best.height:
                at = np.empty(3)
                at[free] = found.x
                for place, value in fixed.items():
                    at[place] = value
                best = Peak(at, float(-found.fun))
        return best

    def _starts(self):
        spread = self.start_tau2 + 0.1
        return [
            (self.start - shift * self.error, tau2, log_weight)
            for shift, tau2, log_weight in (
                *((0, self.start_tau2, 0), (0, spread, -1), (1, spread, -2)),
                *((3, spread, -4), (3, 3 * spread, -1), (-1, spread, 1)),
            )
        ]

    def bound(self, best: Peak, place: int, side: int, drop: float, *, reach: float) -> float:
        """Where the profile likelihood of one parameter has fallen by `drop`; NaN if nowhere."""
        step = min(max(0.25 * self.error if place == 0 else 0.25, 1e-6), reach)
        inner, near = best.at[place], best.at

        def profile(value, near):
            return self.highest(fixed={place: value}, near=near)

        def left(value, near):
            return profile(value, near).height - (best.height - drop)

        gone = 0.0
        while gone < reach:
            gone = min(gone + step, reach)
            outer = best.at[place] + side * gone
            peak = profile(outer, near)
            if peak.height < best.height - drop:
                return float(
                    scipy.optimize.brentq(left, *sorted((inner, outer)), args=(near,), xtol=1e-8)
                )
            inner, near, step = outer, peak.at, 1.3 * step
        return np.nan
