"""An earlier state of a library against the present one, answer by answer."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from steelyard.errors import DesignError, EmptyQuestionError, RecordError, UsageError
from steelyard.judging.answer_review import Answers
from steelyard.judging.movers import Mover, compared, shifts_of, touched_studies
from steelyard.judging.told import NUMBERS, Standing, standing_now
from steelyard.pooling.weighing import Weighing, plain
from steelyard.records.recommendation import Recommendation
from steelyard.show import Shown

SAME = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class ThenAndNow(Shown):
    """The answer to one question behind a recommendation, at two states.

    Attributes
    ----------
    recommendation, statement : str
        As worded now, or then if it is gone.
    question : str
    among : int
        How many questions the recommendation rests on.
    then, now : Standing or None
        None where there is no answer.
    changed : bool
    movers : tuple of Mover
    notes : tuple of str
        Why there is no answer then or now.
    weighing : Weighing or None
        The present one, for its units; the earlier one where there is none.
    """

    recommendation: str
    statement: str
    question: str
    among: int
    then: Standing | None
    now: Standing | None
    changed: bool
    movers: tuple[Mover, ...]
    notes: tuple[str, ...]
    weighing: Weighing | None

    def as_json(self) -> dict[str, Any]:
        return {
            "recommendation": self.recommendation,
            "statement": self.statement,
            "question": self.question,
            "then": None if self.then is None else self.then.as_json(),
            "now": None if self.now is None else self.now.as_json(),
            "changed": self.changed,
            "moved_by": [mover.study for mover in self.movers],
            "moves": [
                {"study": mover.study, "what": mover.what, "shift": plain(mover.shift)}
                for mover in self.movers
            ],
            "notes": list(self.notes),
        }

    def _title(self) -> str:
        several = f", {self.question}" if self.among > 1 else ""
        return f"Then and now: {self.recommendation}{several}"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [("says", self.statement), ("then", self._text(self.then))]
        rows += [("now", self._text(self.now)), ("changed", "yes" if self.changed else "no")]
        rows += [("moved by", f"{mover.study} ({mover.what})") for mover in self.movers]
        return rows + [("note", note) for note in self.notes]

    def _text(self, standing: Standing | None) -> str:
        if standing is None or self.weighing is None:
            return "–"
        weighing = self.weighing
        text = f"{weighing.text(standing.estimate)}, {weighing.span(standing.low, standing.high)}"
        certainty = standing.certainty and f"{standing.certainty} certainty"
        return "; ".join([text, *filter(None, [standing.verdict, certainty])])


def then_and_now(
    then: Answers,
    now: Answers,
    *,
    then_recommendations: Mapping[str, Recommendation],
    now_recommendations: Mapping[str, Recommendation],
) -> tuple[ThenAndNow, ...]:
    """Every question behind a recommendation of either state, answered in both.

    Parameters
    ----------
    then, now : Answers
        The library at two states.
    then_recommendations, now_recommendations : mapping of str to Recommendation

    Returns
    -------
    tuple of ThenAndNow
    """
    names = sorted({*then_recommendations, *now_recommendations})
    return tuple(
        found
        for name in names
        for found in _of(then, now, then_recommendations.get(name), now_recommendations.get(name))
    )


def _of(then: Answers, now: Answers, before, after) -> list[ThenAndNow]:
    each = [record.questions for record in (after, before) if record is not None]
    questions = tuple(dict.fromkeys(question for some in each for question in some))
    return [
        _one(then, now, before, after, question=question, among=len(questions))
        for question in questions
    ]


def _one(then: Answers, now: Answers, before, after, *, question: str, among: int) -> ThenAndNow:
    record = after or before
    notes: list[str] = []
    if after is not None and before is not None:
        if question not in before.questions:
            notes.append("then: it did not rest on this question")
        if question not in after.questions:
            notes.append("now: it does not rest on this question any more")
    if after is None:
        notes.append("now: the recommendation is gone")
    if before is None:
        notes.append("then: the recommendation was not there yet; its question is answered anyway")
    # A recommendation that is not there yet still has a question that can be asked of the time.
    weighing_then, standing_then = _answer(then, before or after, question, "then", notes)
    weighing_now, standing_now_ = (
        _answer(now, after, question, "now", notes) if after else (None, None)
    )
    movers: tuple[Mover, ...] = ()
    if weighing_then is not None and weighing_now is not None:
        touched = {*touched_studies(weighing_then), *touched_studies(weighing_now)}
        changed = {
            study: what
            for study, what in compared(now.studies, then.studies).items()
            if study in touched
        }
        movers = shifts_of(
            changed,
            weighing_now,
            now.studies,
            weigh=lambda question, studies: now.weigh_question(question, studies=studies),
        )
    return ThenAndNow(
        recommendation=record.id,
        statement=record.statement,
        question=question,
        among=among,
        then=standing_then,
        now=standing_now_,
        changed=_differ(standing_then, standing_now_),
        movers=movers,
        notes=tuple(notes),
        weighing=weighing_now or weighing_then,
    )


def _answer(
    library: Answers, recommendation: Recommendation, question: str, when: str, notes: list[str]
):
    try:
        weighing = library.weigh(question)
        certainty = library.certainty(question, recommendation=recommendation)
    except (UsageError, EmptyQuestionError, DesignError, RecordError) as error:
        notes.append(f"{when}: {error}")
        return None, None
    return weighing, standing_now(weighing, certainty.word)


def _differ(one: Standing | None, other: Standing | None) -> bool:
    if one is None or other is None:
        return one is not other
    if (one.certainty, one.verdict) != (other.certainty, other.verdict):
        return True
    for name in NUMBERS:
        before, after = getattr(one, name), getattr(other, name)
        if math.isnan(before) != math.isnan(after):
            return True
        if not math.isnan(before) and not math.isclose(before, after, rel_tol=SAME, abs_tol=SAME):
            return True
    return False
