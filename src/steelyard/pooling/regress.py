"""Regression of effects on what differs between studies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
from steelyard.pooling.regress_many import regressions
from steelyard.pooling.study_layout import studies_in_order, study_layout
from steelyard.show import Shown, count, number, p_text
from steelyard.show import interval as shown_interval

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
                f"{p_text(self.q_moderators_p)}",
            ),
            (
                "residual",
                f"Q {number(self.q_residual)} on {self.q_residual_df} df, "
                f"{p_text(self.q_residual_p)}",
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
    layout = study_layout(studies_in_order(labels, present))
    order = layout.order
    found = regressions(
        effect[order][None],
        variance[order][None],
        columns[order][None],
        layout,
        names=names,
        first=None,
        clustered=study is not None,
        between=between,
        interval=interval,
        level=level,
    )
    kind = found.pop("interval")
    one = {name: values[0] for name, values in found.items()}
    told = np.array(["intercept", *names])
    notes = _notes(int(one["studies"]), moderators=len(names), absent=int((~present).sum()))
    unformed, widened = one.pop("unformed"), one.pop("widened")
    if unformed.any():
        notes.append(
            "one study alone fixes part of a coefficient, for which the model's standard "
            "error and normal interval are given: " + ", ".join(told[unformed])
        )
    if study is None and between == "common" and interval != "normal":
        notes.append("no between-study variance is assumed, so normal intervals are given")
    if widened.any():
        notes.append(
            "narrower than with sampling error alone, and widened to that: "
            + ", ".join(told[widened])
        )
    if kind == "cluster-robust" and (one["df"] < 4).any():
        notes.append(
            "fewer than 4 degrees of freedom for a coefficient: its cluster-robust interval "
            "is not to be relied on (Tipton 2015)"
        )
    del one["covariance"]
    one = {name: values if values.ndim else values.item() for name, values in one.items()}
    return RegressResult(
        names=("intercept", *names),
        **one,
        q_moderators_df=len(names),
        level=level,
        between=between,
        interval=kind,
        notes=tuple(notes),
    )


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


def _notes(studies: int, *, moderators: int, absent: int) -> list[str]:
    notes = [f"{count(absent, 'effect')} absent and left out"] if absent else []
    if studies < ENOUGH_PER_MODERATOR * moderators:
        notes.append(
            f"{count(studies, 'study', 'studies')} for {count(moderators, 'moderator')}: with "
            f"fewer than {ENOUGH_PER_MODERATOR} each, what is found is easily chance"
        )
    return notes
