"""Whether studies with larger doses gained more: no comparison that anyone drew lots for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.effects.arm_changes import arm_changes
from steelyard.pooling.leaning import at_expected_effects
from steelyard.pooling.regress import RegressResult, regress
from steelyard.pooling.weighing import Weighing
from steelyard.pooling.working_variance import LEANS_ON_THE_EFFECT
from steelyard.records.study import Study


@dataclass(frozen=True, slots=True)
class BetweenStudies:
    """The gains of studies' arms along their average dose.

    Attributes
    ----------
    slope, standard_error, low, high : float
        Per step of dose, machine scale.
    studies : int
    otherwise : BetweenStudies or None
        With variances worked out at the fitted gains; None where gains do not enter them, or
        where the fit does not stay.
    """

    slope: float
    standard_error: float
    low: float
    high: float
    studies: int
    otherwise: BetweenStudies | None = None


def between_studies(
    weighing: Weighing, rows: pd.DataFrame, studies: Iterable[Study]
) -> BetweenStudies | None:
    """Regress what arms gained, a mean per study, on the studies' mean dose.

    Parameters
    ----------
    weighing : Weighing
        Of a question with a dose.
    rows : DataFrame
        The effects used.
    studies : iterable of Study

    Returns
    -------
    BetweenStudies or None
        None where no paper gives what its arms gained.

    Raises
    ------
    DesignError
        As in `arm_changes` and `regress`.
    """
    changes = arm_changes(rows, studies, weighing.question)
    if changes.empty:
        return None
    changes = changes.assign(effect=changes["change"], comparator_variance=np.nan)
    step = float(weighing.question.dose_step or 1)
    own = _line(changes, step, weighing.level)
    otherwise = None
    if weighing.question.metric in LEANS_ON_THE_EFFECT:
        settled = at_expected_effects(
            changes,
            lambda changed: _line(changed, step, weighing.level),
            expected_of=lambda line: line.expected,
            start=own.expected,
        )
        if settled is not None and settled.stays:
            otherwise = _told(settled.fit.fit, None)
    return _told(own.fit, otherwise)


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    fit: RegressResult
    expected: np.ndarray  # of each arm: what is expected of its study


def _line(changes: pd.DataFrame, step: float, level: float) -> _Line:
    means = changes.groupby("study", sort=False)[["change", "variance", "dose"]].apply(_study_mean)
    dose = means[["dose"]] / step
    fit = regress(means["change"], means["variance"], dose, level=level)
    fitted = fit.coefficients[0] + fit.coefficients[1] * dose["dose"]
    return _Line(fit, fitted[changes["study"]].to_numpy())


def _study_mean(part: pd.DataFrame) -> pd.Series:
    weight = 1 / part["variance"].to_numpy(float)
    share = weight / weight.sum()
    return pd.Series(
        {
            "change": float(share @ part["change"].to_numpy(float)),
            "variance": float(1 / weight.sum()),
            "dose": float(share @ part["dose"].to_numpy(float)),
        }
    )


def _told(fit: RegressResult, otherwise: BetweenStudies | None) -> BetweenStudies:
    return BetweenStudies(
        slope=float(fit.coefficients[1]),
        standard_error=float(fit.interval_standard_errors[1]),
        low=float(fit.low[1]),
        high=float(fit.high[1]),
        studies=fit.studies,
        otherwise=otherwise,
    )
