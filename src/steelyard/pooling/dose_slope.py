"""Effect per unit of dose inside one study with several doses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.errors import DesignError
from steelyard.pooling.checking import numbers
from steelyard.pooling.composite import checked_covariance


@dataclass(frozen=True, slots=True)
class DoseSlope:
    """Effect per unit of dose, its variance, and the number of arms compared with the lowest."""

    slope: float
    variance: float
    arms: int


def dose_slope(effects, *, dose_difference, covariance) -> DoseSlope:
    """Slope through the origin by generalised least squares.

    The effects of all higher-dose arms against the lowest-dose arm share that arm, hence are
    correlated; a difference in dose of zero must give an effect of zero, hence no intercept.

    Parameters
    ----------
    effects : array_like of float, shape (m,)
        Effects y of m arms against the lowest-dose arm.
    dose_difference : array_like of float, shape (m,)
        Dose of each arm less that of the lowest-dose arm; each above 0. Unit of the dose.
    covariance : array_like of float, shape (m, m)
        Sampling covariance V of the effects.

    Returns
    -------
    DoseSlope
        ``d'V⁻¹y / d'V⁻¹d`` with variance ``1 / d'V⁻¹d``.

    Raises
    ------
    DesignError
        For differences that are not above 0, numbers that are not finite, or a matrix that is
        not a usable covariance.

    References
    ----------
    .. [1] Greenland, S., & Longnecker, M. P. (1992). Methods for trend estimation from
           summarized dose-response data. Am J Epidemiol 135, 1301-1309.
    """
    y = numbers(effects, name="effects", ndim=1)
    d = numbers(dose_difference, name="dose_difference", ndim=1)
    if not y.size or y.shape != d.shape:
        raise DesignError(
            "effects and dose_difference must be equally many and at least one; "
            f"they are {y.size} and {d.size}"
        )
    if not np.isfinite(y).all():
        raise DesignError(f"every effect must be finite; they are {y.tolist()}")
    if not ((d > 0) & np.isfinite(d)).all():
        raise DesignError(
            f"every dose_difference must be finite and above 0; they are {d.tolist()}"
        )
    v = checked_covariance(covariance, size=y.size)
    error = np.sqrt(np.diag(v))
    correlation = v / np.outer(error, error)
    if np.linalg.eigvalsh(correlation)[0] < 1e-10:
        raise DesignError("covariance must be invertible; some effects repeat others exactly")
    weighted = np.linalg.solve(correlation, d / error) / error
    information = float(weighted @ d)
    return DoseSlope(float(weighted @ y) / information, 1 / information, int(y.size))
