"""Harms that the studies behind an answer counted as well, and where they are weighed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from steelyard.explaining.evidence import Evidence, answered
from steelyard.explaining.ledger import Ledger
from steelyard.explaining.wording.claim import capital
from steelyard.judging.person import Person
from steelyard.records.question import Question
from steelyard.records.study import Study

# Parts of names of constructs that say what training may do to people.
HARMS = ("strain", "injur", "pain", "soreness", "harm", "adverse")


@dataclass(frozen=True, slots=True, eq=False)
class CountedHarm:
    """A harm that studies of one answer counted beside what was asked.

    Attributes
    ----------
    construct : str
    counted_by : int
        How many of the pooled studies have results on it.
    answer : Evidence or None
        Of the library's question about it, between the same two things; None without one.
    """

    construct: str
    counted_by: int
    answer: Evidence | None


def is_harm(construct: str) -> bool:
    """Whether a construct is by its name something that hurts."""
    return any(harm in construct for harm in HARMS)


def counted_harms(
    library: Any, answers: tuple[Evidence, ...], *, person: Person | None = None
) -> tuple[CountedHarm, ...]:
    """Harms with results in the studies of the first answer that no answer is about.

    Parameters
    ----------
    library : Library
    answers : tuple of Evidence
        Of one recommendation.
    person : Person, optional
        Whom certainty is judged for.
    """
    first = answers[0]
    if first.weighing is None:
        return ()
    asked = {name for each in answers for name in each.question.constructs}
    by_study = [_measured(study) for study in first.used_studies]
    found = []
    for name in sorted(set().union(*by_study) - asked):
        if is_harm(name):
            count = sum(name in measured for measured in by_study)
            found.append(CountedHarm(name, count, _answer(library, first.question, name, person)))
    return tuple(found)


def harm_counted(harm: CountedHarm, evidence: Evidence, *, ledger: Ledger) -> str:
    """How many of the pooled studies counted a harm."""
    return _said("harm.counted", harm, evidence, ledger)


def harm_not_weighed(harm: CountedHarm, evidence: Evidence, *, ledger: Ledger) -> str:
    """That a harm was recorded, and that no question of the library weighs it."""
    return _said("unknown.harm_not_weighed", harm, evidence, ledger)


def _said(key: str, harm: CountedHarm, evidence: Evidence, ledger: Ledger) -> str:
    label = evidence.vocabulary.label("construct", harm.construct)
    what = ledger.words.term(harm.construct, label)
    return ledger.words.say(
        key,
        studies=ledger.whole("studies", evidence.weighing.k_studies),
        counted=ledger.whole(f"counted.{harm.construct}", harm.counted_by),
        what=what,
        What=capital(what),
    )


def _measured(study: Study) -> set[str]:
    """Constructs a study gives results on, of its arms or between them."""
    rows = (*study.results, *study.comparisons)
    return {study.outcome(row.outcome).construct_id for row in rows}


def _answer(
    library: Any, question: Question, construct: str, person: Person | None
) -> Evidence | None:
    for other in library.questions.values():
        same = (other.intervention, other.comparator, other.dose) == (
            *(question.intervention, question.comparator, question.dose),
        )
        if same and other.constructs == (construct,):
            records = library.recommendations.values()
            record = next((each for each in records if other.id in each.questions), None)
            found = answered(library, other.id, record=record, person=person)
            return None if found.weighing is None else found
    return None
