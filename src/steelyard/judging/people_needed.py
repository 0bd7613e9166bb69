"""How many people would one well-made trial need to find the smallest worthwhile effect?"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from steelyard.errors import DesignError

POWER = 0.80
ALPHA = 0.05


def people_needed_per_arm(
    *, worthwhile: float, unit_variance: float, power: float = POWER, alpha: float = ALPHA
) -> float:
    """The optimal information size, people in each of two arms.

    Parameters
    ----------
    worthwhile : float
        Smallest worthwhile effect, above 0, on the scale of `unit_variance`.
    unit_variance : float
        Variance of an effect from arms of one person each, so that arms of n people give
        ``unit_variance / n``; above 0. In SD units: 2 for a comparison after training,
        ``4 * (1 - r)`` for one of changes with pre-post correlation r.
    power, alpha : float
        Of a two-sided test.

    Returns
    -------
    float
        Not rounded.

    Raises
    ------
    DesignError
        If a number is not above 0, or power and alpha are not between 0 and 1.

    Notes
    -----
    ``n = (z(1 - alpha/2) + z(power))**2 * unit_variance / worthwhile**2``, the normal
    approximation [1]_; with r it is 31.4 (1 - r) / worthwhile**2 at 80 % power and 5 %.

    References
    ----------
    .. [1] Cohen, J. (1992). A power primer. Psychological Bulletin 112, 155-159.
    """
    if not (worthwhile > 0 and unit_variance > 0):
        raise DesignError(
            f"worthwhile and unit_variance must be above 0; they are {worthwhile} and "
            f"{unit_variance}"
        )
    if not (0 < power < 1 and 0 < alpha < 1):
        raise DesignError(f"power and alpha must lie between 0 and 1: {power}, {alpha}")
    reach = ndtri(1 - alpha / 2) + ndtri(power)
    return float(reach**2 * unit_variance / worthwhile**2)


def typical_unit_variance(variance, *, n_intervention, n_comparator) -> float | None:
    """Median over studies of variance × people an arm (harmonic mean of the two arms).

    Parameters
    ----------
    variance, n_intervention, n_comparator : array_like of float, shape (k,)
        Studies whose people are not known (NaN) are passed over.

    Returns
    -------
    float or None
        None where no study tells its people.
    """
    v = np.asarray(variance, dtype=float)
    one, other = (np.asarray(n, dtype=float) for n in (n_intervention, n_comparator))
    known = np.isfinite(one) & np.isfinite(other) & (one > 0) & (other > 0)
    if not known.any():
        return None
    per_arm = 2 / (1 / one[known] + 1 / other[known])
    return float(np.median(v[known] * per_arm))
