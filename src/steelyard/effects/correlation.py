"""Correlations on Fisher's z scale."""

from __future__ import annotations

import numpy as np

from steelyard.effects.groups import Estimate
from steelyard.reporting.refusals import above, between, finite


def fisher_z(r, *, n) -> Estimate:
    """Fisher's z of a correlation.

    z = atanh(r), variance 1/(n − 3) [1]_.

    Parameters
    ----------
    r : array_like of float, shape (k,) or scalar
        Correlation, |r| < 1; unitless.
    n : array_like of float, same shape
        People; > 3.

    Returns
    -------
    Estimate
        On the z scale; `correlation_from_z` goes back.

    Raises
    ------
    DesignError
        If |r| ≥ 1 or n ≤ 3.

    References
    ----------
    .. [1] Fisher, R. A. (1921). On the probable error of a coefficient of correlation
           deduced from a small sample. Metron 1, 3-32.
    """
    r = between(r, -1, 1, "correlation")
    n = above(n, 3, "n")
    return Estimate(
        effect=np.arctanh(r), variance=np.ones_like(r) / (n - 3), df=None, method="Fisher's z"
    )


def correlation_from_z(z):
    """The correlation behind Fisher's z: tanh(z), unitless, same shape as `z`."""
    return np.tanh(finite(z, "z"))
