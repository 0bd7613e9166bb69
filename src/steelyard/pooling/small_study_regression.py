"""Do small studies find other effects than large ones? A regression on precision."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr, stdtrit

from steelyard.errors import DesignError
from steelyard.pooling.checking import numbers, present_effects
from steelyard.show import Shown, count, interval, number, p_text


@dataclass(frozen=True, slots=True)
class SmallStudyRegression(Shown):
    """Regression of standardised effects on precision.

    Attributes
    ----------
    intercept, standard_error, t, p : float
        Asymmetry: the change in effect per unit of standard error (1/precision); its standard
        error, t and two-sided p. 0 for a symmetrical set of effects.
    df : int
        k - 2.
    limit, limit_low, limit_high : float
        Effect that the line gives for a study of unlimited precision, with its 95 % interval by t
        on `df`.
    k : int
    notes : tuple of str
    """

    intercept: float
    standard_error: float
    t: float
    df: int
    p: float
    limit: float
    limit_low: float
    limit_high: float
    k: int
    notes: tuple[str, ...]

    def _title(self) -> str:
        return f"Small studies against large: {count(self.k, 'effect')}"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [
            (
                "asymmetry",
                f"{number(self.intercept, sign=True)} (standard error "
                f"{number(self.standard_error)}), t {number(self.t)} on {self.df} df, "
                f"{p_text(self.p)}",
            ),
            (
                "limit",
                f"{number(self.limit, decimals=3, sign=True)} "
                f"({interval(self.limit_low, self.limit_high, decimals=3)}) at unlimited precision",
            ),
        ]
        return rows + [("note", note) for note in self.notes]


def small_study_regression(effect, variance, *, precision=None) -> SmallStudyRegression:
    """Egger's regression, or the same on a given measure of precision.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        Effects and sampling variances; NaN effects are left out with a note. k at least 3.
    precision : array_like of float, shape (k,), optional
        Taken in place of ``1/sqrt(variance)`` both as weight and as predictor; finite and
        above 0. For standardised mean differences ``1/sqrt(1/n1 + 1/n2)`` keeps the effect
        itself, which enters its variance, out of the regression.

    Returns
    -------
    SmallStudyRegression

    Raises
    ------
    DesignError
        With fewer than three effects, equal precisions throughout, effects exactly on a line
        (identical ones, for example), or numbers as in `pool`.

    Notes
    -----
    Ordinary least squares of ``effect * precision`` on `precision` [1]_; the same line as
    weighted least squares of the effect on ``1/precision`` with weights ``precision**2``.

    References
    ----------
    .. [1] Egger, M., Davey Smith, G., Schneider, M., & Minder, C. (1997). Bias in
           meta-analysis detected by a simple, graphical test. BMJ 315, 629-634.
    """
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    present = present_effects(y, v)
    if precision is None:
        s = 1 / np.sqrt(v[present])
    else:
        s = numbers(precision, name="precision", ndim=1)
        if s.shape != y.shape:
            raise DesignError(f"precision must have shape {y.shape}; it has {s.shape}")
        s = s[present]
        if not ((s > 0) & np.isfinite(s)).all():
            raise DesignError(f"every precision must be finite and above 0; they are {s.tolist()}")
    y = y[present]
    k = y.size
    if k < 3:
        raise DesignError(f"a regression on precision needs at least 3 effects; there are {k}")
    centred = s - s.mean()
    if np.abs(centred).max() <= 1e-9 * s.mean():
        raise DesignError(f"precisions must differ; all {k} are {s[0]:g}")

    unit = s.mean()
    ratio = s / unit
    response = y * s
    design = np.column_stack([np.ones(k), ratio])
    q_matrix, r_matrix = np.linalg.qr(design)
    inverse_r = np.linalg.inv(r_matrix)
    intercept, slope = inverse_r @ (q_matrix.T @ response)
    residual = response - intercept - slope * ratio
    scatter = residual @ residual / (k - 2)
    error, slope_error = np.sqrt(scatter * (inverse_r**2).sum(axis=1)).tolist()
    size = float(np.abs(response).max())
    if error <= 1e-13 * size:
        raise DesignError(
            "effects lie exactly on a line in precision, so their scatter cannot be judged"
        )
    t = float(intercept) / error
    limit, reach = float(slope) / unit, float(stdtrit(k - 2, 0.975)) * slope_error / unit
    notes = []
    if not present.all():
        notes.append(f"{count(int((~present).sum()), 'effect')} absent and left out")
    if k < 10:
        notes.append(f"{k} effects: with fewer than 10 the test seldom finds what is there")
    return SmallStudyRegression(
        intercept=float(intercept),
        standard_error=error,
        t=t,
        df=k - 2,
        p=float(2 * stdtr(k - 2, -abs(t))),
        limit=limit,
        limit_low=limit - reach,
        limit_high=limit + reach,
        k=k,
        notes=tuple(notes),
    )
