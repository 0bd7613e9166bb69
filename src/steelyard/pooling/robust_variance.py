"""Standard errors that hold when effects of one study depend on each other in unknown ways."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class RobustVariance:
    """Small-sample corrected cluster-robust (CR2) covariance with its degrees of freedom.

    Attributes
    ----------
    covariance : ndarray, shape (p, p)
        Of the coefficients.
    df : ndarray, shape (p,)
        Satterthwaite degrees of freedom of each coefficient; NaN where one study alone fixes
        (part of) a coefficient, so that its scatter shows nowhere and the variance is too small.
    """

    covariance: np.ndarray
    df: np.ndarray


def robust_variance(*, design, residual, working) -> RobustVariance:
    """CR2 covariance of weighted least squares coefficients, weights inverse to `working`.

    Parameters
    ----------
    design : list of ndarray, shape (n_j, p)
        Rows ``X_j`` of each study.
    residual : list of ndarray, shape (n_j,)
        Residuals ``e_j`` of each study.
    working : list of ndarray, shape (n_j, n_j)
        Working covariance ``F_j`` of each study; positive definite.

    Returns
    -------
    RobustVariance

    Notes
    -----
    With ``M = (sum X_j' F_j⁻¹ X_j)⁻¹``, the covariance is
    ``M (sum u_j u_j') M``, ``u_j = X_j' F_j⁻¹ A_j e_j``. ``A_j`` is the symmetric matrix with
    ``A_j (F_j - X_j M X_j') A_j = F_j``, which makes the covariance unbiased if the working
    one is right [1]_. The degrees of freedom match the first two moments of each variance to
    a chi-square: with ``h_j = A_j F_j⁻¹ X_j M c`` the variance of coefficient c is a quadratic
    form with matrix ``G_ij = h_i' (F - X M X')_ij h_j`` and
    ``df = (tr G)**2 / tr(G G)`` [2]_.

    References
    ----------
    .. [1] Bell, R. M., & McCaffrey, D. F. (2002). Bias reduction in standard errors for linear
           regression with multi-stage samples. Survey Methodology 28, 169-181.
    .. [2] Pustejovsky, J. E., & Tipton, E. (2018). Small-sample methods for cluster-robust
           variance estimation and hypothesis testing in fixed effects models. J Bus Econ Stat
           36, 672-683.
    """
    p = design[0].shape[1]
    weighted = [np.linalg.solve(f, x) for f, x in zip(working, design, strict=True)]
    information = sum(x.T @ wx for x, wx in zip(design, weighted, strict=True))
    m = np.linalg.inv(information)
    m = (m + m.T) / 2
    meat = np.zeros((p, p))
    own = np.zeros((len(design), p))
    reach = np.zeros((len(design), p, p))
    for j, (x, e, f, wx) in enumerate(zip(design, residual, working, weighted, strict=True)):
        adjusted = _adjustment(f, f - x @ m @ x.T) @ wx @ m
        score = adjusted.T @ e
        meat += np.outer(score, score)
        own[j] = np.einsum("ac,ab,bc->c", adjusted, f, adjusted)
        reach[j] = x.T @ adjusted
    df = np.empty(p)
    for c in range(p):
        # G is diag(own) - B M B' with B the rows of `reach` for this coefficient.
        b = reach[:, :, c]
        bm = b @ m
        diagonal = np.einsum("jp,jp->j", bm, b)
        inner = b.T @ b
        trace = own[:, c].sum() - diagonal.sum()
        trace_square = (
            (own[:, c] ** 2).sum()
            - 2 * (own[:, c] * diagonal).sum()
            + np.trace(m @ inner @ m @ inner)
        )
        whole = trace > 0.99 * m[c, c] and trace_square > 0
        df[c] = trace**2 / trace_square if whole else np.nan
    return RobustVariance(meat, df)


def _adjustment(f: np.ndarray, left: np.ndarray) -> np.ndarray:
    """Symmetric A with ``A left A = f``; directions that `left` has lost are left out."""
    values, vectors = np.linalg.eigh(f)
    negligible = 1e-10 * values[-1] ** 2
    root = (vectors * np.sqrt(values)) @ vectors.T
    inside = root @ left @ root
    values, vectors = np.linalg.eigh((inside + inside.T) / 2)
    kept = values > negligible
    inverse_root = (vectors[:, kept] / np.sqrt(values[kept])) @ vectors[:, kept].T
    return root @ inverse_root @ root
