"""Every effect that one study holds, on one scale, whatever was asked of it."""

from __future__ import annotations

from collections.abc import Iterable

from steelyard.effects.selection import Pairing, arm_pairs
from steelyard.effects.table import EffectTable, table_of
from steelyard.records.question import COUNT_METRICS, Question
from steelyard.records.study import Arm, Study
from steelyard.records.vocabulary import Vocabulary


def whole_study(
    study: Study,
    *,
    questions: Iterable[Question] = (),
    metric: str = "standardised",
    vocabulary: Vocabulary | None = None,
) -> EffectTable:
    """All outcomes of one study at their last week.

    Which arm counts as the intervention follows the first question that compares two of the
    study's arms, by tag or dose; without one, every arm is held against the last, as papers
    list them.
    Assumptions (the pre-post correlation and the like) are that question's.

    Parameters
    ----------
    study : Study
    questions : iterable of Question
        In order of preference.
    metric : str
        A continuous metric or a count metric; outcomes of the other kind are left out silently.
    vocabulary : Vocabulary, optional

    Returns
    -------
    EffectTable
    """
    asked = next((q for q in questions if arm_pairs(q, study)), None)
    pairs = arm_pairs(asked, study) if asked is not None else against_last(study)
    reading = reading_question(study, metric=metric, asked=asked)
    counts = metric in COUNT_METRICS
    chosen = [
        Pairing(study, outcome, intervention, comparator, week)
        for outcome in study.outcomes
        if is_counted(study, outcome.id) == counts
        for intervention, comparator in pairs
        if (week := _last_week(study, outcome.id, intervention, comparator)) is not None
    ]
    return table_of(chosen, reading, vocabulary)


def reading_question(study: Study, *, metric: str, asked: Question | None = None) -> Question:
    """A question about everything in one study, with the assumptions of one asked of it."""
    return Question(
        id="reading",
        asks=study.source.title,
        intervention=("any",),
        comparator=("other",),
        constructs=tuple(dict.fromkeys(outcome.construct_id for outcome in study.outcomes)),
        metric=metric,
        **({} if asked is None else {"assume": asked.assume}),
    )


def against_last(study: Study) -> list[tuple[Arm, Arm]]:
    """Every arm against the last, as papers list them."""
    return [(arm, study.arms[-1]) for arm in study.arms[:-1]]


def is_counted(study: Study, outcome_id: str) -> bool:
    """Whether an outcome is told in people with an event."""
    ratios = ("log_risk_ratio", "log_odds_ratio", "risk_difference")
    return any(r.events is not None for r in study.results if r.outcome == outcome_id) or any(
        getattr(c, name) is not None
        for c in study.comparisons
        if c.outcome == outcome_id
        for name in ratios
    )


def _last_week(study: Study, outcome_id: str, one: Arm, other: Arm):
    weeks = [
        {r.week for r in study.results if (r.outcome, r.arm) == (outcome_id, arm.id)}
        for arm in (one, other)
    ]
    shared = weeks[0] & weeks[1]
    shared |= {
        c.week
        for c in study.comparisons
        if c.outcome == outcome_id and {c.intervention, c.comparator} == {one.id, other.id}
    }
    return max(shared, default=None)
