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
PARTLY = "partly tested"
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
# What may be meant as work on top of a programme that both groups did.
MAY_BE_ADDED = ("sets_per_week", "sets_per_session", "exercises")
_BEST_FIRST = (INSIDE, PARTLY, BEYOND)
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
        Lowest and highest in the arms of the pooled studies; of `added` work, of what the
        intervention did more than the comparator.
    studies : int
        That say so.
    mark : str
        ``tested``, ``partly tested``, ``beyond the evidence``, ``no study says`` or ``other than
        common practice``.
    sentence : str
    added : bool
        Whether the part fits the difference between the arms better than a whole programme.
    sides : tuple of two tuples of float, or None
        Lowest and highest on either side, of a part that the studies compared and the advice
        takes from both sides.
    """

    part: str
    recommended: Span
    tested: Span | None
    studies: int
    mark: str
    sentence: str
    added: bool = False
    sides: tuple[Span, Span] | None = None


def check_dose(
    recommendation: Recommendation, weighing: Weighing, studies: Mapping[str, Study]
) -> tuple[DoseCheck, ...]:
    """Hold each part of a recommended dose against the pooled studies.

    Sets and exercises are held against whole programmes and, where the two arms of a study
    differ in them, against that difference too: a recommendation may name what is added. The
    reading that the studies cover better counts. A range that only shares a part with the
    tested one is partly tested. A part in which the two arms of every study differ is what they
    compared: both arms then tested it, if each end of the range is one that an arm had.

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
    doses, pairs = _doses(weighing, studies), _pairs(weighing, studies)
    checks = [
        _nearer(_against_studies(part, span, doses), _against_difference(part, span, pairs))
        for part, span in _recommended(recommendation)
    ]
    checks = [_as_compared(check, pairs) for check in checks]
    if any(check.added for check in checks if check.part == "sets_per_week"):
        checks = [_as_added(check, pairs) for check in checks]
    if recommendation.small_muscle_isolation:
        checks += _against_practice(recommendation)
    return tuple(checks)


def tested_in_all(part: str, *, weighing: Weighing, studies: Mapping[str, Study]) -> Span | None:
    """Lowest and highest of one part over whole programmes of the pooled studies; None if none
    says."""
    found = [_span(getattr(dose, part)) for _, dose in _doses(weighing, studies)]
    known = [span for span in found if span is not None]
    return (min(low for low, _ in known), max(high for _, high in known)) if known else None


def had_between(
    part: str, stretch: Span, *, weighing: Weighing, studies: Mapping[str, Study]
) -> tuple[frozenset[str], frozenset[str]]:
    """Pooled studies with an arm inside a stretch of one part of the dose, its ends left out.

    Returns
    -------
    tuple of two frozensets of str
        Studies with such an arm in a pooled comparison; then those with one that was not pooled.
    """
    used = weighing.effects[weighing.effects["used"]]
    pooled = {
        (row["study"], row[side])
        for _, row in used.iterrows()
        for side in ("intervention", "comparator")
    }
    found: tuple[set[str], set[str]] = (set(), set())
    for study in {name for name, _ in pooled}:
        for arm in studies[study].arms:
            span = _span(getattr(arm.dose, part))
            if span is not None and span[0] < stretch[1] and span[1] > stretch[0]:
                found[(study, arm.id) not in pooled].add(study)
    return frozenset(found[0]), frozenset(found[1])


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


def _pairs(weighing: Weighing, studies: Mapping[str, Study]) -> list[tuple[str, Dose, Dose]]:
    """Doses of the two arms of each effect; none for a dose-response question, whose
    recommendation is a whole dose."""
    if weighing.question.dose is not None:
        return []
    used = weighing.effects[weighing.effects["used"]]
    sides = {(row["study"], row["intervention"], row["comparator"]) for _, row in used.iterrows()}
    return [
        (study, studies[study].arm(one).dose, studies[study].arm(other).dose)
        for study, one, other in sorted(sides)
    ]


def _against_studies(part: str, span: Span, doses: list[tuple[str, Dose]]) -> DoseCheck:
    found = [(study, _span(getattr(dose, part))) for study, dose in doses]
    known = [(study, tested) for study, tested in found if tested is not None]
    if not known:
        sentence = f"{LABELS[part]} {_said(span)}: no pooled study says what it did"
        return DoseCheck(part, span, None, 0, UNKNOWN, sentence)
    return _marked(part, span, known)


def _against_difference(
    part: str, span: Span, pairs: list[tuple[str, Dose, Dose]]
) -> DoseCheck | None:
    if part not in MAY_BE_ADDED:
        return None
    found = [(study, getattr(one, part), getattr(other, part)) for study, one, other in pairs]
    known = [
        (study, (float(more - less), float(more - less)))
        for study, more, less in found
        if more is not None and less is not None and more > less
    ]
    return _marked(part, span, known, added=True) if known else None


def _nearer(whole: DoseCheck, added: DoseCheck | None) -> DoseCheck:
    if added is None or whole.mark not in _BEST_FIRST:
        return whole
    nearer = _BEST_FIRST.index(added.mark) < _BEST_FIRST.index(whole.mark)
    return added if nearer else whole


def _as_added(check: DoseCheck, pairs: list[tuple[str, Dose, Dose]]) -> DoseCheck:
    """The same part, once its weekly sets are added ones: a whole programme is no yardstick."""
    if check.part not in MAY_BE_ADDED or check.added:
        return check
    against = _against_difference(check.part, check.recommended, pairs)
    if against is not None:
        return against
    sentence = f"added {LABELS[check.part]} {_said(check.recommended)}: no pooled study says"
    return DoseCheck(check.part, check.recommended, None, 0, UNKNOWN, sentence, True)


def _as_compared(check: DoseCheck, pairs: list[tuple[str, Dose, Dose]]) -> DoseCheck:
    """The same part, held against both arms where the studies compared it."""
    part, span = check.part, check.recommended
    if part in MAY_BE_ADDED or check.mark not in (PARTLY, BEYOND):
        return check
    found = [
        (study, _span(getattr(one, part)), _span(getattr(other, part)))
        for study, one, other in pairs
    ]
    known = [each for each in found if each[1] is not None and each[2] is not None]
    if not known or any(one == other for _, one, other in known):
        return check
    sides = tuple(
        (min(each[at][0] for each in known), max(each[at][1] for each in known)) for at in (1, 2)
    )
    if not all(any(low <= end <= high for low, high in sides) for end in span):
        return check
    tested = (min(low for low, _ in sides), max(high for _, high in sides))
    number = len({study for study, _, _ in known})
    against = f"{_said(sides[0])} against {_said(sides[1])} in {count(number, 'study', 'studies')}"
    sentence = f"{LABELS[part]} {_said(span)}: compared, {against}"
    return DoseCheck(part, span, tested, number, INSIDE, sentence, sides=sides)


def _marked(
    part: str, span: Span, known: list[tuple[str, Span]], *, added: bool = False
) -> DoseCheck:
    tested = (min(low for _, (low, _) in known), max(high for _, (_, high) in known))
    number = len({study for study, _ in known})
    label = f"added {LABELS[part]}" if added else LABELS[part]
    where = f"{_said(tested)} in {count(number, 'study', 'studies')}"
    if tested[0] <= span[0] and span[1] <= tested[1]:
        mark, said = INSIDE, f"inside what was tested, {where}"
    elif span[0] <= tested[1] and tested[0] <= span[1]:
        mark, said = PARTLY, f"{PARTLY}, {where}"
    else:
        mark, said = BEYOND, f"{BEYOND}, which tested {where}"
    sentence = f"{label} {_said(span)}: {said}"
    return DoseCheck(part, span, tested, number, mark, sentence, added)


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
