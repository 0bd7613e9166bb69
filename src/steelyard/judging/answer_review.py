"""Told against now, for one question behind a recommendation."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Protocol

from steelyard.errors import DesignError, EmptyQuestionError, RecordError, UsageError
from steelyard.judging.certainty.result import Certainty
from steelyard.judging.checks import NO_ANSWER
from steelyard.judging.movers import PERHAPS, Mover, find_movers
from steelyard.judging.one_more import OneMore, one_more_study
from steelyard.judging.soundness import soundness_warnings
from steelyard.judging.told import (
    Standing,
    beyond_rounding,
    differences,
    standing_now,
    standing_told,
)
from steelyard.pooling.weighing import Weighing, plain
from steelyard.records.question import Question
from steelyard.records.recommendation import Recommendation, Told
from steelyard.records.study import Study
from steelyard.show import number

NOTHING_CHANGED = "nothing told has changed"
EVIDENCE_CHANGED = "the evidence has changed since it was told; the answer is the same"
ANSWER_SAME = "its numbers differ a little; the answer is the same"
MOVED_RULE = (
    "Moved means another verdict or certainty, an estimate shifted by half the smallest effect "
    "worth having or more, or one outside the interval that was told or the one now."
)
OTHERWISE = "the rules, the vocabulary, what was overruled or the way of computing has changed"
_NUMBERS = {
    "estimate": ("estimate",),
    "interval": ("low", "high"),
    "next study": ("prediction_low", "prediction_high"),
}


class Earlier(Protocol):
    """From a fingerprint to the studies as they were; UsageError where nobody kept them."""

    def __call__(self, mark: str, *, around: dt.date | None) -> Mapping[str, Study]: ...


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
class AnswerReview:
    """The answer to one question, told against now.

    Attributes
    ----------
    question : str
    certainty : str or None
        Of this answer, as the recommendation has it.
    told, now : Standing or None
        None where never told, or where there is no answer now.
    differs : tuple of str
        What no longer holds, at the decimals it was told with.
    movers : tuple of Mover
    warnings : tuple of str
    one_more : OneMore or None
    problem : str
        Why there is no answer; empty if there is one.
    weighing : Weighing or None
        For its units.
    """

    question: str
    certainty: str | None
    told: Standing | None
    now: Standing | None
    differs: tuple[str, ...]
    movers: tuple[Mover, ...]
    warnings: tuple[str, ...]
    one_more: OneMore | None
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
            text = self._lost() or NO_ANSWER
            return f"OVERTURNED: {text}" if self.overturned and self.differs else text
        if self.told.fingerprint != self.now.fingerprint:
            return EVIDENCE_CHANGED
        return ANSWER_SAME if self.differs else NOTHING_CHANGED

    def _lost(self) -> str:
        """What no longer holds: words from one to the other first, then which numbers."""
        words = [
            f"{name} was {getattr(self.told, name)!r}, is {getattr(self.now, name)!r}"
            for name in ("verdict", "certainty")
            if name in self.differs
        ]
        numbers = [said for said, names in _NUMBERS.items() if set(names) & set(self.differs)]
        if numbers:
            words.append(f"other {', '.join(numbers)}")
        return "; ".join(words)

    @property
    def in_a_word(self) -> str:
        """How it stands against what was told, for a list to scan."""
        if self.told is None:
            return "never told"
        if self.overturned:
            return "OVERTURNED"
        if self.moved:
            return "moved"
        return "as told" if self.since_told == NOTHING_CHANGED else "same answer"

    def as_json(self) -> dict[str, Any]:
        """The machine's view."""
        return {
            "question": self.question,
            "certainty": self.certainty,
            "told": None if self.told is None else self.told.as_json(),
            "now": None if self.now is None else self.now.as_json(),
            "changed": self.changed,
            "overturned": self.overturned,
            "moved": self.moved,
            "differs": list(self.differs),
            "moved_by": [mover.study for mover in self.movers],
            "moves": [
                {"study": mover.study, "what": mover.what, "shift": plain(mover.shift)}
                for mover in self.movers
            ],
            "one_more": None if self.one_more is None else self.one_more.sentence,
            "problem": self.problem or None,
        }

    def standing_text(self, standing: Standing | None) -> str:
        """An answer in display units; a dash for none."""
        if standing is None:
            return "–"
        weighing = self.weighing
        if weighing is None:
            return as_recorded(standing)
        text = f"{weighing.text(standing.estimate)}, {weighing.span(standing.low, standing.high)}"
        if not math.isnan(standing.prediction_low):
            ends = (standing.prediction_low, standing.prediction_high)
            text += f"; next study {weighing.span(*ends)}"
        words = [standing.verdict, standing.certainty and f"{standing.certainty} certainty"]
        return "; ".join([text, *filter(None, words)])

    def mover_text(self, mover: Mover) -> str:
        """One study and how far it moved the estimate."""
        if mover.what == PERHAPS:
            return f"perhaps {mover.study}: without it the answer is near the one told (a guess)"
        if math.isnan(mover.shift):
            return f"{mover.study} ({mover.what}): without it there was nothing to pool"
        weighing = self.weighing
        before = weighing.estimate - mover.shift
        return (
            f"{mover.study} ({mover.what}): from {weighing.text(before)} to "
            f"{weighing.text(weighing.estimate)}, all else as now"
        )


def as_recorded(standing: Standing) -> str:
    """A told answer whose question has none now, and so no unit: as its record has it."""
    ends = (standing.estimate, standing.low, standing.high)
    estimate, low, high = (number(end, decimals=3, sign=True) for end in ends)
    return f"{estimate}, {low} to {high} (as recorded)"


def review_answer(
    question: str,
    recommendation: Recommendation,
    library: Answers,
    *,
    carried: Told | None,
    earlier: Earlier | None = None,
) -> AnswerReview:
    """Hold what was told of one question against the evidence as it is.

    Parameters
    ----------
    question : str
    recommendation : Recommendation
        Whose overrulings count.
    library : Answers
    carried : Told or None
        What was told of this question.
    earlier : callable, optional
        From a fingerprint, and the day it was told on, to the studies as they were.

    Returns
    -------
    AnswerReview
        Also where there is no answer; `problem` then says why.
    """
    try:
        if question not in library.questions:
            raise UsageError(f"question {question!r} is not in the library, or has faults")
        weighing = library.weigh(question)
        certainty = library.certainty(question, recommendation=recommendation)
    except (UsageError, EmptyQuestionError, DesignError, RecordError) as error:
        told = None if carried is None else standing_told(carried, worthwhile=None)
        return AnswerReview(question, None, told, None, (), (), (), None, str(error), None)
    now = standing_now(weighing, certainty.word)
    told, differs, movers, guess = None, (), (), ""
    if carried is not None:
        told = standing_told(carried, worthwhile=weighing.worthwhile)
        differs = differences(carried, now, worthwhile=weighing.worthwhile)
    if differs:
        refusals: list[str] = []

        def looked_up(mark: str) -> Mapping[str, Study] | None:
            try:
                return earlier(mark, around=recommendation.reviewed)
            except UsageError as refused:
                refusals.append(str(refused))
                return None

        movers = find_movers(
            weighing,
            library.studies,
            told_fingerprint=told.fingerprint,
            told_estimate=told.estimate,
            weigh=lambda asked, studies: library.weigh_question(asked, studies=studies),
            earlier=earlier and looked_up,
        )
        guess = "; ".join(refusals)
    found = AnswerReview(
        question=question,
        certainty=certainty.word,
        told=told,
        now=now,
        differs=differs,
        movers=movers,
        warnings=(),
        one_more=one_more_study(weighing),
        problem="",
        weighing=weighing,
    )
    warnings = [
        *_unexplained(found, carried, guess),
        *certainty.notes,
        *soundness_warnings(weighing, library.studies),
    ]
    return replace(found, warnings=tuple(warnings))


def _unexplained(found: AnswerReview, carried: Told | None, guess: str) -> Iterator[str]:
    told, now, movers = found.told, found.now, found.movers
    if told is None or not found.differs:
        return
    if told.fingerprint == now.fingerprint:
        if found.moved:
            yield f"the evidence is the same and the answer is not: {OTHERWISE}"
        elif beyond_rounding(carried, now):
            yield f"the evidence is the same and its numbers differ: {OTHERWISE}"
    elif not movers and not guess:
        yield "no single study explains the change: the question itself may have changed"
    elif not movers:
        yield (
            "no study that is there now explains the change: one may have been taken out or "
            f"edited, or the question itself may have changed ({guess})"
        )
    elif guess:
        yield f"what moved it is a guess from the numbers alone: {guess}"
