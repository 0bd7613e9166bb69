"""Every effect one study holds: each outcome, comparison and week, or why there is none."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import partial

import pandas as pd

from steelyard.effects.formed import SCALE_OPEN
from steelyard.effects.selection import Pairing, arm_pairs, asks_about, has_end
from steelyard.effects.table import COLUMNS, EXTRA_COLUMNS, effect_row
from steelyard.effects.whole_study import against_last, is_counted, reading_question
from steelyard.errors import DesignError
from steelyard.records.question import Question
from steelyard.records.study import Arm, Outcome, Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.reporting.summary import find_result

CONTINUOUS = ("standardised", "percent", "raw")
COUNTS = ("risk-ratio", "odds-ratio", "risk-difference")
OWN_COLUMNS = ("own_unit", "own_unit_error", "events_intervention", "events_comparator")
ONLY_BEFORE = "the record holds no result after training"
NO_RESULT = "the record holds no result"
ONLY_CORRELATION = "only a correlation inside a group is in the record, which compares no groups"


@dataclass(frozen=True, slots=True)
class NotFormed:
    """Something a study measured from which nothing can be shown.

    Attributes
    ----------
    outcome : str
        Id.
    week : float
        NaN where the record holds no result after training.
    comparison : str
        As in the effect table; empty where there are no two arms.
    what : str
        The same in words.
    reason : str
    """

    outcome: str
    week: float
    comparison: str
    what: str
    reason: str

    @property
    def sentence(self) -> str:
        """What and why, without a full stop."""
        return f"{self.what}: {self.reason}"


@dataclass(frozen=True, slots=True, eq=False)
class EveryEffect:
    """All effects of one study, each in the first metric in which it can be formed.

    Attributes
    ----------
    rows : DataFrame
        The columns of the effect table, then `OWN_COLUMNS`: the effect in the outcome's own
        unit with its standard error, positive where the intervention did better, and the people
        with an event in each arm; NaN where there are none. In the paper's order of outcomes,
        then by week; ``metric`` may differ from row to row.
    not_formed : tuple of NotFormed
        Every outcome and week of the record that is in no row.
    """

    rows: pd.DataFrame
    not_formed: tuple[NotFormed, ...]


def every_effect(
    study: Study, *, questions: Iterable[Question] = (), vocabulary: Vocabulary | None = None
) -> EveryEffect:
    """Form every effect of one study: each outcome, comparison and week, but for baselines.

    Means are standardised; where that cannot be, or only in SDs that the paper does not name,
    told in percent or in their own unit. Counts are told as risk ratios, else as the paper's odds
    ratios or risk differences.

    Which arms are held against which, and what is assumed where the paper is silent, follows the
    first question that is about the outcome and compares two of the study's arms. An outcome
    that none is about takes the arms of the first that compares any, or every arm against the
    last, and the assumptions usual for its construct. An arm or a printed comparison that this
    passes over is shown too.

    Parameters
    ----------
    study : Study
    questions : iterable of Question
        In order of preference.
    vocabulary : Vocabulary, optional
        Tells which constructs are surrogates.

    Returns
    -------
    EveryEffect
    """
    asking = questions_of(study, questions)
    rows: list[dict] = []
    not_formed: list[NotFormed] = []
    for outcome in study.outcomes:
        asked = asked_of(outcome, asking)
        leading = asked or next(iter(asking), None)
        pairs = against_last(study) if leading is None else arm_pairs(leading, study)
        form = partial(_form, asked=asked, vocabulary=vocabulary)
        weeks = _weeks(study, outcome)
        if not weeks:
            started = any(result.outcome == outcome.id for result in study.results)
            reason = ONLY_BEFORE if started else NO_RESULT
            not_formed.append(NotFormed(outcome.id, float("nan"), "", outcome.name, reason))
        for week in weeks:
            pairings = _pairings(study, outcome, week, pairs)
            if not pairings:
                not_formed.append(_alone(study, outcome, week))
            for pairing in pairings:
                formed = form(pairing)
                (not_formed if isinstance(formed, NotFormed) else rows).append(formed)
    frame = pd.DataFrame(rows, columns=[*COLUMNS, *EXTRA_COLUMNS, *OWN_COLUMNS])
    return EveryEffect(_sharing(frame), tuple(not_formed))


def questions_of(study: Study, questions: Iterable[Question]) -> list[Question]:
    """Those questions that compare two of the study's arms."""
    return [question for question in questions if arm_pairs(question, study)]


def asked_of(outcome: Outcome, questions: Iterable[Question]) -> Question | None:
    """The first question that is about an outcome."""
    return next((each for each in questions if asks_about(each, outcome)), None)


def _weeks(study: Study, outcome: Outcome) -> list[Decimal]:
    """Weeks after the start at which anything was measured."""
    found = {
        result.week for result in study.results if result.outcome == outcome.id and has_end(result)
    }
    found |= {each.week for each in study.comparisons if each.outcome == outcome.id}
    return sorted(week for week in found if week > 0)


def _arms_with(study: Study, outcome: Outcome, week: Decimal) -> list[Arm]:
    there = {
        result.arm
        for result in study.results
        if (result.outcome, result.week) == (outcome.id, week) and has_end(result)
    }
    return [arm for arm in study.arms if arm.id in there]


def _pairings(study: Study, outcome: Outcome, week: Decimal, pairs) -> list[Pairing]:
    """The pairs asked for, then those the paper prints, then any arm still passed over."""
    arms = {arm.id: arm for arm in study.arms}
    here = _arms_with(study, outcome, week)
    printed = [
        (arms[each.intervention], arms[each.comparator])
        for each in study.comparisons
        if (each.outcome, each.week) == (outcome.id, week)
    ]
    there = {frozenset((one.id, other.id)) for one, other in printed}
    chosen = [
        (one, other)
        for one, other in pairs
        if (one in here and other in here) or frozenset((one.id, other.id)) in there
    ]
    asked = {frozenset((one.id, other.id)) for one, other in chosen}
    chosen += [pair for pair in printed if frozenset(each.id for each in pair) not in asked]
    met = {arm.id for pair in chosen for arm in pair}
    passed_over = [arm for arm in here if arm.id not in met]
    anchor = next((other for _, other in pairs if other in here), here[-1] if here else None)
    chosen += [(arm, anchor) for arm in passed_over if arm is not anchor]
    return [Pairing(study, outcome, one, other, week) for one, other in chosen]


def _alone(study: Study, outcome: Outcome, week: Decimal) -> NotFormed:
    names = ", ".join(arm.name for arm in _arms_with(study, outcome, week))
    what = f"{outcome.name}, week {week:g}"
    reason = f"only {names} has a result, and no other group to hold it against"
    return NotFormed(outcome.id, float(week), "", what, reason)


def _form(
    pairing: Pairing, *, asked: Question | None, vocabulary: Vocabulary | None
) -> dict | NotFormed:
    """The first metric that holds; one in SDs the paper does not name only if no other does."""
    study, outcome = pairing.study, pairing.outcome
    families = (CONTINUOUS, COUNTS)
    if is_counted(study, outcome.id):
        families = families[::-1]
    kept, reasons = None, []
    for metric in (*families[0], *families[1]):
        found = _in_metric(pairing, metric, asked, vocabulary)
        if isinstance(found, str):
            reasons += [found] if metric in families[0] else []
            continue
        kept = kept or found
        if SCALE_OPEN not in found["flags"]:
            kept = found
            break
    if kept is not None:
        return kept | _own(pairing, kept, _in_metric(pairing, "raw", asked, vocabulary))
    one, other = pairing.intervention, pairing.comparator
    return NotFormed(
        outcome.id,
        float(pairing.week),
        f"{one.id} vs {other.id}",
        f"{outcome.name}, week {pairing.week:g}, {one.name} against {other.name}",
        _why(pairing, reasons),
    )


def _in_metric(pairing, metric, asked, vocabulary) -> dict | str:
    """The row of the effect table, or the reason why there is none."""
    question = reading_question(pairing.study, metric=metric, asked=asked)
    try:
        return effect_row(pairing, question, vocabulary)
    except DesignError as refused:
        return str(refused)


def _why(pairing: Pairing, reasons: list[str]) -> str:
    results = _results(pairing)
    ends = ("post", "change", "change_percent", "events")
    bare = all(getattr(each, end) is None for each in results for end in ends)
    if results and bare and any(each.correlation is not None for each in results):
        return ONLY_CORRELATION
    return "; ".join(dict.fromkeys(part for reason in reasons for part in reason.split("; ")))


def _results(pairing: Pairing) -> list:
    found = [
        find_result(pairing.study, outcome=pairing.outcome.id, arm=arm.id, week=pairing.week)
        for arm in (pairing.intervention, pairing.comparator)
    ]
    return [result for result in found if result is not None]


def _own(pairing: Pairing, row: dict, raw: dict | str) -> dict:
    """The effect as the paper's reader knows it: in the unit measured, or in people."""
    found = dict.fromkeys(OWN_COLUMNS, float("nan"))
    if isinstance(raw, dict):
        found |= {"own_unit": raw["effect"], "own_unit_error": raw["variance"] ** 0.5}
    events = [result.events for result in _results(pairing)]
    if row["metric"] in COUNTS and len(events) == 2 and None not in events:
        names = ("events_intervention", "events_comparator")
        found |= {name: float(value) for name, value in zip(names, events, strict=True)}
    return found


def _sharing(frame: pd.DataFrame) -> pd.DataFrame:
    """Name the comparator arm that several comparisons of the study lean on."""
    pairs = frame[["intervention", "comparator"]].drop_duplicates()
    uses = pairs["comparator"].value_counts()
    leaned_on = frame["comparator"].map(uses).fillna(0) > 1
    return frame.assign(
        shares=[
            f"{study}: {comparator}" if shared else ""
            for study, comparator, shared in zip(
                frame["study"], frame["comparator"], leaned_on, strict=True
            )
        ]
    )
