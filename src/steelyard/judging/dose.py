"""A recommended dose against what the pooled studies tested, and against common practice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from steelyard.judging.strength import advice_table
from steelyard.pooling.weighing import Weighing
from steelyard.records.recommendation import Recommendation
from steelyard.records.study import Dose, Study
from steelyard.show import count

INSIDE = "tested"
BEYOND = "beyond the evidence"
UNKNOWN = "no study says"
UNUSUAL = "other than common practice"
LABELS = {
    "sessions_per_week": "sessions a week",
    "sets_per_week": "sets a week",
    "sets_per_session": "sets a session",
    "exercises": "exercises",
    "reps": "repetitions",
    "load_percent_1rm": "load, % of 1RM",
    "rest_s": "rest, s",
    "lowering_s": "lowering, s",
    "sets": "sets of each exercise",
}
Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class DoseCheck:
    """One part of a dose.

    Attributes
    ----------
    part : str
        Key of the dose.
    recommended : tuple of float
        Lowest and highest.
    tested : tuple of float or None
        Lowest and highest in the arms of the pooled studies.
    studies : int
        That say so.
    mark : str
        ``tested``, ``beyond the evidence``, ``no study says`` or ``other than common practice``.
    sentence : str
    """

    part: str
    recommended: Span
    tested: Span | None
    studies: int
    mark: str
    sentence: str


def check_dose(
    recommendation: Recommendation, weighing: Weighing, studies: Mapping[str, Study]
) -> tuple[DoseCheck, ...]:
    """Hold each part of a recommended dose against the pooled studies.

    Parameters
    ----------
    recommendation : Recommendation
    weighing : Weighing
        Of the question it rests on; arms of the intervention count, and for a dose-response
        question those of the comparator too.
    studies : mapping of str to Study

    Returns
    -------
    tuple of DoseCheck
    """
    doses = _doses(weighing, studies)
    checks = [_against_studies(part, span, doses) for part, span in _recommended(recommendation)]
    if recommendation.small_muscle_isolation:
        checks += _against_practice(recommendation)
    return tuple(checks)


def _recommended(recommendation: Recommendation) -> Iterator[tuple[str, Span]]:
    dose = recommendation.dose
    for part in LABELS:
        pair = getattr(dose, part, None)
        if pair is not None and part != "sets":
            yield part, (float(pair[0]), float(pair[1]))
    if dose.sets is not None and dose.exercises is not None:
        low, high = (float(s) * float(e) for s, e in zip(dose.sets, dose.exercises, strict=True))
        yield "sets_per_session", (low, high)


def _doses(weighing: Weighing, studies: Mapping[str, Study]) -> list[tuple[str, Dose]]:
    used = weighing.effects[weighing.effects["used"]]
    sides = ["intervention"] if weighing.question.dose is None else ["intervention", "comparator"]
    pairs = {(row["study"], row[side]) for _, row in used.iterrows() for side in sides}
    return [(study, studies[study].arm(arm).dose) for study, arm in sorted(pairs)]


def _against_studies(part: str, span: Span, doses: list[tuple[str, Dose]]) -> DoseCheck:
    found = [(study, _span(getattr(dose, part))) for study, dose in doses]
    known = [(study, tested) for study, tested in found if tested is not None]
    label, said = LABELS[part], _said(span)
    if not known:
        sentence = f"{label} {said}: no pooled study says what it did"
        return DoseCheck(part, span, None, 0, UNKNOWN, sentence)
    tested = (min(low for _, (low, _) in known), max(high for _, (_, high) in known))
    number = len({study for study, _ in known})
    where = f"{_said(tested)} in {count(number, 'study', 'studies')}"
    if tested[0] <= span[0] and span[1] <= tested[1]:
        sentence = f"{label} {said}: inside what was tested, {where}"
        return DoseCheck(part, span, tested, number, INSIDE, sentence)
    sentence = f"{label} {said}: {BEYOND}, which tested {where}"
    return DoseCheck(part, span, tested, number, BEYOND, sentence)


def _against_practice(recommendation: Recommendation) -> Iterator[DoseCheck]:
    usual = advice_table()["small_muscle_isolation"]
    for part in ("reps", "sets", "exercises", "sessions_per_week"):
        pair = getattr(recommendation.dose, part)
        low, high = usual[part]
        practice = f"{low} to {high} are usual for a small muscle group ({usual['source']})"
        if pair is None:
            continue
        span = (float(pair[0]), float(pair[1]))
        if span[0] < low or span[1] > high:
            sentence = f"{LABELS[part]} {_said(span)}: {practice}"
            yield DoseCheck(part, span, (float(low), float(high)), 0, UNUSUAL, sentence)


def usual_dose() -> dict[str, str]:
    """What is usual for isolation work on a small muscle group, in words, with its source."""
    usual = advice_table()["small_muscle_isolation"]
    return {
        part: f"{value[0]} to {value[1]}" if isinstance(value, list) else value
        for part, value in usual.items()
    }


def _span(value) -> Span | None:
    if value is None:
        return None
    ends = value if isinstance(value, tuple) else (value, value)
    return float(ends[0]), float(ends[1])


def _said(span: Span) -> str:
    low, high = span
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"
