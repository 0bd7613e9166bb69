"""Regression of effects on what differs between studies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc, ndtr, ndtri, stdtr, stdtrit

from steelyard.errors import DesignError
from steelyard.pooling.between_study_variance import METHODS
from steelyard.pooling.checking import (
    choice,
    level_between_zero_and_one,
    numbers,
    present_effects,
)
from steelyard.pooling.pool import BETWEEN_IN_WORDS
from steelyard.pooling.pool_many import INTERVALS
from steelyard.pooling.pool_nested import studies_in_order
from steelyard.pooling.residual_variance import residual_between_study_variance
from steelyard.pooling.robust_variance import robust_variance
from steelyard.show import Shown, count, number
from steelyard.show import interval as shown_interval

FEWEST_PER_MODERATOR = 4
ENOUGH_PER_MODERATOR = 10


@dataclass(frozen=True, slots=True, eq=False)
class RegressResult(Shown):
    """Coefficients of a regression of effects on moderators; the intercept comes first.

    Attributes
    ----------
    names : tuple of str
        ``intercept`` and one per moderator.
    coefficients : ndarray, shape (p,)
        Unit of the effect, per unit of the moderator.
    standard_errors : ndarray, shape (p,)
        Of the model, ``sqrt(diag((X'WX)⁻¹))``; cluster-robust (CR2) where `study` was given.
    interval_standard_errors, df : ndarray, shape (p,)
        Standard errors and degrees of freedom behind `low`, `high` and `p`; infinite df is
        the normal interval.
    level : float
    low, high : ndarray, shape (p,)
    p : ndarray, shape (p,)
        Two-sided, of each coefficient against zero.
    tau2 : float
        Between-study variance that the moderators leave.
    r2 : float
        Share of the between-study variance without moderators that they take up, 0 to 1; NaN
        if there was none.
    q_residual, q_residual_df, q_residual_p : float, int, float
        Scatter about the line under sampling error alone.
    q_moderators, q_moderators_df, q_moderators_p : float, int, float
        All moderators together against none: ``b'C⁻¹b`` with the model's covariance C.
    k, studies : int
        Effects and studies used.
    between, interval : str
        Estimator of `tau2`; ``knapp-hartung``, ``normal`` or ``cluster-robust``.
    notes : tuple of str
    """

    names: tuple[str, ...]
    coefficients: np.ndarray
    standard_errors: np.ndarray
    interval_standard_errors: np.ndarray
    df: np.ndarray
    level: float
    low: np.ndarray
    high: np.ndarray
    p: np.ndarray
    tau2: float
    r2: float
    q_residual: float
    q_residual_df: int
    q_residual_p: float
    q_moderators: float
    q_moderators_df: int
    q_moderators_p: float
    k: int
    studies: int
    between: str
    interval: str
    notes: tuple[str, ...]

    def _title(self) -> str:
        return f"Regression of {count(self.k, 'effect')}"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [
            (
                name,
                f"{number(b, decimals=4, sign=True)}, {100 * self.level:g} % interval "
                f"{shown_interval(low, high, decimals=4)}",
            )
            for name, b, low, high in zip(
                self.names, self.coefficients, self.low, self.high, strict=True
            )
        ]
        rows += [
            ("between studies", f"SD {number(self.tau2**0.5, decimals=3)} left"),
            (
                "moderators",
                f"Q {number(self.q_moderators)} on {self.q_moderators_df} df, "
                f"p {number(self.q_moderators_p, decimals=3)}",
            ),
            (
                "residual",
                f"Q {number(self.q_residual)} on {self.q_residual_df} df, "
                f"p {number(self.q_residual_p, decimals=3)}",
            ),
            ("method", f"{BETWEEN_IN_WORDS[self.between]}; {self.interval} interval"),
        ]
        return rows + [("note", note) for note in self.notes]


def regress(
    effect,
    variance,
    moderators,
    *,
    between: str = "reml",
    study=None,
    interval: str = "knapp-hartung",
    level: float = 0.95,
) -> RegressResult:
    """Regress effects on moderators, with between-study variance about the line.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        Effects and sampling variances; NaN effects are left out with a note.
    moderators : array_like of float, shape (k,) or (k, m), or DataFrame
        One column per moderator, numbers only; finite wherever an effect is present.
    between : str
        Between-study variance: ``reml``, ``dl`` (moments), ``pm``, ``ml`` or ``common``.
    study : sequence, length k, optional
        Which study each effect is from, if some gave several. Standard errors are then
        cluster-robust (CR2) with Satterthwaite degrees of freedom; `tau2` is that of effects,
        and weights treat them as independent, which costs precision but not validity.
    interval : str
        ``knapp-hartung`` (t on k - p degrees of freedom) or ``normal``. Without use where
        `study` is given; ``between="common"`` takes the normal one.
    level : float
        Between 0 and 1.

    Returns
    -------
    RegressResult

    Raises
    ------
    DesignError
        For fewer than four studies per moderator; for a moderator that is constant, missing
        somewhere, or fixed by the others; and as in `pool`.

    Notes
    -----
    ``b = (X'WX)⁻¹X'Wy`` with ``w = 1/(v + tau2)``. Knapp and Hartung's standard errors are the
    model's times the root of ``sum w e**2 / (k - p)`` [1]_; as in `pool`, their interval is
    not made narrower than the normal one with ``tau2 = 0``. With fewer than ten studies per
    moderator a note warns, after common practice.

    References
    ----------
    .. [1] Knapp, G., & Hartung, J. (2003). Improved tests for a random effects meta-regression
           with a single covariate. Stat Med 22, 2693-2710.
    """
    between = choice(between, name="between", among=METHODS)
    interval = choice(interval, name="interval", among=INTERVALS)
    level = level_between_zero_and_one(level)
    effect = numbers(effect, name="effect", ndim=1)
    variance = numbers(variance, name="variance", ndim=1)
    present = present_effects(effect, variance)
    names, columns = _named_columns(moderators, size=effect.size)
    labels = range(effect.size) if study is None else study
    places = studies_in_order(labels, present)
    notes = _sizes_allow(len(places), moderators=len(names), absent=int((~present).sum()))
    order = np.concatenate(places)
    y, v, x = effect[order], variance[order], columns[order]
    centre, spread = _checked_moderators(x, names, order)

    # Standardised moderators keep the algebra well conditioned; `back` undoes them.
    k, p = y.size, len(names) + 1
    if k <= p:
        raise DesignError(f"{p} coefficients need more than {p} effects; there are {k}")
    design = np.column_stack([np.ones(k), (x - centre) / spread])
    back = np.diag(1 / np.append(1.0, spread))
    back[0, 1:] = -centre / spread
    tau2 = float(residual_between_study_variance(y, v, design, between=between))
    inverse, b = _least_squares(y, 1 / (v + tau2), design)
    zero_inverse, zero_b = _least_squares(y, 1 / v, design)
    covariance = back @ inverse @ back.T
    coefficients = back @ b
    errors = np.sqrt(np.diag(covariance))
    residual = y - design @ b

    z = float(ndtri((1 + level) / 2))
    standard_errors, used, df = errors, errors, np.full(p, np.inf)
    kind = "normal"
    floor = np.sqrt(np.diag(back @ zero_inverse @ back.T))
    if study is not None:
        kind = "cluster-robust"
        cuts = np.cumsum([len(rows) for rows in places[:-1]])
        # The coefficients asked about are those of the moderators in their own units.
        sandwich = robust_variance(
            design=np.split(design @ np.linalg.inv(back), cuts),
            residual=np.split(residual, cuts),
            working=[np.diag(part + tau2) for part in np.split(v, cuts)],
        )
        unformed = np.isnan(sandwich.df)
        standard_errors = used = np.where(unformed, errors, np.sqrt(np.diag(sandwich.covariance)))
        df = np.where(unformed, np.inf, sandwich.df)
        if unformed.any():
            notes.append(
                "one study alone fixes part of a coefficient, for which the model's standard "
                "error and normal interval are given: "
                + ", ".join(np.array(["intercept", *names])[unformed])
            )
    elif between == "common" and interval != "normal":
        notes.append("no between-study variance is assumed, so normal intervals are given")
    elif interval == "knapp-hartung":
        kind = interval
        used = errors * np.sqrt((residual**2 / (v + tau2)).sum() / (k - p))
        df = np.full(p, float(k - p))
    if kind != "normal":
        multiplier = _multiplier(df, level)
        short = multiplier * used < z * floor * (1 - 1e-12)
        if short.any():
            notes.append(
                "narrower than with sampling error alone, and widened to that: "
                + ", ".join(
                    name
                    for name, is_short in zip(["intercept", *names], short, strict=True)
                    if is_short
                )
            )
        used, df = np.where(short, floor, used), np.where(short, np.inf, df)
        if kind == "cluster-robust" and (df < 4).any():
            notes.append(
                "fewer than 4 degrees of freedom for a coefficient: its cluster-robust interval "
                "is not to be relied on (Tipton 2015)"
            )
    normal = np.isinf(df)
    multiplier = _multiplier(df, level)
    distance = -np.abs(coefficients) / used
    tail = np.where(normal, ndtr(distance), stdtr(np.where(normal, 1.0, df), distance))
    moderated, block = coefficients[1:], covariance[1:, 1:]
    scale = np.sqrt(np.diag(block))
    correlated = np.linalg.solve(block / np.outer(scale, scale), moderated / scale)
    q_moderators = float((moderated / scale) @ correlated)
    q_residual = float(((y - design @ zero_b) ** 2 / v).sum())
    without = float(residual_between_study_variance(y, v, design[:, :1], between=between))
    return RegressResult(
        names=("intercept", *names),
        coefficients=coefficients,
        standard_errors=standard_errors,
        interval_standard_errors=used,
        df=df,
        level=level,
        low=coefficients - multiplier * used,
        high=coefficients + multiplier * used,
        p=2 * tail,
        tau2=tau2,
        r2=max(0.0, 1 - tau2 / without) if without > 0 else float("nan"),
        q_residual=q_residual,
        q_residual_df=k - p,
        q_residual_p=float(chdtrc(k - p, q_residual)),
        q_moderators=q_moderators,
        q_moderators_df=p - 1,
        q_moderators_p=float(chdtrc(p - 1, q_moderators)),
        k=k,
        studies=len(places),
        between=between,
        interval=kind,
        notes=tuple(notes),
    )


def _multiplier(df: np.ndarray, level: float) -> np.ndarray:
    """Points of t, or of the normal distribution where `df` is infinite."""
    point, normal = (1 + level) / 2, np.isinf(df)
    return np.where(normal, ndtri(point), stdtrit(np.where(normal, 1.0, df), point))


def _named_columns(moderators, *, size: int):
    given = getattr(moderators, "columns", None)
    if given is None and getattr(moderators, "name", None) is not None:
        given = [moderators.name]
    x = np.asarray(moderators)
    x = numbers(x if x.ndim != 1 else x[:, None], name="moderators", ndim=2)
    if x.shape[0] != size or not x.shape[1]:
        raise DesignError(
            f"moderators must have {size} rows, one per effect, and at least one column; "
            f"their shape is {x.shape}"
        )
    names = [str(name) for name in given] if given is not None else None
    return names or [f"moderator {i + 1}" for i in range(x.shape[1])], x


def _sizes_allow(studies: int, *, moderators: int, absent: int) -> list[str]:
    notes = [f"{count(absent, 'effect')} absent and left out"] if absent else []
    if studies < FEWEST_PER_MODERATOR * moderators:
        raise DesignError(
            f"a regression needs at least {FEWEST_PER_MODERATOR} studies per moderator; there "
            f"are {count(studies, 'study', 'studies')} for {count(moderators, 'moderator')}"
        )
    if studies < ENOUGH_PER_MODERATOR * moderators:
        notes.append(
            f"{count(studies, 'study', 'studies')} for {count(moderators, 'moderator')}: with "
            f"fewer than {ENOUGH_PER_MODERATOR} each, what is found is easily chance"
        )
    return notes


def _checked_moderators(x: np.ndarray, names: list[str], order: np.ndarray):
    missing = ~np.isfinite(x)
    if missing.any():
        row, column = (int(i) for i in np.argwhere(missing)[0])
        raise DesignError(
            "every moderator must be a finite number where there is an effect; "
            f"{names[column]}[{int(order[row])}] = {x[row, column]:g}"
        )
    centre = x.mean(axis=0)
    spread = x.std(axis=0)
    constant = spread <= 1e-12 * np.abs(x).max(axis=0, initial=0.0)
    if constant.any():
        column = int(np.flatnonzero(constant)[0])
        raise DesignError(
            f"a moderator must differ between effects; {names[column]} is {x[0, column]:g} in all"
        )
    standard = (x - centre) / spread
    for column in range(x.shape[1]):
        values = np.linalg.svd(standard[:, : column + 1], compute_uv=False)
        if len(values) <= column or values[-1] < 1e-7 * values[0]:
            raise DesignError(
                f"no moderator may be fixed by the others; {names[column]} follows from "
                f"{', '.join(names[:column])}"
            )
    return centre, spread


def _least_squares(y, w, design):
    root = np.sqrt(w)
    q_matrix, r_matrix = np.linalg.qr(root[:, None] * design)
    inverse_r = np.linalg.inv(r_matrix)
    return inverse_r @ inverse_r.T, inverse_r @ (q_matrix.T @ (root * y))
