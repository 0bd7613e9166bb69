"""Every effect of the study being typed, on every metric that is asked for, outcome by outcome."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from steelyard.effects import formed as words
from steelyard.effects.every_effect import (
    CONTINUOUS,
    COUNTS,
    NO_RESULT,
    NotFormed,
    asked_of,
    every_effect,
    questions_of,
)
from steelyard.effects.from_comparison import find_comparison
from steelyard.effects.group_changes import group_changes, has_no_comparison
from steelyard.effects.selection import Pairing, arm_pairs, asks_about
from steelyard.effects.table import effect_row, printed_row
from steelyard.effects.whole_study import reading_question
from steelyard.errors import DesignError
from steelyard.notebook.entry.live_sizes import Size, same_size, size_of
from steelyard.records.question import Question
from steelyard.records.study import Outcome, Study
from steelyard.records.vocabulary import Vocabulary

PAPERS_OWN = "by the paper’s own comparison"
_TOLD_ELSEWHERE = {words.ASSUMED_R, words.RETRACTED, words.UNRANDOMISED, words.SURROGATE}


@dataclass(frozen=True, slots=True)
class LiveEffect:
    """One comparison on one outcome at one week.

    Attributes
    ----------
    outcome, comparison : str
        In words.
    week : float
    last : bool
        Whether it is the last week of its outcome and comparison.
    main : Size
        On the first metric in which it can be formed.
    also : tuple of Size
        The same in the outcome's own unit, as questions weigh it, and by the paper's own
        comparison, where these say something else.
    route : str
        How it was reached from the printed numbers.
    assumed : str
        What the paper does not say; empty where nothing had to be assumed.
    mind : str
        What else a reader must know; empty for nothing.
    """

    outcome: str
    comparison: str
    week: float
    last: bool
    main: Size
    also: tuple[Size, ...]
    route: str
    assumed: str
    mind: str


@dataclass(frozen=True, slots=True)
class LiveChange:
    """What happened inside one group; never an effect of training.

    Attributes
    ----------
    outcome, arm : str
        In words.
    kind : str
        ``change`` from before to after, or ``correlation`` between two things measured.
    """

    outcome: str
    arm: str
    week: float
    last: bool
    kind: str
    main: Size
    also: tuple[Size, ...]
    route: str
    assumed: str


@dataclass(frozen=True, slots=True)
class LiveOutcome:
    """All that one outcome says so far; last weeks before earlier ones.

    Attributes
    ----------
    name : str
    lower_is_better : bool
    effects : tuple of LiveEffect
    changes : tuple of LiveChange
        Of a study without a second group, and correlations inside groups.
    not_formed : tuple of str
        Weeks and comparisons from which nothing can be shown yet, each with the reason.
    """

    name: str
    lower_is_better: bool
    effects: tuple[LiveEffect, ...]
    changes: tuple[LiveChange, ...]
    not_formed: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.effects or self.changes or self.not_formed)


class LiveEffects:
    """The effects of a study that changes a little at a time.

    What hangs on an outcome alone is worked out again only where its numbers have changed.

    Parameters
    ----------
    questions : iterable of Question
    """

    def __init__(self, questions: Iterable[Question]) -> None:
        self.questions = tuple(questions)
        self._stands_on: Any = None
        self._told: dict[str, tuple[Any, LiveOutcome]] = {}

    def of(self, study: Study, vocabulary: Vocabulary) -> tuple[LiveOutcome, ...]:
        """Outcomes with something to say, in the study's order."""
        stands_on = (study.source, study.design, study.arms, vocabulary)
        if stands_on != self._stands_on:
            self._stands_on, self._told = stands_on, {}
        told = {}
        for outcome in study.outcomes:
            alone = study.model_copy(
                update={
                    "outcomes": (outcome,),
                    "results": tuple(r for r in study.results if r.outcome == outcome.id),
                    "comparisons": tuple(c for c in study.comparisons if c.outcome == outcome.id),
                }
            )
            key = (outcome, alone.results, alone.comparisons)
            known = self._told.get(outcome.id)
            told[outcome.id] = (
                known
                if known is not None and known[0] == key
                else (key, _outcome(alone, outcome, self.questions, vocabulary))
            )
        self._told = told
        return tuple(found for _, found in told.values() if found)


def _outcome(
    study: Study, outcome: Outcome, questions: tuple[Question, ...], vocabulary: Vocabulary
) -> LiveOutcome:
    """What a study of one outcome says."""
    changes = list(_correlations(study, outcome, questions, vocabulary))
    if has_no_comparison(study):
        grown = group_changes(study, questions=questions, vocabulary=vocabulary)
        rows = grown.rows.to_dict("records")
        changes = [_change(study, outcome, row) for row in rows] + changes
        effects, not_formed = [], grown.not_formed
    else:
        found = every_effect(study, questions=questions, vocabulary=vocabulary)
        telling = _Telling(study, outcome, questions_of(study, questions), vocabulary)
        effects = [telling.effect(row) for row in found.rows.to_dict("records")]
        weeks = {*found.rows["week"], *(each.week for each in found.not_formed)} & {*telling.weeks}
        effects += telling.compared_otherwise(_places(found.rows), sorted(weeks))
        not_formed = found.not_formed
    return LiveOutcome(
        outcome.name,
        outcome.better == "lower",
        tuple(_last_first(effects, by="comparison")),
        tuple(_last_first(changes, by="arm")),
        _in_short(not_formed),
    )


def _places(rows: pd.DataFrame) -> set[tuple[str, str, float]]:
    """The comparisons and weeks there are rows for."""
    return set(zip(rows["intervention"], rows["comparator"], rows["week"], strict=True))


def _last_first(told: list, *, by: str) -> Iterator:
    """Comparisons in their order, each from its last week back, which is marked."""
    for name in dict.fromkeys(getattr(each, by) for each in told):
        mine = [each for each in told if getattr(each, by) == name]
        latest = max(each.week for each in mine)
        for each in sorted(mine, key=lambda one: -one.week):
            yield replace(each, last=each.week == latest)


def _in_short(not_formed: Iterable[NotFormed]) -> tuple[str, ...]:
    """Sentences; an outcome that nothing is typed for yet is not worth one."""
    return tuple(each.sentence for each in not_formed if each.reason != NO_RESULT)


class _Telling:
    """How the comparisons of one outcome are told.

    Parameters
    ----------
    study : Study
    outcome : Outcome
    asking : iterable of Question
        Those that compare arms of the study.
    vocabulary : Vocabulary
    """

    def __init__(
        self, study: Study, outcome: Outcome, asking: Iterable[Question], vocabulary: Vocabulary
    ) -> None:
        asking = list(asking)
        self.study, self.outcome, self.vocabulary = study, outcome, vocabulary
        self.asked = asked_of(outcome, asking)
        self.about = [question for question in asking if asks_about(question, outcome)]
        entries = (*study.results, *study.comparisons)
        self.weeks = {float(entry.week): entry.week for entry in entries}

    def effect(self, row: Mapping[str, Any]) -> LiveEffect:
        """One row of the effect table with what else is asked of its comparison."""
        pairing = self._pairing(row["intervention"], row["comparator"], row["week"])
        main = size_of(row)
        shown, also = [main], []
        for other, of in self._others(pairing, row["metric"]):
            how = [*told_apart(other["route"], row["route"])]
            how += [f"assumed: {other['assumed']}"] * (other["assumed"] != row["assumed"])
            size = size_of(other, how="; ".join(how), of=of)
            if not any(same_size(size, each) for each in shown):
                known = {each.metric for each in shown}
                size = size if size.metric in known or of == PAPERS_OWN else replace(size, of="")
                shown.append(size)
                also.append(size)
        flags = [flag for flag in row["flags"].split("; ") if flag not in _TOLD_ELSEWHERE]
        return LiveEffect(
            outcome=self.outcome.name,
            comparison=f"{pairing.intervention.name} against {pairing.comparator.name}",
            week=row["week"],
            last=True,
            main=main,
            also=tuple(also),
            route=_with_people(row),
            assumed=row["assumed"],
            mind="; ".join(flags),
        )

    def compared_otherwise(
        self, there: set[tuple[str, str, float]], weeks: Iterable[float]
    ) -> Iterator[LiveEffect]:
        """Comparisons that only a further question asks for, or only on another metric."""
        for question in self.about:
            for one, other in arm_pairs(question, self.study):
                for week in weeks:
                    place = (one.id, other.id, week)
                    if place in there:
                        continue
                    row = self._formed(self._pairing(*place), question)
                    if row is not None:
                        there = there | {place}
                        yield self.effect(row)

    def _pairing(self, one: str, other: str, week: float) -> Pairing:
        arms = (self.study.arm(one), self.study.arm(other))
        return Pairing(self.study, self.outcome, *arms, self.weeks[week])

    def _others(self, pairing: Pairing, metric: str) -> Iterator[tuple[dict, str]]:
        """The same comparison told otherwise, with whose telling it is."""
        own = self._reading("raw") if metric in CONTINUOUS else None
        arms = (pairing.intervention, pairing.comparator)
        asked = [
            (question, f"for {question.id}")
            for question in self.about
            if arms in arm_pairs(question, self.study)
        ]
        for question, of in ((own, ""), *asked):
            row = self._formed(pairing, question) if question is not None else None
            if row is not None:
                yield row, of
        if find_comparison(pairing) is None:
            return
        for each in (*CONTINUOUS, *COUNTS, "variability-ratio"):
            with suppress(DesignError):
                yield printed_row(pairing, self._reading(each), self.vocabulary), PAPERS_OWN

    def _reading(self, metric: str) -> Question:
        return reading_question(self.study, metric=metric, asked=self.asked)

    def _formed(self, pairing: Pairing, question: Question) -> dict | None:
        try:
            return effect_row(pairing, question, self.vocabulary)
        except DesignError:
            return None


def _with_people(row: Mapping[str, Any]) -> str:
    """The route, after the people with an event where the effect is one of counts."""
    events = [row.get(f"events_{side}") for side in ("intervention", "comparator")]
    if any(each is None or each != each for each in events):
        return row["route"]
    people = (row["n_intervention"], row["n_comparator"])
    said = (f"{each:g} of {n:g}" for each, n in zip(events, people, strict=True))
    return f"{' against '.join(said)} people; {row['route']}"


def told_apart(route: str, beside: str) -> list[str]:
    """Steps of a route that are not told beside it already."""
    known = set(beside.split("; "))
    return [step for step in route.split("; ") if step not in known]


def _change(study: Study, outcome: Outcome, row: Mapping[str, Any]) -> LiveChange:
    """What one group did, in its first metric and in the unit measured."""
    error, also = row["own_unit_error"], ()
    if row["metric"] != "raw" and error == error:
        raw = {**row, "metric": "raw", "change": row["own_unit"], "variance": error**2}
        also = (size_of(raw, effect="change"),)
    return LiveChange(
        outcome=outcome.name,
        arm=study.arm(row["arm"]).name,
        week=row["week"],
        last=True,
        kind="change",
        main=size_of(row, effect="change"),
        also=also,
        route=row["route"],
        assumed=row["assumed"],
    )


def _correlations(
    study: Study, outcome: Outcome, questions: Iterable[Question], vocabulary: Vocabulary
) -> Iterator[LiveChange]:
    """Correlations inside groups, where a question asks for them."""
    asked = next(
        (each for each in questions if each.metric == "correlation" and asks_about(each, outcome)),
        None,
    )
    for result in study.results if asked is not None else ():
        if result.correlation is None:
            continue
        arm = study.arm(result.arm)
        with suppress(DesignError):
            row = effect_row(Pairing(study, outcome, arm, arm, result.week), asked, vocabulary)
            yield LiveChange(
                outcome=outcome.name,
                arm=arm.name,
                week=float(result.week),
                last=True,
                kind="correlation",
                main=size_of(row),
                also=(),
                route=row["route"],
                assumed=row["assumed"],
            )
