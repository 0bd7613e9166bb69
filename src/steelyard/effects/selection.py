"""Which pairs of arms, on which outcome and at which week, answer a question."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from steelyard.records.question import Question, Weeks
from steelyard.records.study import Arm, Outcome, Result, Study


@dataclass(frozen=True, slots=True)
class Pairing:
    """One arm against another in one study, on one outcome, at one week.

    `assumed_r` says which pre-post r to assume where the paper is silent: the ``usual`` one, or
    the ``low`` or ``high`` end of what may be assumed.
    """

    study: Study
    outcome: Outcome
    intervention: Arm
    comparator: Arm
    week: Decimal
    assumed_r: str = "usual"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A study, or one of its comparisons, that a question does not use, and why."""

    study: str
    reason: str


def select(question: Question, study: Study) -> list[Pairing | LeftOut]:
    """Pairings of one study under a question, or the reasons why there are none.

    A study that has nothing to do with the question (no arm with its tags, no outcome in its
    constructs) gives an empty list: it is not worth a word.
    """
    arms = arm_pairs(question, study)
    outcomes = [outcome for outcome in study.outcomes if asks_about(question, outcome)]
    if not outcomes or not (arms or _tagged(question, study)):
        return []
    if study.design.kind == "single-group" or not arms:
        return [LeftOut(study.id, _no_comparator(study, question))]
    barred = _not_eligible(question, study)
    if barred:
        return [LeftOut(study.id, barred)]
    found: list[Pairing | LeftOut] = []
    for outcome in outcomes:
        for intervention, comparator in arms:
            weeks = _weeks(study, outcome, intervention, comparator)
            for week in _wanted(question, weeks):
                found.append(Pairing(study, outcome, intervention, comparator, week))
    if not found:
        names = ", ".join(outcome.name for outcome in outcomes)
        reason = f"no result of both arms at the weeks asked for ({names})"
        return [LeftOut(study.id, reason)]
    return found + _second_at_lowest(question, study, arms)


def asks_about(question: Question, outcome: Outcome) -> bool:
    """Whether a question is about an outcome's construct and site."""
    return outcome.construct_id in question.constructs and (
        question.sites is None or outcome.site in question.sites
    )


def _tagged(question: Question, study: Study) -> bool:
    wanted = set(question.intervention or ())
    return any(wanted & set(arm.tags) for arm in study.arms)


def arm_pairs(question: Question, study: Study) -> list[tuple[Arm, Arm]]:
    """Pairs (intervention, comparator) of arms: by tag, or each dose against the lowest."""
    if question.dose is not None:
        return _dose_pairs(question, study)
    intervention, comparator = set(question.intervention or ()), set(question.comparator or ())
    return [
        (one, other)
        for one in study.arms
        for other in study.arms
        if one.id != other.id
        and intervention & set(one.tags)
        and comparator & set(other.tags)
        and not intervention & set(other.tags)
    ]


def _dosed(question: Question, study: Study) -> list[Arm]:
    """Arms with a dose, lowest first; of equal doses, the one the paper lists first."""
    wanted = set(question.intervention or ())
    dosed = [
        arm
        for arm in study.arms
        if dose_of(question, arm) is not None and (not wanted or wanted & set(arm.tags))
    ]
    return sorted(dosed, key=lambda arm: dose_of(question, arm))


def _second_at_lowest(
    question: Question, study: Study, arms: list[tuple[Arm, Arm]]
) -> list[LeftOut]:
    """Further arms at the lowest dose, which has one arm to stand for it."""
    if question.dose is None:
        return []
    lowest = arms[0][1]
    dose = f"the lowest {question.dose.replace('_', ' ')} ({dose_of(question, lowest)})"
    return [
        LeftOut(study.id, f"{arm.name}: also at {dose}, for which {lowest.name} stands")
        for arm in _dosed(question, study)
        if arm.id != lowest.id and dose_of(question, arm) == dose_of(question, lowest)
    ]


def _dose_pairs(question: Question, study: Study) -> list[tuple[Arm, Arm]]:
    dosed = _dosed(question, study)
    if not dosed:
        return []
    lowest = dosed[0]
    return [
        (arm, lowest) for arm in dosed[1:] if dose_of(question, arm) > dose_of(question, lowest)
    ]


def dose_of(question: Question, arm: Arm) -> Decimal | None:
    """The arm's dose in the question's unit; None where the paper does not say."""
    return getattr(arm.dose, question.dose)


def _no_comparator(study: Study, question: Question) -> str:
    if study.design.kind == "single-group":
        return (
            "one group only: a change inside one group is that group's change, "
            "not an effect of training"
        )
    if question.dose is not None:
        return f"no two arms with a different, reported {question.dose.replace('_', ' ')}"
    return f"no arm tagged {' or '.join(question.comparator or ())} to compare with"


def _not_eligible(question: Question, study: Study) -> str:
    rules, design, people = question.eligible, study.design, study.population
    checks = (
        (rules.design, design.kind, "design"),
        (rules.training_status, people.training_status, "training status"),
        (rules.sex, people.sex, "sex"),
        (rules.equated, design.equated, "what was equated"),
    )
    for allowed, found, name in checks:
        if allowed is not None and found not in allowed:
            return f"not eligible: {name} is {found}, the question asks for {' or '.join(allowed)}"
    if rules.randomised is not None and design.randomised is not rules.randomised:
        return "not eligible: not randomised" if rules.randomised else "not eligible: randomised"
    spans = (
        (rules.age_min, rules.age_max, people.age_mean, "mean age"),
        (rules.duration_weeks_min, rules.duration_weeks_max, design.duration_weeks, "weeks"),
    )
    for low, high, found, name in spans:
        if low is None and high is None:
            continue
        if found is None:
            return f"not eligible: {name} not reported"
        if (low is not None and found < low) or (high is not None and found > high):
            bounds = f"{low if low is not None else '…'} to {high if high is not None else '…'}"
            return f"not eligible: {name} {found}, the question asks for {bounds}"
    return ""


def _weeks(study: Study, outcome: Outcome, one: Arm, other: Arm) -> list[Decimal]:
    def of_arm(arm: Arm) -> set[Decimal]:
        return {
            result.week
            for result in study.results
            if result.outcome == outcome.id and result.arm == arm.id and has_end(result)
        }

    printed = {
        comparison.week
        for comparison in study.comparisons
        if comparison.outcome == outcome.id
        and {comparison.intervention, comparison.comparator} == {one.id, other.id}
    }
    return sorted((of_arm(one) & of_arm(other)) | printed)


def has_end(result: Result) -> bool:
    """Whether a result says more than how its arm started."""
    names = ("post", "change", "change_percent", "events", "correlation")
    return any(getattr(result, name) is not None for name in names)


def _wanted(question: Question, weeks: list[Decimal]) -> Iterator[Decimal]:
    if not weeks:
        return
    if isinstance(question.time, Weeks):
        yield from (week for week in weeks if week in question.time.weeks)
    elif question.time == "all":
        yield from weeks
    else:
        yield weeks[-1]
