"""What a contour funnel plot shows: effects against their standard errors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from steelyard.errors import DesignError
from steelyard.pooling.checking import level_between_zero_and_one, numbers, present_effects
from steelyard.pooling.pool import pool

LEVELS = (0.90, 0.95, 0.99)
POINTS = 101


@dataclass(frozen=True, slots=True, eq=False)
class Funnel:
    """Data for a contour funnel plot, on the machine's scale.

    Attributes
    ----------
    effect, standard_error : ndarray, shape (k,)
        Effects present, in the order given.
    place : ndarray of int, shape (k,)
        Index of each among the effects given.
    no_effect : float
        Value about which the contours lie.
    levels : tuple of float
        Of the contours, ascending.
    contour_standard_error : ndarray, shape (points,)
        From 0 to a little beyond the largest standard error.
    contour_low, contour_high : ndarray, shape (levels, points)
        ``no_effect ∓ z(level) * contour_standard_error``.
    inside : ndarray of int, shape (k,)
        How many contours hold the effect: 0 outside all of them, 3 inside all three.
    centre : float
        Pooled effect (random effects, REML), for a vertical line.
    """

    effect: np.ndarray
    standard_error: np.ndarray
    place: np.ndarray
    no_effect: float
    levels: tuple[float, ...]
    contour_standard_error: np.ndarray
    contour_low: np.ndarray
    contour_high: np.ndarray
    inside: np.ndarray
    centre: float


def funnel(effect, variance, *, levels=LEVELS, no_effect: float = 0.0) -> Funnel:
    """Set effects against standard errors, with contours about no effect.

    Contours about no effect show where an effect would count as more than chance in its own
    study. Studies missing only from the inner zone suggest that results were held back for
    that reason; studies missing elsewhere suggest another [1]_.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        Effects and sampling variances; NaN effects are left out.
    levels : sequence of float
        Of the contours; between 0 and 1, none twice.
    no_effect : float
        On the scale of the effects; 0 on the machine's scale of every metric.

    Returns
    -------
    Funnel

    Raises
    ------
    DesignError
        Without any effect, for levels outside their range, and as in `pool`.

    References
    ----------
    .. [1] Peters, J. L., Sutton, A. J., Jones, D. R., Abrams, K. R., & Rushton, L. (2008).
           Contour-enhanced meta-analysis funnel plots help distinguish publication bias from
           other causes of asymmetry. J Clin Epidemiol 61, 991-996.
    """
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    present = present_effects(y, v)
    levels = tuple(sorted(level_between_zero_and_one(level) for level in levels))
    if not levels or len(set(levels)) < len(levels):
        raise DesignError(f"levels must be different, and at least one; they are {levels}")
    centre = pool(y, v).estimate
    y, error = y[present], np.sqrt(v[present])
    z = ndtri((1 + np.array(levels)) / 2)
    down = np.linspace(0, 1.05 * error.max(), POINTS)
    return Funnel(
        effect=y,
        standard_error=error,
        place=np.flatnonzero(present),
        no_effect=float(no_effect),
        levels=levels,
        contour_standard_error=down,
        contour_low=no_effect - z[:, None] * down,
        contour_high=no_effect + z[:, None] * down,
        inside=(np.abs(y - no_effect) < z[:, None] * error).sum(axis=0),
        centre=centre,
    )
