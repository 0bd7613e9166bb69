"""Told against now, for one recommendation."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Protocol

from steelyard.errors import DesignError, EmptyQuestionError, RecordError, UsageError
from steelyard.judging.certainty.result import Certainty
from steelyard.judging.certainty.rules import level_of
from steelyard.judging.checks import EVIDENCE_OTHER, due_reasons
from steelyard.judging.movers import Mover, find_movers
from steelyard.judging.one_more import OneMore, one_more_study
from steelyard.judging.soundness import soundness_warnings
from steelyard.judging.strength import Strength, strength_of_advice
from steelyard.judging.told import Standing, differences, standing_now, standing_told
from steelyard.pooling.weighing import Weighing, plain
from steelyard.records.question import Question
from steelyard.records.recommendation import Recommendation
from steelyard.records.study import Study
from steelyard.show import Shown

NOTHING_CHANGED = "nothing told has changed"
RECORDS_EDITED = "records edited since it was told; the answer is the same"
ANSWER_SAME = "its numbers differ a little; the answer is the same"


class Earlier(Protocol):
    """From a fingerprint to the studies as they were; None where nobody kept them."""

    def __call__(self, mark: str, *, around: dt.date | None) -> Mapping[str, Study] | None: ...


class Answers(Protocol):
    """What a review needs of a library."""

    @property
    def studies(self) -> Mapping[str, Study]: ...

    @property
    def questions(self) -> Mapping[str, Question]: ...

    def weigh(self, question_id: str) -> Weighing: ...

    def weigh_question(
        self, question: Question, *, studies: Mapping[str, Study] | None = None
    ) -> Weighing: ...

    def certainty(
        self, question_id: str, *, recommendation: Recommendation | None = None
    ) -> Certainty: ...


@dataclass(frozen=True, slots=True, eq=False)
class Review(Shown):
    """One recommendation, told against now.

    Attributes
    ----------
    recommendation, statement : str
    question : str
        The first it rests on; told and now speak of this one.
    certainty : str or None
        The lowest of all its questions (own rule).
    told, now : Standing or None
        None where never told, or where there is no answer now.
    reviewed : date or None
    differs : tuple of str
        What no longer holds, at the decimals it was told with.
    movers : tuple of Mover
    due : tuple of str
        Why it should be read again; empty if it need not.
    warnings : tuple of str
    one_more : OneMore or None
    advice : Strength or None
    problem : str
        Why there is no answer; empty if there is one.
    weighing : Weighing or None
        For its units.
    """

    recommendation: str
    statement: str
    question: str
    certainty: str | None
    told: Standing | None
    now: Standing | None
    reviewed: dt.date | None
    differs: tuple[str, ...]
    movers: tuple[Mover, ...]
    due: tuple[str, ...]
    warnings: tuple[str, ...]
    one_more: OneMore | None
    advice: Strength | None
    problem: str
    weighing: Weighing | None

    @property
    def changed(self) -> bool:
        """Whether anything that was told no longer holds."""
        return bool(self.differs) or (self.told is not None and self.now is None)

    @property
    def overturned(self) -> bool:
        """Whether a word changed, or the estimate left the interval that was told."""
        if self.told is None or self.now is None:
            return self.changed
        outside = not self.told.low <= self.now.estimate <= self.told.high
        return outside or bool({"certainty", "verdict"} & set(self.differs))

    @property
    def moved(self) -> bool:
        """Whether the answer is another than the one told, for a person who acts on it.

        Another verdict or certainty word, an estimate shifted by at least half the smallest
        worthwhile effect, one outside the other's interval, or no answer any more (own rule).
        """
        if self.told is None or self.now is None:
            return self.changed
        told, now = self.told.estimate, self.now.estimate
        worthwhile = self.weighing.worthwhile if self.weighing is not None else None
        far = bool(worthwhile) and abs(now - told) >= worthwhile / 2
        return self.overturned or far or not self.now.low <= told <= self.now.high

    @property
    def since_told(self) -> str:
        """What came of what was told, in one sentence; empty where nothing was told."""
        if self.told is None:
            return ""
        if self.moved:
            lost = ", ".join(each.replace("_", " ") for each in self.differs)
            text = f"no longer holds: {lost}" if lost else "there is no answer any more"
            return f"OVERTURNED: {text}" if self.overturned and self.differs else text
        if self.told.fingerprint != self.now.fingerprint:
            return RECORDS_EDITED
        return ANSWER_SAME if self.differs else NOTHING_CHANGED

    @property
    def due_in_words(self) -> tuple[str, ...]:
        """Why it should be read again, in words that do not gainsay `since_told`."""
        if self.told is None or self.moved:
            return self.due
        return tuple(RECORDS_EDITED if why == EVIDENCE_OTHER else why for why in self.due)

    def as_json(self) -> dict[str, Any]:
        """The machine's view."""
        return {
            "recommendation": self.recommendation,
            "statement": self.statement,
            "question": self.question,
            "certainty": self.certainty,
            "told": None if self.told is None else self.told.as_json(),
            "now": None if self.now is None else self.now.as_json(),
            "reviewed": None if self.reviewed is None else self.reviewed.isoformat(),
            "changed": self.changed,
            "overturned": self.overturned,
            "differs": list(self.differs),
            "moved_by": [mover.study for mover in self.movers],
            "moves": [
                {"study": mover.study, "what": mover.what, "shift": plain(mover.shift)}
                for mover in self.movers
            ],
            "due": list(self.due),
            "advice": None if self.advice is None else self.advice.word,
            "one_more": None if self.one_more is None else self.one_more.sentence,
            "warnings": list(self.warnings),
            "problem": self.problem or None,
        }

    def standing_text(self, standing: Standing | None) -> str:
        """An answer in display units; a dash for none."""
        if standing is None or self.weighing is None:
            return "–"
        weighing = self.weighing
        text = f"{weighing.text(standing.estimate)}, {weighing.span(standing.low, standing.high)}"
        if not math.isnan(standing.prediction_low):
            ends = (standing.prediction_low, standing.prediction_high)
            text += f"; next study {weighing.span(*ends)}"
        words = [standing.verdict, standing.certainty and f"{standing.certainty} certainty"]
        return "; ".join([text, *filter(None, words)])

    def mover_text(self, mover: Mover) -> str:
        """One study and how far it moved the estimate."""
        if math.isnan(mover.shift):
            return f"{mover.study} ({mover.what}): without it there was nothing to pool"
        weighing = self.weighing
        before = weighing.estimate - mover.shift
        return (
            f"{mover.study} ({mover.what}): from {weighing.text(before)} to "
            f"{weighing.text(weighing.estimate)}, all else as now"
            if mover.what != "probably"
            else f"{mover.study} (probably; the earlier records are not to be had)"
        )

    def _title(self) -> str:
        return f"Review: {self.recommendation}"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [("says", self.statement)] if self.statement else []
        if self.problem:
            rows.append(("no answer", self.problem))
        when = f" ({self.reviewed})" if self.reviewed else ""
        rows.append((f"told{when}", self.standing_text(self.told)))
        rows.append(("now", self.standing_text(self.now)))
        if self.told is not None:
            rows.append(("changed", self.since_told))
        by = "moved by" if self.moved else "shifted by"
        rows += [(by, self.mover_text(mover)) for mover in self.movers]
        rows += [
            ("read again", reason) for reason in self.due_in_words if reason != self.since_told
        ]
        if self.advice is not None:
            rows.append(("advice", self.advice.sentence))
        if self.one_more is not None:
            rows.append(("one more", self.one_more.sentence))
        return rows + [("warning", warning) for warning in self.warnings]


def review_recommendation(
    recommendation: Recommendation,
    library: Answers,
    *,
    today: dt.date,
    earlier: Earlier | None = None,
) -> Review:
    """Hold what a recommendation was told with against the evidence as it is.

    Parameters
    ----------
    recommendation : Recommendation
    library : Answers
    today : date
    earlier : callable, optional
        From a fingerprint, and the day it was told on, to the studies as they were, or None.

    Returns
    -------
    Review
        Also where there is no answer; `problem` then says why.
    """
    first = recommendation.questions[0]
    warnings: list[str] = []
    weighing, words, problem = None, [], ""
    for question in recommendation.questions:
        try:
            if question not in library.questions:
                raise UsageError(f"question {question!r} is not in the library, or has faults")
            found = library.weigh(question)
            certainty = library.certainty(question, recommendation=recommendation)
        except (UsageError, EmptyQuestionError, DesignError, RecordError) as error:
            if question == first:
                problem = str(error)
            else:
                warnings.append(f"no answer to {question!r}: {error}")
            continue
        words.append(certainty.word)
        warnings += certainty.notes
        if question == first:
            weighing, own = found, certainty.word
    now = None if weighing is None else standing_now(weighing, own)
    told, differs, movers = None, (), ()
    if recommendation.told is not None:
        asked = library.questions.get(first)
        worthwhile = None if weighing is None else weighing.worthwhile
        told = standing_told(recommendation.told, worthwhile=worthwhile)
        if now is not None and asked is not None:
            differs = differences(recommendation.told, now, worthwhile=worthwhile)
            if differs:
                movers = find_movers(
                    weighing,
                    library.studies,
                    told_fingerprint=told.fingerprint,
                    told_estimate=told.estimate,
                    weigh=lambda question, studies: library.weigh_question(
                        question, studies=studies
                    ),
                    earlier=earlier and partial(earlier, around=recommendation.reviewed),
                )
    if weighing is not None:
        warnings += soundness_warnings(weighing, library.studies)
        warnings += _unexplained(told, now, differs, movers)
    lowest = min(words, key=level_of, default=None)
    return Review(
        recommendation=recommendation.id,
        statement=recommendation.statement,
        question=first,
        certainty=lowest,
        told=told,
        now=now,
        reviewed=recommendation.reviewed,
        differs=differs,
        movers=movers,
        due=tuple(due_reasons(recommendation, now and now.fingerprint, today=today)),
        warnings=tuple(dict.fromkeys([*_dates(recommendation, today), *warnings])),
        one_more=None if weighing is None else one_more_study(weighing),
        advice=None
        if weighing is None
        else strength_of_advice(weighing, lowest, cost=recommendation.cost_size),
        problem=problem,
        weighing=weighing,
    )


def _dates(recommendation: Recommendation, today: dt.date):
    if recommendation.reviewed is not None and recommendation.reviewed > today:
        yield f"reviewed {recommendation.reviewed} is in the future: today is {today}"


def _unexplained(told: Standing | None, now: Standing, differs, movers):
    if told is None:
        return
    if differs and told.fingerprint == now.fingerprint:
        yield (
            "the evidence is the same and the answer is not: the rules, the vocabulary, what was "
            "overruled or the way of computing has changed"
        )
    elif differs and not movers:
        yield "no single study explains the change: the question itself may have changed"
