"""For whom an answer holds: nearness to a person, and the dose against what was tested."""

from __future__ import annotations

from steelyard.explaining.page_caution import INVENTED_DATA
from steelyard.judging.certainty.wording import share_text
from steelyard.judging.directness import Directness, directness
from steelyard.judging.dose import BEYOND, LABELS, PARTLY, DoseCheck, check_dose
from steelyard.judging.person import Person
from steelyard.notebook.answer import Answer
from steelyard.notebook.stack import Sentence, Stack
from steelyard.records.recommendation import Recommendation
from steelyard.show import Table, count

FACETS = ("respect", "asked about", "weight that matches")
DOSE = ("part of the dose", "recommended", "tested", "so it is")


def for_whom(
    answer: Answer,
    recommendation: Recommendation | None = None,
    *,
    person: Person | None = None,
) -> Stack:
    """Shares of weight like the person, and each part of the dose against the studies.

    Parameters
    ----------
    answer : Answer
    recommendation : Recommendation, optional
        Whose dose it is.
    person : Person, optional
        The one the question describes, if none is given.
    """
    if answer.weighing is None:
        return Stack((Sentence(f"There is no answer to hold for anybody: {answer.why_not}."),))
    studies = answer.library.studies
    sites = recommendation.sites if recommendation else ()
    near = directness(answer.weighing, studies, person=person, sites=sites)
    parts: list = [_facets(answer, near)]
    if recommendation is not None:
        checks = check_dose(recommendation, answer.weighing, studies)
        parts.append(_dose(checks) if checks else Sentence("No dose is recommended in numbers."))
    return Stack(tuple(parts))


def _facets(answer: Answer, near: Directness) -> Table:
    asked = _asked(near.person)
    rows = tuple(
        (facet, asked.get(facet, "what is asked"), share_text(share))
        for facet, share in near.shares.items()
    )
    notes = [near.sentence]
    weighing = answer.weighing
    if near.near is not None:
        alone = near.near
        notes.append(
            f"The {count(len(near.matching), 'study', 'studies')} near in training, age and "
            f"outcome alone: {weighing.text(alone.estimate)}, "
            f"{weighing.span(alone.low, alone.high)}."
        )
    if answer.invented:
        notes.append(INVENTED_DATA)
    return Table("How near the people and measures are", FACETS, rows, tuple(notes))


def _asked(person: Person) -> dict[str, str]:
    """What is asked about, in words, by facet."""
    found = {"training status": " or ".join(person.training_status)}
    ages = [age for age in (person.age_low, person.age_high) if age is not None]
    if ages:
        low, high = ages[0], ages[-1]
        found["age"] = f"{low:g}" if low == high else f"{low:g} to {high:g}"
        if len(ages) == 1:
            found["age"] = f"{low:g} or more" if person.age_low is not None else f"{low:g} or less"
    for facet, value in (
        ("sex", person.sex),
        ("length", person.duration_weeks and f"{person.duration_weeks:g} weeks"),
        ("sessions a week", person.sessions_per_week and f"{person.sessions_per_week:g}"),
        ("weekly sets", person.sets_per_week and f"{person.sets_per_week:g}"),
        ("held equal", person.equated),
        ("measure", person.measure),
        ("part of the body", person.site),
    ):
        if value:
            found[facet] = value
    return found


def _dose(checks: tuple[DoseCheck, ...]) -> Table:
    rows = tuple(
        (
            LABELS[check.part],
            _span(check.recommended),
            "–" if check.tested is None else _tested(check),
            check.mark,
        )
        for check in checks
    )
    marked = {
        mark: "; ".join(LABELS[check.part] for check in checks if check.mark == mark)
        for mark in (BEYOND, PARTLY)
    }
    notes = []
    if marked[BEYOND]:
        notes.append(
            f"Beyond the evidence: {marked[BEYOND]}. No pooled study tested that, so there the "
            "recommendation rests on judgement."
        )
    if marked[PARTLY]:
        notes.append(
            f"Partly tested: {marked[PARTLY]}. Part of that range lies outside what the pooled "
            "studies tested."
        )
    if any(check.tested is None for check in checks):
        notes.append("What no study says rests on judgement.")
    if not notes:
        notes = ["Every part of the dose lies inside what the pooled studies tested or say."]
    return Table("The dose against what was tested", DOSE, rows, tuple(notes))


def _tested(check: DoseCheck) -> str:
    span = _span(check.tested)
    if not check.studies:  # held against common practice, not against studies
        return f"usually {span}"
    return f"{span} in {count(check.studies, 'study', 'studies')}"


def _span(span: tuple[float, float]) -> str:
    low, high = span
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"
