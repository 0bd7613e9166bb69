"""Told against now, for one recommendation and every question it rests on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from steelyard.judging.answer_review import AnswerReview, Answers, Earlier, review_answer
from steelyard.judging.certainty.rules import level_of
from steelyard.judging.checks import due_reasons, evidence_other, of_question
from steelyard.judging.movers import Mover
from steelyard.judging.strength import Strength, strength_of_advice
from steelyard.judging.told import told_by_question
from steelyard.records.recommendation import Recommendation
from steelyard.show import Shown


@dataclass(frozen=True, slots=True, eq=False)
class Review(Shown):
    """One recommendation, told against now.

    Attributes
    ----------
    recommendation, statement : str
    answers : tuple of AnswerReview
        One per question it rests on, in its order; empty where the record cannot be read.
    certainty : str or None
        The lowest of all its answers (own rule).
    reviewed : date or None
    due : tuple of str
        Why it should be read again; empty if it need not.
    warnings : tuple of str
    advice : Strength or None
        By the size of the first answer and the lowest certainty.
    unreadable : str
        Why the record cannot be read; empty if it can.
    """

    recommendation: str
    statement: str
    answers: tuple[AnswerReview, ...]
    certainty: str | None
    reviewed: dt.date | None
    due: tuple[str, ...]
    warnings: tuple[str, ...]
    advice: Strength | None
    unreadable: str = ""

    @property
    def first(self) -> AnswerReview | None:
        """The answer to the first question; None where the record cannot be read."""
        return self.answers[0] if self.answers else None

    @property
    def problem(self) -> str:
        """Why there is no first answer; empty if there is one."""
        return self.unreadable or (self.first.problem if self.first else "")

    @property
    def told_anything(self) -> bool:
        return any(answer.told is not None for answer in self.answers)

    @property
    def movers(self) -> tuple[Mover, ...]:
        """What moved any of the answers."""
        return tuple(mover for answer in self.answers for mover in answer.movers)

    @property
    def changed(self) -> bool:
        """Whether anything that was told no longer holds."""
        return any(answer.changed for answer in self.answers)

    @property
    def overturned(self) -> bool:
        return any(answer.overturned for answer in self.answers)

    @property
    def moved(self) -> bool:
        return any(answer.moved for answer in self.answers)

    @property
    def due_in_words(self) -> tuple[str, ...]:
        """Why it should be read again, in words that do not gainsay `since_told`."""
        quiet = {
            self._named(answer, evidence=True): f"{self._named(answer)}{answer.since_told}"
            for answer in self.answers
            if answer.told is not None and not answer.moved
        }
        return tuple(quiet.get(why, why) for why in self.due)

    def name_of(self, answer: AnswerReview) -> str:
        """The recommendation, with the question where it rests on several."""
        several = len(self.answers) > 1
        return f"{self.recommendation}, {answer.question}" if several else self.recommendation

    def _named(self, answer: AnswerReview, *, evidence: bool = False) -> str:
        questions = tuple(each.question for each in self.answers)
        name = evidence_other if evidence else of_question
        return name(questions, answer.question)

    def as_json(self) -> dict[str, Any]:
        """The machine's view; told and now are those of the first question."""
        answers = [answer.as_json() for answer in self.answers]
        first = answers[0] if answers else {}
        moves = [move for answer in answers for move in answer["moves"]]
        return {
            "recommendation": self.recommendation,
            "statement": self.statement,
            "question": first.get("question", ""),
            "certainty": self.certainty,
            "told": first.get("told"),
            "now": first.get("now"),
            "reviewed": None if self.reviewed is None else self.reviewed.isoformat(),
            "changed": self.changed,
            "overturned": self.overturned,
            "differs": list(dict.fromkeys(name for each in self.answers for name in each.differs)),
            "moved_by": list(dict.fromkeys(move["study"] for move in moves)),
            "moves": moves,
            "due": list(self.due),
            "advice": None if self.advice is None else self.advice.word,
            "advice_for": None if self.advice is None else self.advice.of,
            "one_more": first.get("one_more"),
            "warnings": list(self.warnings),
            "problem": self.problem or None,
            "answers": answers,
        }

    def _title(self) -> str:
        return f"Review: {self.recommendation}"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [("says", self.statement)] if self.statement else []
        if self.unreadable:
            rows.append(("no answer", self.unreadable))
        when = f" ({self.reviewed})" if self.reviewed else ""
        said = {self._named(answer) + answer.since_told for answer in self.answers}
        for answer in self.answers:
            if len(self.answers) > 1:
                rows.append(("question", answer.question))
            if answer.problem:
                rows.append(("no answer", answer.problem))
            if answer.told is None:
                rows.append(("told", "never"))
            else:
                rows.append((f"told{when}", answer.standing_text(answer.told)))
            rows.append(("now", answer.standing_text(answer.now)))
            if answer.told is not None:
                rows.append(("changed", answer.since_told))
            by = "moved by" if answer.moved else "shifted by"
            rows += [(by, answer.mover_text(mover)) for mover in answer.movers]
            if answer.one_more is not None:
                rows.append(("one more", answer.one_more.sentence))
        rows += [("read again", reason) for reason in self.due_in_words if reason not in said]
        if self.advice is not None:
            rows.append(("advice", self.advice.sentence))
        above = {self.unreadable, *map(_unanswered, self.answers)}
        return rows + [("warning", each) for each in self.warnings if each not in above]


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
        From a fingerprint, and the day it was told on, to the studies as they were.

    Returns
    -------
    Review
        Also where there is no answer; `problem` then says why.
    """
    told = told_by_question(recommendation)
    answers = tuple(
        review_answer(
            question, recommendation, library, carried=told.get(question), earlier=earlier
        )
        for question in recommendation.questions
    )
    first = answers[0]
    known = [answer for answer in answers if answer.now is not None]
    lowest = min((answer.certainty for answer in known), key=level_of, default=None)
    warnings = [_unanswered(answer) for answer in answers[1:] if answer.problem]
    warnings += [
        f"{of_question(recommendation.questions, answer.question)}{warning}"
        for answer in answers
        for warning in answer.warnings
    ]
    return Review(
        recommendation=recommendation.id,
        statement=recommendation.statement,
        answers=answers,
        certainty=lowest,
        reviewed=recommendation.reviewed,
        due=tuple(
            due_reasons(
                recommendation,
                {answer.question: answer.now.fingerprint for answer in known},
                today=today,
            )
        ),
        warnings=tuple(
            dict.fromkeys([*_dates(recommendation, today), *_lost(recommendation), *warnings])
        ),
        advice=None
        if first.weighing is None
        else strength_of_advice(first.weighing, lowest, cost=recommendation.cost_size),
    )


def _unanswered(answer: AnswerReview) -> str:
    return f"no answer to {answer.question!r}: {answer.problem}"


def _dates(recommendation: Recommendation, today: dt.date):
    if recommendation.reviewed is not None and recommendation.reviewed > today:
        yield f"reviewed {recommendation.reviewed} is in the future: today is {today}"


def _lost(recommendation: Recommendation):
    for question in told_by_question(recommendation):
        if question not in recommendation.questions:
            yield f"numbers were told of {question!r}, on which it does not rest any more"
