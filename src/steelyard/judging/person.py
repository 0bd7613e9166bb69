"""The person an answer is for."""

from __future__ import annotations

from dataclasses import dataclass, fields
from decimal import Decimal

from steelyard.errors import DesignError
from steelyard.records.question import Question


@dataclass(frozen=True, slots=True)
class Person:
    """Whom the answer is for; what is None is not asked about.

    Attributes
    ----------
    training_status : tuple of str
        Any of these is near: ``untrained``, ``recreational``, ``trained``, ``highly-trained``.
    sex : str or None
        ``female`` or ``male``.
    age_low, age_high : float or None
        Years; the same number twice for one person.
    duration_weeks, sessions_per_week, sets_per_week : float or None
        What the person means to do.
    equated : str or None
        What is to be held equal.
    measure, site : str or None
        How, and where on the body, it shall show.
    """

    training_status: tuple[str, ...] = ()
    sex: str | None = None
    age_low: float | None = None
    age_high: float | None = None
    duration_weeks: float | None = None
    sessions_per_week: float | None = None
    sets_per_week: float | None = None
    equated: str | None = None
    measure: str | None = None
    site: str | None = None

    @property
    def described(self) -> bool:
        return any(getattr(self, each.name) not in (None, ()) for each in fields(self))


def person(**words) -> Person:
    """A person from plain words: ``person(training_status="trained", age=50)``."""
    status = words.pop("training_status", None) or ()
    age = words.pop("age", None)
    if age is not None:
        words |= {"age_low": float(age), "age_high": float(age)}
    known = {each.name for each in fields(Person)}
    if words.keys() - known:
        raise DesignError(
            f"a person has {', '.join(sorted(known))} and age; found "
            f"{', '.join(sorted(words.keys() - known))}"
        )
    statuses = (status,) if isinstance(status, str) else tuple(status)
    return Person(training_status=statuses, **words)


def person_of(question: Question) -> Person:
    """The person a question describes, else what its eligibility lets through."""
    asker, rules = question.person, question.eligible
    if asker is not None:
        words = {name: getattr(asker, name) for name in type(asker).model_fields}
        numbers = {
            name: float(value) if isinstance(value, Decimal) else value
            for name, value in words.items()
        }
        return person(**numbers)
    return Person(
        training_status=rules.training_status or (),
        sex=rules.sex[0] if rules.sex and len(rules.sex) == 1 and rules.sex[0] != "mixed" else None,
        age_low=None if rules.age_min is None else float(rules.age_min),
        age_high=None if rules.age_max is None else float(rules.age_max),
    )
