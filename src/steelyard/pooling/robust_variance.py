"""Standard errors that hold when effects of one study depend on each other in unknown ways."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.pooling.checking import choice

CORRECTIONS = ("CR2", "CR1")


@dataclass(frozen=True, slots=True, eq=False)
class RobustVariance:
    """Small-sample corrected cluster-robust covariance with its degrees of freedom.

    Attributes
    ----------
    covariance : ndarray, shape (p, p) or (analyses, p, p)
        Of the coefficients.
    df : ndarray, shape (p,) or (analyses, p)
        Of each coefficient. CR2: Satterthwaite's; NaN where one study alone fixes (part of) a
        coefficient, so that its scatter shows nowhere and the variance is too small. CR1:
        studies less one, with no such look; NaN, as the covariance, where there is but one study
        or no more effects than coefficients.
    """

    covariance: np.ndarray
    df: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class StudyStack:
    """Studies with equally many effects, m, side by side, in each of several analyses.

    Attributes
    ----------
    design : ndarray, shape (analyses, studies, m, p)
        Rows ``X_j``; 0 where an analysis lacks an effect.
    residual : ndarray, shape (analyses, studies, m)
        Residuals ``e_j``; 0 where lacking.
    working : ndarray, shape (analyses, studies, m, m)
        Working covariance ``F_j``, positive definite. A lacking effect has covariance 0 with all
        others, and a variance of their size.
    present : ndarray of bool, shape (analyses, studies, m), optional
        Which effects an analysis has; all if left out. CR1 counts them.
    """

    design: np.ndarray
    residual: np.ndarray
    working: np.ndarray
    present: np.ndarray | None = None


def robust_variance(*, design, residual, working, correction: str = "CR2") -> RobustVariance:
    """Cluster-robust covariance of weighted least squares, weights inverse to `working`.

    Parameters
    ----------
    design : list of ndarray, shape (n_j, p)
        Rows ``X_j`` of each study.
    residual : list of ndarray, shape (n_j,)
        Residuals ``e_j`` of each study.
    working : list of ndarray, shape (n_j, n_j)
        Working covariance ``F_j`` of each study; positive definite.
    correction : {"CR2", "CR1"}
        Small-sample correction.

    Returns
    -------
    RobustVariance

    Raises
    ------
    DesignError
        For another correction.

    See Also
    --------
    robust_variance_of_stacks : the formulas, and many analyses at once.
    """
    sizes = np.array([len(e) for e in residual])
    stacks = []
    for size in np.unique(sizes).tolist():
        places = np.flatnonzero(sizes == size)
        parts = ([each[place] for place in places] for each in (design, residual, working))
        stacks.append(StudyStack(*(np.stack(part)[None] for part in parts)))
    found = robust_variance_of_stacks(stacks, correction=correction)
    return RobustVariance(found.covariance[0], found.df[0])


def robust_variance_of_stacks(
    stacks: list[StudyStack], *, correction: str = "CR2"
) -> RobustVariance:
    """Cluster-robust covariance in many analyses, for studies in stacks.

    Parameters
    ----------
    stacks : list of StudyStack
        One per number of effects in a study.
    correction : {"CR2", "CR1"}
        Small-sample correction.

    Returns
    -------
    RobustVariance
        With analyses on the first axis.

    Raises
    ------
    DesignError
        For another correction.

    Notes
    -----
    With ``M = (sum X_j' F_j⁻¹ X_j)⁻¹``, the covariance is
    ``M (sum u_j u_j') M``.

    CR2 has ``u_j = X_j' F_j⁻¹ A_j e_j``. ``A_j`` is the symmetric matrix with
    ``A_j (F_j - X_j M X_j') A_j = F_j``, which makes the covariance unbiased if the working
    one is right [1]_. The degrees of freedom match the first two moments of each variance to
    a chi-square: with ``h_j = A_j F_j⁻¹ X_j M c`` the variance of coefficient c is a quadratic
    form with matrix ``G_ij = h_i' (F - X M X')_ij h_j`` and
    ``df = (tr G)**2 / tr(G G)`` [2]_. G is never formed: it is a diagonal less a product of
    rank p, so the cost grows in proportion to the studies.

    CR1 has ``u_j = X_j' F_j⁻¹ e_j`` and multiplies the whole by
    ``G/(G - 1) · (N - 1)/(N - p)``, with G studies, N effects and p coefficients, on G - 1
    degrees of freedom [3]_. It suits many studies of like size, and is too small with few.

    References
    ----------
    .. [1] Bell, R. M., & McCaffrey, D. F. (2002). Bias reduction in standard errors for linear
           regression with multi-stage samples. Survey Methodology 28, 169-181.
    .. [2] Pustejovsky, J. E., & Tipton, E. (2018). Small-sample methods for cluster-robust
           variance estimation and hypothesis testing in fixed effects models. J Bus Econ Stat
           36, 672-683.
    .. [3] Cameron, A. C., & Miller, D. L. (2015). A practitioner's guide to cluster-robust
           inference. Journal of Human Resources 50, 317-372. From memory.
    """
    correction = choice(correction, name="correction", among=CORRECTIONS)
    weighted = [np.linalg.solve(stack.working, stack.design) for stack in stacks]
    information = sum(
        np.einsum("asmp,asmq->apq", stack.design, wx)
        for stack, wx in zip(stacks, weighted, strict=True)
    )
    m = np.linalg.inv(information)
    m = (m + m.transpose(0, 2, 1)) / 2
    if correction == "CR1":
        return _simple(stacks, weighted, m)
    meat, own, reach = [], [], []
    for stack, wx in zip(stacks, weighted, strict=True):
        x, f = stack.design, stack.working
        left = f - x @ m[:, None] @ x.swapaxes(-1, -2)
        adjusted = _adjustment(f, left) @ wx @ m[:, None]
        score = np.einsum("asmp,asm->asp", adjusted, stack.residual)
        meat.append(np.einsum("asp,asq->apq", score, score))
        own.append((adjusted * (f @ adjusted)).sum(axis=2))
        reach.append(x.swapaxes(-1, -2) @ adjusted)
    own, reach = np.concatenate(own, axis=1), np.concatenate(reach, axis=1)
    # G is diag(own) - B M B' with B the rows of `reach` for each coefficient c.
    diagonal = np.einsum("aspc,apq,asqc->asc", reach, m, reach, optimize=True)
    inner = np.einsum("aspc,asqc->acpq", reach, reach, optimize=True)
    turned = m[:, None] @ inner
    trace = (own - diagonal).sum(axis=1)
    trace_square = (own**2 - 2 * own * diagonal).sum(axis=1)
    trace_square += np.einsum("acpq,acqp->ac", turned, turned)
    whole = (trace > 0.99 * np.diagonal(m, axis1=1, axis2=2)) & (trace_square > 0)
    df = np.where(whole, trace**2 / np.where(whole, trace_square, 1.0), np.nan)
    return RobustVariance(sum(meat), df)


def _simple(stacks: list[StudyStack], weighted: list[np.ndarray], m: np.ndarray) -> RobustVariance:
    """CR1, from ``F⁻¹X`` of each stack and ``M``."""
    scores = [
        np.einsum("asmp,asm->asp", wx, stack.residual)
        for stack, wx in zip(stacks, weighted, strict=True)
    ]
    meat = sum(np.einsum("asp,asq->apq", score, score) for score in scores)
    there = [
        np.ones(stack.residual.shape, dtype=bool) if stack.present is None else stack.present
        for stack in stacks
    ]
    effects = sum(each.sum(axis=(1, 2)) for each in there)
    studies = sum(each.any(axis=2).sum(axis=1) for each in there)
    p = m.shape[-1]
    enough = (studies > 1) & (effects > p)
    g, n = np.where(enough, studies, 2), np.where(enough, effects, p + 1)
    factor = np.where(enough, g / (g - 1) * (n - 1) / (n - p), np.nan)
    df = np.where(enough, g - 1.0, np.nan)
    return RobustVariance(factor[:, None, None] * (m @ meat @ m), np.repeat(df[:, None], p, axis=1))


def _adjustment(f: np.ndarray, left: np.ndarray) -> np.ndarray:
    """Symmetric A with ``A left A = f``; directions that `left` has lost are left out."""
    if f.shape[-1] == 1:
        kept = left > 1e-10 * f
        return np.where(kept, np.sqrt(f / np.where(kept, left, 1.0)), 0.0)
    values, vectors = np.linalg.eigh(f)
    negligible = 1e-10 * values[..., -1:] ** 2
    root = (vectors * np.sqrt(values)[..., None, :]) @ vectors.swapaxes(-1, -2)
    inside = root @ left @ root
    values, vectors = np.linalg.eigh((inside + inside.swapaxes(-1, -2)) / 2)
    kept = values > negligible
    shrunk = np.where(kept, 1 / np.sqrt(np.where(kept, values, 1.0)), 0.0)
    inverse_root = (vectors * shrunk[..., None, :]) @ vectors.swapaxes(-1, -2)
    return root @ inverse_root @ root
