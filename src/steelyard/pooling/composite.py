"""One effect in place of several correlated ones from the same people."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.errors import DesignError
from steelyard.pooling.checking import numbers, present_effects


@dataclass(frozen=True, slots=True)
class Composite:
    """Equal-weighted mean of one study's effects, its variance, and how many it stands for."""

    effect: float
    variance: float
    m: int


def composite(effects, *, covariance) -> Composite:
    """Mean of m correlated effects of one study: variance ``1'V1 / m**2``.

    Parameters
    ----------
    effects : array_like of float, shape (m,)
        Effects on one scale; finite.
    covariance : array_like of float, shape (m, m)
        Their sampling covariance V; symmetric, positive semidefinite with a positive diagonal.

    Returns
    -------
    Composite

    Raises
    ------
    DesignError
        Without effects, for numbers that are not finite, or for a matrix that cannot be a
        covariance.

    References
    ----------
    .. [1] Borenstein, M., Hedges, L. V., Higgins, J. P. T., & Rothstein, H. R. (2009).
           Introduction to Meta-Analysis. Wiley, chapter 24.
    """
    y = numbers(effects, name="effects", ndim=1)
    if not y.size:
        raise DesignError("effects must have at least one value; none given")
    if not np.isfinite(y).all():
        raise DesignError(f"every effect of a composite must be finite; they are {y.tolist()}")
    v = checked_covariance(covariance, size=y.size)
    return Composite(float(y.mean()), max(float(v.sum()), 0.0) / y.size**2, int(y.size))


def composite_of_correlated(effect, variance, *, correlation: float) -> Composite:
    """Mean of m effects of one study that correlate pairwise by one given amount.

    Parameters
    ----------
    effect, variance : array_like of float, shape (m,)
        Effects on one scale and their sampling variances; NaN effects are left out.
    correlation : float
        Of every pair of sampling errors; from ``-1/(m-1)`` to 1.

    Returns
    -------
    Composite

    Raises
    ------
    DesignError
        As `composite`, and for a correlation out of range.

    Notes
    -----
    ``variance = (sum(v) + r (sum(sqrt v)**2 - sum(v))) / m**2``; with equal variances
    ``v (1 + (m - 1) r) / m`` [1]_.

    References
    ----------
    .. [1] Borenstein, M., Hedges, L. V., Higgins, J. P. T., & Rothstein, H. R. (2009).
           Introduction to Meta-Analysis. Wiley, chapter 24, equation 24.7.
    """
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    present = present_effects(y, v)
    y, error = y[present], np.sqrt(v[present])
    lowest = -1 / (y.size - 1) if y.size > 1 else -1.0
    r = float(numbers(correlation, name="correlation", ndim=1)[0])
    if not lowest <= r <= 1:
        raise DesignError(
            f"correlation of {y.size} effects must lie from {lowest:.3g} to 1; it is {r:g}"
        )
    matrix = np.outer(error, error) * (r + (1 - r) * np.eye(y.size))
    return composite(y, covariance=matrix)


def checked_covariance(covariance, *, size: int) -> np.ndarray:
    """Accept a finite, symmetric, positive semidefinite matrix with a positive diagonal."""
    v = numbers(covariance, name="covariance", ndim=2)
    if v.shape != (size, size):
        raise DesignError(f"covariance must have shape ({size}, {size}); it has {v.shape}")
    if not np.isfinite(v).all():
        raise DesignError("covariance must be finite throughout")
    if not (np.diag(v) > 0).all():
        place = int(np.flatnonzero(~(np.diag(v) > 0))[0])
        raise DesignError(
            f"every variance must be above 0; covariance[{place}, {place}] = {v[place, place]:g}"
        )
    error = np.sqrt(np.diag(v))
    correlation = v / np.outer(error, error)
    if not np.allclose(correlation, correlation.T, rtol=0, atol=1e-8):
        raise DesignError("covariance must be symmetric")
    lowest = float(np.linalg.eigvalsh((correlation + correlation.T) / 2)[0])
    if lowest < -1e-8:
        raise DesignError(
            "covariance must be positive semidefinite; its correlations have the eigenvalue "
            f"{lowest:.3g}"
        )
    return (v + v.T) / 2
