"""A dose-response curve over studies that each compared several doses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from scipy.special import ndtri, stdtrit

from steelyard.errors import DesignError
from steelyard.pooling.checking import (
    choice,
    level_between_zero_and_one,
    numbers,
    present_effects,
)
from steelyard.pooling.covariance_blocks import (
    as_covariance,
    stacked_covariance,
    variances_of,
)
from steelyard.pooling.dose_forms import IN_WORDS, DoseBasis, dose_basis
from steelyard.pooling.regress import ENOUGH_PER_MODERATOR
from steelyard.pooling.regress_many import FEWEST_PER_MODERATOR
from steelyard.pooling.study_layout import studies_in_order, study_layout
from steelyard.show import Shown, count, number
from steelyard.show import interval as shown_interval

METHODS = ("reml", "ml", "common")


@dataclass(frozen=True, slots=True, eq=False)
class DoseCurve:
    """Effect of each dose against a reference dose; arrays of shape (doses,)."""

    dose: np.ndarray
    estimate: np.ndarray
    low: np.ndarray
    high: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class DoseResponse(Shown):
    """A curve of effect against dose.

    Attributes
    ----------
    basis : DoseBasis
        Its form.
    coefficients : ndarray, shape (p,)
    covariance, common_covariance : ndarray, shape (p, p)
        With the variance of slopes between studies, adjusted as Knapp and Hartung do; and
        under sampling error alone.
    df : float
        Of t behind the intervals.
    tau2 : float
        Variance between studies of the slope along the form's first column.
    lowest, highest : float
        Ends of the doses studied: nothing is said beyond.
    level : float
    aic : float
        From the full likelihood, to compare forms of one data set; smaller fits better.
    k, studies : int
        Effects and studies.
    method : str
    notes : tuple of str
    """

    basis: DoseBasis
    coefficients: np.ndarray
    covariance: np.ndarray
    common_covariance: np.ndarray
    df: float
    tau2: float
    lowest: float
    highest: float
    level: float
    aic: float
    k: int
    studies: int
    method: str
    notes: tuple[str, ...]

    def curve(self, doses, *, reference: float | None = None) -> DoseCurve:
        """The effect of doses against a reference dose, with a pointwise band.

        Parameters
        ----------
        doses : array_like of float
        reference : float, optional
            The lowest dose studied if not given.

        Raises
        ------
        DesignError
            For a dose beyond those studied: the curve is never carried on.
        """
        doses = numbers(doses, name="doses", ndim=1)
        start = self.lowest if reference is None else float(reference)
        asked = np.append(doses, start)
        outside = ~((asked >= self.lowest) & (asked <= self.highest))
        if outside.any():
            raise DesignError(
                f"doses were studied from {self.lowest:g} to {self.highest:g}; nothing can be "
                f"said about {asked[outside][0]:g}"
            )
        x = self.basis.columns(doses) - self.basis.columns([start])
        estimate = x @ self.coefficients
        half = np.maximum(
            _critical(self.df, self.level) * _errors(x, self.covariance),
            _critical(np.inf, self.level) * _errors(x, self.common_covariance),
        )
        return DoseCurve(doses, estimate, estimate - half, estimate + half)

    def error_of(self, curve: DoseCurve) -> np.ndarray:
        """Standard errors that a curve's band is made of, shape (doses,)."""
        return (curve.high - curve.low) / (2 * _critical(self.df, self.level))

    def _title(self) -> str:
        return f"Dose-response, {self.basis.form}: {IN_WORDS[self.basis.form]}"

    def _rows(self) -> list[tuple[str, str]]:
        ends = self.curve([self.highest])
        rows = [
            (
                f"{self.highest:g} against {self.lowest:g}",
                f"{number(ends.estimate[0], decimals=3, sign=True)}, {100 * self.level:g} % "
                f"interval {shown_interval(ends.low[0], ends.high[0], decimals=3)}",
            ),
            ("doses studied", f"{self.lowest:g} to {self.highest:g}; nothing is said beyond"),
            ("between studies", f"SD of slopes {number(self.tau2**0.5, decimals=4)}"),
            (
                "evidence",
                f"{count(self.k, 'effect')} in {count(self.studies, 'study', 'studies')}",
            ),
            ("method", self.method),
        ]
        return rows + [("note", note) for note in self.notes]


def dose_response(
    effect,
    covariance,
    *,
    dose,
    reference_dose,
    study,
    form: str = "linear",
    between: str = "reml",
    level: float = 0.95,
) -> DoseResponse:
    """Fit a curve to differences between doses inside studies.

    Parameters
    ----------
    effect : array_like of float, shape (k,)
        Difference of an arm from its study's reference arm.
    covariance : array_like of float, shape (k, k), or CovarianceBlocks
        Sampling covariance; arms held against one reference arm share its error. Zero between
        studies.
    dose, reference_dose : array_like of float, shape (k,)
        Of the arm and of its reference arm; ≥ 0 and different.
    study : sequence, length k
    form : str
        ``linear``, ``log`` or ``spline``.
    between : str
        Variance of slopes between studies: ``reml``, ``ml`` or ``common`` (none).
    level : float
        Of the band, pointwise; between 0 and 1.

    Returns
    -------
    DoseResponse

    Raises
    ------
    DesignError
        With fewer than four studies per coefficient, doses that do not differ, a covariance
        that is none, and as in `dose_basis`.

    Notes
    -----
    One stage: ``y = (B(d) - B(d0)) b + z u + e`` with B the form's columns, z the difference
    in its first column, u a study's own slope with variance tau2, and e with the covariance
    given [1]_. No intercept: no difference in dose, no effect. For one column this is the same
    as pooling the studies' slopes in two stages. Following Knapp and Hartung, the covariance of
    b is the model's times ``Q/(r - p)``: Q the weighted squares of studies about the curve, less
    each study's own misfit to the form, and r the number of directions that studies fix. As in
    `pool`, the band is never narrower than under sampling error alone.

    References
    ----------
    .. [1] Crippa, A., Discacciati, A., Bottai, M., Spiegelman, D., & Orsini, N. (2019). One-stage
           dose-response meta-analysis for aggregated data. Stat Methods Med Res 28, 1579-1596.
    """
    choice(between, name="between", among=METHODS)
    level = level_between_zero_and_one(level)
    y = numbers(effect, name="effect", ndim=1)
    doses = numbers(dose, name="dose", ndim=1)
    starts = numbers(reference_dose, name="reference_dose", ndim=1)
    if not y.size or not y.shape == doses.shape == starts.shape:
        raise DesignError(
            "effect, dose and reference_dose must be equally many and at least one; they are "
            f"{y.size}, {doses.size} and {starts.size}"
        )
    if not np.isfinite(y).all():
        raise DesignError(f"every effect must be finite; they are {y.tolist()}")
    if (doses == starts).any():
        place = int(np.flatnonzero(doses == starts)[0])
        raise DesignError(f"dose[{place}] equals its reference dose, {doses[place]:g}")
    places = studies_in_order(study, np.ones(y.size, dtype=bool))
    basis = dose_basis(form, _arm_doses(doses, starts, places))
    notes = _studies_allow(len(places), basis)
    given = as_covariance(covariance, size=y.size)
    present_effects(y, variances_of(given), names=("effect", "covariance"))
    layout = study_layout(places)
    blocks = {
        int(stack[0]): block
        for stacks, v in zip(layout.stacks, stacked_covariance(given, layout), strict=True)
        for stack, block in zip(stacks, v, strict=True)
    }
    x = basis.columns(doses) - basis.columns(starts)
    # Columns of a like size keep the algebra well conditioned; `unit` undoes it.
    unit = np.abs(x).max(axis=0)
    parts = [
        _part(y[rows], x[rows] / unit, blocks[begin])
        for rows, begin in zip(places, layout.start.tolist(), strict=True)
    ]
    if np.linalg.matrix_rank(x / unit) < basis.width:
        raise DesignError(f"the doses compared cannot tell the {basis.width} parts of the curve")
    tau2 = 0.0 if between == "common" else _best(parts, restricted=between == "reml")
    fit, at_zero = _fit(parts, tau2), _fit(parts, 0.0)
    misfit = sum(part.misfit for part in parts)
    df = sum(part.rank for part in parts) - basis.width
    spread = max(fit.q - misfit, 0.0) / df if df > 0 else 1.0
    random = between != "common" and df > 0
    scale = np.outer(unit, unit)
    full = (
        tau2 if between == "ml" else 0.0 if between == "common" else _best(parts, restricted=False)
    )
    likelihood = -0.5 * _deviance(parts, full, restricted=False)
    return DoseResponse(
        basis=basis,
        coefficients=fit.b / unit,
        covariance=fit.inverse / scale * (spread if random else 1.0),
        common_covariance=at_zero.inverse / scale,
        df=float(df) if random else np.inf,
        tau2=float(tau2 / unit[0] ** 2),
        lowest=float(min(doses.min(), starts.min())),
        highest=float(max(doses.max(), starts.max())),
        level=level,
        aic=float(2 * (basis.width + 1) - 2 * likelihood),
        k=y.size,
        studies=len(places),
        method=(
            "one common curve"
            if between == "common"
            else f"one curve with slopes that differ between studies, {between.upper()}; "
            "Knapp–Hartung band"
        ),
        notes=tuple(notes),
    )


def _arm_doses(doses, starts, places) -> np.ndarray:
    return np.concatenate([np.unique(np.append(doses[rows], starts[rows])) for rows in places])


def _studies_allow(studies: int, basis: DoseBasis) -> list[str]:
    width, told = basis.width, count(studies, "study", "studies")
    if studies < FEWEST_PER_MODERATOR * width:
        raise DesignError(
            f"a {basis.form} curve has {count(width, 'coefficient')} and needs at least "
            f"{FEWEST_PER_MODERATOR * width} studies; there are {studies}"
        )
    if studies < ENOUGH_PER_MODERATOR * width:
        return [
            f"{told} for {count(width, 'coefficient')}: with fewer than {ENOUGH_PER_MODERATOR} "
            "each, the form of the curve is easily chance"
        ]
    return []


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """One study's sums under its sampling covariance V."""

    xvx: np.ndarray
    xvy: np.ndarray
    yvy: float
    xvz: np.ndarray
    zvy: float
    zvz: float
    log_det: float
    misfit: float
    rank: int


def _part(y, x, v) -> _Part:
    error = np.sqrt(np.diag(v))
    root = np.linalg.cholesky(v / np.outer(error, error))
    y, x = np.linalg.solve(root, y / error), np.linalg.solve(root, x / error[:, None])
    z = x[:, 0]
    own, _, rank, _ = np.linalg.lstsq(x, y, rcond=1e-9)
    return _Part(
        xvx=x.T @ x,
        xvy=x.T @ y,
        yvy=float(y @ y),
        xvz=x.T @ z,
        zvy=float(z @ y),
        zvz=float(z @ z),
        log_det=float(2 * (np.log(np.diag(root)).sum() + np.log(error).sum())),
        misfit=float(((y - x @ own) ** 2).sum()),
        rank=int(rank),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    b: np.ndarray
    inverse: np.ndarray
    q: float
    log_det: float


def _fit(parts: list[_Part], tau2: float) -> _Fit:
    """Generalised least squares with V + tau2 zz' in each study, by a rank-one update."""
    shares = [tau2 / (1 + tau2 * part.zvz) for part in parts]
    pairs = list(zip(parts, shares, strict=True))
    information = sum(part.xvx - c * np.outer(part.xvz, part.xvz) for part, c in pairs)
    right = sum(part.xvy - c * part.xvz * part.zvy for part, c in pairs)
    square = sum(part.yvy - c * part.zvy**2 for part, c in pairs)
    inverse = np.linalg.inv(information)
    b = inverse @ right
    log_det = sum(part.log_det + np.log1p(tau2 * part.zvz) for part in parts)
    return _Fit(b, inverse, max(float(square - b @ right), 0.0), float(log_det))


def _deviance(parts: list[_Part], tau2: float, *, restricted: bool) -> float:
    """Minus twice the log-likelihood, without its constants."""
    fit = _fit(parts, tau2)
    value = fit.log_det + fit.q
    return value - np.linalg.slogdet(fit.inverse)[1] if restricted else value


def _best(parts: list[_Part], *, restricted: bool) -> float:
    """The variance of slopes at which the likelihood is highest, zero included."""
    slopes = [part.zvy / part.zvz for part in parts]
    unit = 1 / max(part.zvz for part in parts)
    top = 100 * (np.ptp(slopes) ** 2 + max(1 / part.zvz for part in parts))
    points = np.append(0.0, np.geomspace(1e-4 * unit, top, 80))
    heights = _deviances(parts, points, restricted=restricted)
    at = int(np.argmin(heights))
    low, high = points[max(at - 1, 0)], points[min(at + 1, points.size - 1)]
    found = scipy.optimize.minimize_scalar(
        lambda tau2: _deviance(parts, tau2, restricted=restricted),
        bounds=(low, high),
        method="bounded",
        options={"xatol": 1e-10 * high},
    )
    none = _deviance(parts, 0.0, restricted=restricted)
    return 0.0 if none <= found.fun else float(found.x)


def _deviances(parts: list[_Part], points: np.ndarray, *, restricted: bool) -> np.ndarray:
    """As `_deviance`, at many variances at once."""
    xvz, zvy, zvz = (np.array([getattr(part, n) for part in parts]) for n in ("xvz", "zvy", "zvz"))
    share = points[:, None] / (1 + points[:, None] * zvz)
    information = sum(part.xvx for part in parts) - np.einsum("ts,sp,sq->tpq", share, xvz, xvz)
    right = sum(part.xvy for part in parts) - share @ (xvz * zvy[:, None])
    square = sum(part.yvy for part in parts) - share @ zvy**2
    b = np.linalg.solve(information, right[..., None])[..., 0]
    value = np.maximum(square - (b * right).sum(axis=1), 0.0)
    value += sum(part.log_det for part in parts) + np.log1p(points[:, None] * zvz).sum(axis=1)
    return value + np.linalg.slogdet(information)[1] if restricted else value


def _errors(x: np.ndarray, covariance: np.ndarray) -> np.ndarray:
    return np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", x, covariance, x), 0))


def _critical(df: float, level: float) -> float:
    tail = (1 + level) / 2
    return float(ndtri(tail) if np.isinf(df) else stdtrit(df, tail))
