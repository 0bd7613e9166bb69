"""Regress the effects of many analyses on what differs between studies."""

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
from steelyard.pooling.pool_many import INTERVALS
from steelyard.pooling.residual_variance import residual_between_study_variances
from steelyard.pooling.robust_variance import StudyStack, robust_variance_of_stacks
from steelyard.pooling.study_layout import StudyLayout, studies_in_order, study_layout
from steelyard.show import count

FEWEST_PER_MODERATOR = 4
# Analyses worked on together hold at most this many effects.
EFFECTS_AT_ONCE = 50_000


@dataclass(frozen=True, slots=True, eq=False)
class RegressManyResult:
    """Coefficients of many regressions, the intercept first; as in `RegressResult`.

    Attributes
    ----------
    coefficients, standard_errors, interval_standard_errors, df, low, high, p : ndarray
        Shape (analyses, coefficients).
    covariance : ndarray, shape (analyses, coefficients, coefficients)
        Of the model, ``(X'WX)⁻¹``.
    tau2, r2, q_residual, q_residual_df, q_residual_p : ndarray, shape (analyses,)
    q_moderators, q_moderators_p : ndarray, shape (analyses,)
        On as many degrees of freedom as there are moderators.
    k, studies : ndarray of int, shape (analyses,)
    widened : ndarray of bool, shape (analyses, coefficients)
        True where the interval was narrower than with sampling error alone, and is widened.
    unformed : ndarray of bool, shape (analyses, coefficients)
        True where one study alone fixes part of a coefficient, so that the model's normal
        interval stands in for the cluster-robust one.
    level : float
    between, interval : str
        Estimator of `tau2`; ``knapp-hartung``, ``normal`` or ``cluster-robust``.
    """

    coefficients: np.ndarray
    standard_errors: np.ndarray
    interval_standard_errors: np.ndarray
    df: np.ndarray
    low: np.ndarray
    high: np.ndarray
    p: np.ndarray
    covariance: np.ndarray
    tau2: np.ndarray
    r2: np.ndarray
    q_residual: np.ndarray
    q_residual_df: np.ndarray
    q_residual_p: np.ndarray
    q_moderators: np.ndarray
    q_moderators_p: np.ndarray
    k: np.ndarray
    studies: np.ndarray
    widened: np.ndarray
    unformed: np.ndarray
    level: float
    between: str
    interval: str


def regress_many(
    effects,
    variances,
    moderators,
    *,
    between: str = "reml",
    study=None,
    interval: str = "knapp-hartung",
    level: float = 0.95,
) -> RegressManyResult:
    """Regress the effects of many analyses, each a row, in one sweep.

    Parameters
    ----------
    effects, variances : array_like of float, shape (analyses, k)
        Effects and sampling variances; NaN effects are left out of their analysis.
    moderators : array_like of float, shape (k, m) or (analyses, k, m)
        The same in all analyses, or each analysis' own; finite wherever there is an effect.
    between, interval, level
        As in `regress`.
    study : sequence, length k, optional
        Which study each effect is from, in all analyses; standard errors are then
        cluster-robust.

    Returns
    -------
    RegressManyResult

    Raises
    ------
    DesignError
        As in `regress`, naming the analysis.
    """
    between = choice(between, name="between", among=METHODS)
    interval = choice(interval, name="interval", among=INTERVALS)
    level = level_between_zero_and_one(level)
    effects = numbers(effects, name="effects", ndim=2)
    variances = numbers(variances, name="variances", ndim=2)
    present = present_effects(effects, variances, names=("effects", "variances"))
    x = np.asarray(moderators)
    x = numbers(x if x.ndim != 1 else x[:, None], name="moderators", ndim=3)
    if x.shape[0] not in (1, len(effects)) or x.shape[1] != effects.shape[1] or not x.shape[2]:
        raise DesignError(
            f"moderators must have shape ({effects.shape[1]}, m) or "
            f"({len(effects)}, {effects.shape[1]}, m), m at least 1; they have {x.shape}"
        )
    labels = np.arange(effects.shape[1]) if study is None else study
    layout = study_layout(studies_in_order(labels, present.any(axis=0)))
    order = layout.order
    at_once = max(1, EFFECTS_AT_ONCE // order.size)
    parts = []
    for begin in range(0, len(effects), at_once):
        rows = slice(begin, begin + at_once)
        here = present[rows][:, order]
        own = x[rows] if len(x) > 1 else x
        part = regressions(
            np.where(here, effects[rows][:, order], 0.0),
            np.where(here, variances[rows][:, order], np.inf),
            np.broadcast_to(own[:, order], (*here.shape, x.shape[2])),
            layout,
            names=[f"moderator {i + 1}" for i in range(x.shape[2])],
            first=begin if len(effects) > 1 else None,
            clustered=study is not None,
            between=between,
            interval=interval,
            level=level,
        )
        parts.append(part)
    kind = parts[0].pop("interval")
    columns = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    return RegressManyResult(**columns, level=level, between=between, interval=kind)


def regressions(
    y, v, x, layout: StudyLayout, *, names, first, clustered, between, interval, level
) -> dict:
    """The numbers behind `regress_many` and `regress`, from data already checked.

    Parameters
    ----------
    y, v : ndarray, shape (analyses, k)
        Effects and variances in the order of the layout; 0 and infinite where absent.
    x : ndarray, shape (analyses, k, m)
        Moderators.
    layout : StudyLayout
    names : list of str
        Of the moderators.
    first : int or None
        Number of the first analysis, for messages; None where there is but one.
    clustered : bool
        Whether standard errors are cluster-robust.
    between, interval, level
        As in `regress`.

    Returns
    -------
    dict
        The arrays of `RegressManyResult`, and ``interval``.
    """
    present = np.isfinite(v)
    k, p = present.sum(axis=1), len(names) + 1
    studies = np.logical_or.reduceat(present, layout.start, axis=1).sum(axis=1)
    _sizes_allow(studies, k, moderators=len(names), first=first)
    centre, spread, standard = _standardised(x, present, names, layout, first)

    # Standardised moderators keep the algebra well conditioned; `back` undoes them.
    design = np.concatenate([present.astype(float)[..., None], standard], axis=2)
    back = np.zeros((len(y), p, p))
    each = np.arange(1, p)
    back[:, 0, 0], back[:, each, each], back[:, 0, 1:] = 1.0, 1 / spread, -centre / spread
    tau2 = residual_between_study_variances(y, v, design, between=between)
    total = v + tau2[:, None]
    inverse, b = _least_squares(y, 1 / total, design)
    zero_inverse, zero_b = _least_squares(y, 1 / v, design)
    turned = back.swapaxes(1, 2)
    covariance = back @ inverse @ turned
    coefficients = (back @ b[..., None])[..., 0]
    errors = np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))
    floor = np.sqrt(np.diagonal(back @ zero_inverse @ turned, axis1=1, axis2=2))
    residual = y - (design @ b[..., None])[..., 0]

    standard_errors, used, df = errors, errors, np.full(errors.shape, np.inf)
    unformed = np.zeros(errors.shape, dtype=bool)
    kind, free = "normal", (k - p).astype(float)
    if clustered:
        kind = "cluster-robust"
        # The coefficients asked about are those of the moderators in their own units.
        sandwich = _sandwich(design @ np.linalg.inv(back), residual, total, layout)
        unformed = np.isnan(sandwich.df)
        robust = np.sqrt(np.diagonal(sandwich.covariance, axis1=1, axis2=2))
        standard_errors = used = np.where(unformed, errors, robust)
        df = np.where(unformed, np.inf, sandwich.df)
    elif between != "common" and interval == "knapp-hartung":
        kind = interval
        used = errors * np.sqrt((residual**2 / total).sum(axis=1) / free)[:, None]
        df = np.broadcast_to(free[:, None], errors.shape)
    widened = np.zeros(errors.shape, dtype=bool)
    if kind != "normal":
        widened = _multiplier(df, level) * used < ndtri((1 + level) / 2) * floor * (1 - 1e-12)
        used, df = np.where(widened, floor, used), np.where(widened, np.inf, df)
    multiplier = _multiplier(df, level)
    normal = np.isinf(df)
    distance = -np.abs(coefficients) / used
    tail = np.where(normal, ndtr(distance), stdtr(np.where(normal, 1.0, df), distance))
    q_moderators = _together(coefficients[:, 1:], covariance[:, 1:, 1:])
    q_residual = ((y - (design @ zero_b[..., None])[..., 0]) ** 2 / v).sum(axis=1)
    without = residual_between_study_variances(y, v, design[..., :1], between=between)
    shared = without > 0
    r2 = np.maximum(0.0, 1 - tau2 / np.where(shared, without, 1.0))
    return {
        "coefficients": coefficients,
        "standard_errors": standard_errors,
        "interval_standard_errors": used,
        "df": df,
        "low": coefficients - multiplier * used,
        "high": coefficients + multiplier * used,
        "p": 2 * tail,
        "covariance": covariance,
        "tau2": tau2,
        "r2": np.where(shared, r2, np.nan),
        "q_residual": q_residual,
        "q_residual_df": k - p,
        "q_residual_p": chdtrc(free, q_residual),
        "q_moderators": q_moderators,
        "q_moderators_p": chdtrc(p - 1, q_moderators),
        "k": k,
        "studies": studies,
        "widened": widened,
        "unformed": unformed,
        "interval": kind,
    }


def _sandwich(design, residual, total, layout: StudyLayout):
    stacks = []
    for stack in layout.stacks:
        variances = total[:, stack]
        # An absent effect has no covariance with others; its variance only has to be positive.
        known = np.isfinite(variances)
        usual = np.where(known, variances, 0.0).max(axis=-1, keepdims=True)
        usual = np.where(usual > 0, usual, 1.0)
        working = np.where(known, variances, usual)[..., None] * np.eye(stack.shape[1])
        stacks.append(StudyStack(design[:, stack], residual[:, stack], working, known))
    return robust_variance_of_stacks(stacks)


def _together(moderated: np.ndarray, block: np.ndarray) -> np.ndarray:
    """``b'C⁻¹b`` of each analysis."""
    scale = np.sqrt(np.diagonal(block, axis1=1, axis2=2))
    scaled = moderated / scale
    correlation = block / (scale[:, :, None] * scale[:, None, :])
    return (scaled * np.linalg.solve(correlation, scaled[..., None])[..., 0]).sum(axis=1)


def _multiplier(df: np.ndarray, level: float) -> np.ndarray:
    """Points of t, or of the normal distribution where `df` is infinite."""
    point, normal = (1 + level) / 2, np.isinf(df)
    return np.where(normal, ndtri(point), stdtrit(np.where(normal, 1.0, df), point))


def _of_analysis(place: int, first: int | None) -> str:
    return "" if first is None else f" (analysis {first + place})"


def _sizes_allow(studies, k, *, moderators: int, first: int | None) -> None:
    few = studies < FEWEST_PER_MODERATOR * moderators
    if few.any():
        place = int(few.argmax())
        raise DesignError(
            f"a regression needs at least {FEWEST_PER_MODERATOR} studies per moderator; there "
            f"are {count(int(studies[place]), 'study', 'studies')} for "
            f"{count(moderators, 'moderator')}{_of_analysis(place, first)}"
        )
    short = k <= moderators + 1
    if short.any():
        place = int(short.argmax())
        raise DesignError(
            f"{moderators + 1} coefficients need more than {moderators + 1} effects; there are "
            f"{int(k[place])}{_of_analysis(place, first)}"
        )


def _standardised(x, present, names, layout: StudyLayout, first):
    """Moderators (A, k, m) less their mean over their SD; 0 where there is no effect."""
    here = present[..., None]
    missing = here & ~np.isfinite(x)
    if missing.any():
        place, row, column = (int(i) for i in np.argwhere(missing)[0])
        raise DesignError(
            "every moderator must be a finite number where there is an effect; "
            f"{names[column]}[{int(layout.order[row])}] = {x[place, row, column]:g}"
            f"{_of_analysis(place, first)}"
        )
    x = np.where(here, x, 0.0)
    k = present.sum(axis=1)[:, None]
    centre = x.sum(axis=1) / k
    away = np.where(here, x - centre[:, None], 0.0)
    spread = np.sqrt((away**2).sum(axis=1) / k)
    constant = spread <= 1e-12 * np.abs(x).max(axis=1)
    if constant.any():
        place, column = (int(i) for i in np.argwhere(constant)[0])
        value = x[place, int(present[place].argmax()), column]
        raise DesignError(
            f"a moderator must differ between effects; {names[column]} is {value:g} in all"
            f"{_of_analysis(place, first)}"
        )
    standard = away / spread[:, None]
    for column in range(1, len(names)):
        values = np.linalg.svd(standard[..., : column + 1], compute_uv=False)
        tied = values[:, -1] < 1e-7 * values[:, 0]
        if tied.any():
            raise DesignError(
                f"no moderator may be fixed by the others; {names[column]} follows from "
                f"{', '.join(names[:column])}{_of_analysis(int(tied.argmax()), first)}"
            )
    return centre, spread, standard


def _least_squares(y, w, design):
    root = np.sqrt(w)
    q_matrix, r_matrix = np.linalg.qr(root[..., None] * design)
    inverse_r = np.linalg.inv(r_matrix)
    solved = inverse_r @ (q_matrix.swapaxes(1, 2) @ (root * y)[..., None])
    return inverse_r @ inverse_r.swapaxes(1, 2), solved[..., 0]
