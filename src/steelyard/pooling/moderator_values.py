"""What differs between studies, arms and effects, taken from the records as columns of numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.errors import DesignError
from steelyard.records.question import DoseName
from steelyard.records.study import Study

_STUDY = {
    "duration_weeks": lambda study: study.design.duration_weeks,
    "year": lambda study: study.source.issued,
    "age_mean": lambda study: study.population.age_mean,
    "training_status": lambda study: study.population.training_status,
    "sex": lambda study: study.population.sex,
    "randomised": lambda study: study.design.randomised,
    "blinded_assessors": lambda study: study.design.blinded_assessors,
    "design": lambda study: study.design.kind,
    "equated": lambda study: study.design.equated,
}
_EFFECT = ("construct", "site", "unit", "week", "contrast", "r_from")
_SIDES = ("intervention", "comparator", "difference")
DOSES = DoseName.__args__
NOT_SAID = "not reported"


@dataclass(frozen=True, slots=True, eq=False)
class Moderator:
    """One thing that differs.

    Attributes
    ----------
    name : str
    words : str
        The name for people.
    values : Series, a value per effect
        Numbers, or words; None where the paper is silent.
    level : str
        ``study`` (the same for all effects of a study) or ``effect``.
    """

    name: str
    words: str
    values: pd.Series
    level: str

    @property
    def numeric(self) -> bool:
        return all(
            isinstance(value, int | float) and not isinstance(value, bool)
            for value in self.values.dropna()
        )

    @property
    def missing(self) -> np.ndarray:
        return self.values.isna().to_numpy()


def moderator_names() -> tuple[str, ...]:
    """Every name that `moderator_of` takes."""
    doses = [f"{side}.{dose}" for dose in DOSES for side in _SIDES]
    return (*_STUDY, "people", *_EFFECT, "measure", *doses)


def moderator_of(name: str, rows: pd.DataFrame, studies: Mapping[str, Study]) -> Moderator:
    """One moderator's value for each effect.

    Parameters
    ----------
    name : str
        Of a study (``duration_weeks``, ``year``, ``age_mean``, ``training_status``, ``sex``,
        ``randomised``, ``blinded_assessors``, ``design``, ``equated``, ``people``); of an effect
        (``construct``, ``site``, ``measure``, ``unit``, ``week``, ``contrast``, ``r_from``);
        or of arms: a dose after ``intervention.``, ``comparator.`` or ``difference.``.
    rows : DataFrame
        An effect table.
    studies : mapping of str to Study

    Returns
    -------
    Moderator

    Raises
    ------
    DesignError
        For an unknown name; lists those there are.
    """
    side, _, dose = name.partition(".")
    if name in _STUDY:
        values = [_plain(_STUDY[name](studies[study])) for study in rows["study"]]
    elif name == "people":
        values = [_people(row) for row in rows.itertuples()]
    elif name in _EFFECT:
        values = [_plain(value) for value in rows[name]]
    elif name == "measure":
        values = [studies[row.study].outcome(row.outcome).measure for row in rows.itertuples()]
    elif side in _SIDES and dose in DOSES:
        values = [_dose(row, studies[row.study], side, dose) for row in rows.itertuples()]
    else:
        raise DesignError(
            f"no moderator is called {name!r}; expected one of {', '.join(moderator_names())}"
        )
    column = pd.Series(values, index=rows.index, dtype=object)
    column = column.where(column != NOT_SAID, None)
    varied = column.map(str).groupby(rows["study"]).nunique().max() > 1
    return Moderator(name, moderator_words(name), column, "effect" if varied else "study")


def _plain(value):
    if value is None or value != value or value == "":
        return None
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    return value if isinstance(value, str) else float(value)


def _people(row) -> float | None:
    total = np.nansum([row.n_intervention, row.n_comparator])
    return float(total) if total > 0 else None


def _dose(row, study: Study, side: str, dose: str) -> float | None:
    values = [getattr(study.arm(arm).dose, dose) for arm in (row.intervention, row.comparator)]
    one, other = (None if value is None else float(value) for value in values)
    if side == "intervention":
        return one
    if side == "comparator":
        return other
    return None if one is None or other is None else one - other


_WORDS = {"duration_weeks": "length in weeks", "age_mean": "mean age"}
_ONE_MORE = {
    "duration_weeks": "week of training",
    "age_mean": "year of mean age",
    "year": "year of publication",
    "week": "week until the measurement",
    "people": "person in the study",
}


def moderator_words(name: str) -> str:
    """A moderator's name in words."""
    side, _, dose = name.partition(".")
    if not dose:
        return _WORDS.get(name, name.replace("_", " "))
    what = dose.replace("_", " ")
    return f"{what} more than the comparator" if side == "difference" else f"{what}, {side}"


def one_more(name: str) -> str:
    """What one unit more of a moderator in numbers is."""
    return _ONE_MORE.get(name, f"unit of {moderator_words(name)}")
