"""Mixtures of normal distributions, many at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

HALVINGS = 90


@dataclass(frozen=True, slots=True, eq=False)
class NormalMixture:
    """Mixtures, one per row.

    Attributes
    ----------
    mass, mean, sd : ndarray, shape (mixtures, parts)
        Weight of each part, summing to 1 along a row; its mean and its standard deviation.
    """

    mass: np.ndarray
    mean: np.ndarray
    sd: np.ndarray

    @property
    def average(self) -> np.ndarray:
        """Mean of each mixture, shape (mixtures,)."""
        return (self.mass * self.mean).sum(axis=1)

    @property
    def deviation(self) -> np.ndarray:
        """Standard deviation of each mixture, shape (mixtures,)."""
        offset = self.mean - self.average[:, None]
        return np.sqrt((self.mass * (self.sd**2 + offset**2)).sum(axis=1))

    def below(self, points: np.ndarray) -> np.ndarray:
        """Probability below points of shape (mixtures, n)."""
        part = ndtr((points[:, :, None] - self.mean[:, None]) / self.sd[:, None])
        return np.einsum("mp,mnp->mn", self.mass, part)

    def above(self, points: np.ndarray) -> np.ndarray:
        """Probability above points of shape (mixtures, n); exact where it is tiny."""
        part = ndtr((self.mean[:, None] - points[:, :, None]) / self.sd[:, None])
        return np.einsum("mp,mnp->mn", self.mass, part)

    def density(self, points: np.ndarray) -> np.ndarray:
        """Density at points of shape (mixtures, n)."""
        z = (points[:, :, None] - self.mean[:, None]) / self.sd[:, None]
        height = np.exp(-(z**2) / 2) / (np.sqrt(2 * np.pi) * self.sd[:, None])
        return np.einsum("mp,mnp->mn", self.mass, height)

    def quantiles(self, probabilities) -> np.ndarray:
        """Quantiles, shape (mixtures, n), by halving between the parts' own quantiles."""
        probabilities = np.asarray(probabilities, dtype=float)
        parts = self.mean[:, None] + ndtri(probabilities)[None, :, None] * self.sd[:, None]
        low, high = parts.min(axis=2), parts.max(axis=2)
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            short = self.below(middle) < probabilities
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        return (low + high) / 2
