"""Plain facts about how a study was run, each with its place in the paper."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from steelyard.records.model import Broken, Identifier, Record, RuledRecord, Words
from steelyard.records.printed import brief

NOT_REPORTED = "not reported"
Concern = Literal["low", "some", "high"]

# Each question with the answers it takes; "not reported" is always one of them.
FACTS: dict[str, tuple[str, tuple[str, ...]]] = {
    "allocated_by": (
        "What decided who trained which way?",
        ("chance", "a fixed rule", "someone's choice"),
    ),
    "next_place": (
        "Could whoever let people in tell which group came next?",
        ("hidden", "could be told"),
    ),
    "counted_where_allocated": (
        "Was everyone counted in the group they were put in?",
        ("yes", "no"),
    ),
    "sessions_attended": (
        "How many of the planned sessions were done, arm by arm?",
        ("most in every arm", "few in an arm"),
    ),
    "training_beside": (
        "Was other training, food or supplements kept the same in all arms?",
        ("the same", "different"),
    ),
    "leavers": (
        "Who left, and does it look tied to the training?",
        ("nobody left", "not tied to the training", "tied to the training"),
    ),
    "measured_by": (
        "Who measured, and did they know the group?",
        ("did not know", "knew"),
    ),
    "tried_before": (
        "Had people tried the test before it counted?",
        ("yes", "no", "needs no practice"),
    ),
    "plan_made_public": (
        "When was the plan of the study made public?",
        ("before it began", "later", "date not given", "never"),
    ),
    "measured_and_reported": (
        "Are all outcomes that were measured also reported?",
        ("all", "some are missing"),
    ),
    "order_by": (
        "What decided which period came first?",
        ("chance", "a fixed rule", "someone's choice"),
    ),
    "back_at_start": (
        "Were people back at their starting level before the second period?",
        ("yes", "no"),
    ),
    "limb_by": (
        "What decided which limb trained which way?",
        ("chance", "a fixed rule", "someone's choice"),
    ),
    "other_limb": (
        "What did the other limb do?",
        ("trained too", "rested"),
    ),
}


class Answer(Record):
    """One answer, where in the paper it stands, and other answers for single outcomes."""

    answer: Words
    where: str | None = None
    by_outcome: dict[Identifier, Words] = Field(default_factory=dict)

    def of(self, outcome_id: str) -> str:
        return self.by_outcome.get(outcome_id, self.answer)


def _answer(value: Any) -> Any:
    return {"answer": value} if isinstance(value, str) else value


Answered = Annotated[Answer, BeforeValidator(_answer)]


class Appraisal(RuledRecord):
    """What the paper says of its own conduct; a question without a key is not yet answered."""

    allocated_by: Answered | None = None
    next_place: Answered | None = None
    counted_where_allocated: Answered | None = None
    sessions_attended: Answered | None = None
    training_beside: Answered | None = None
    leavers: Answered | None = None
    measured_by: Answered | None = None
    tried_before: Answered | None = None
    plan_made_public: Answered | None = None
    measured_and_reported: Answered | None = None
    order_by: Answered | None = None
    back_at_start: Answered | None = None
    limb_by: Answered | None = None
    other_limb: Answered | None = None

    def rules(self) -> Iterator[Iterable[Broken]]:
        for name in FACTS:
            if getattr(self, name) is not None:
                yield self._known_answer(name)
                yield self._known_answers_by_outcome(name)

    def _known_answer(self, name: str) -> Iterator[Broken]:
        yield from _unknown((name,), getattr(self, name).answer)

    def _known_answers_by_outcome(self, name: str) -> Iterator[Broken]:
        for outcome, found in getattr(self, name).by_outcome.items():
            yield from _unknown((name, "by_outcome", outcome), found)


def _unknown(place: tuple[str, ...], found: str) -> Iterator[Broken]:
    _, answers = FACTS[place[0]]
    if found not in (*answers, NOT_REPORTED):
        allowed = ", ".join(map(repr, (*answers, NOT_REPORTED)))
        yield place, "unknown-answer", f"expected one of {allowed}, found {brief(found)}"


class Overruling(Record):
    """A person's judgement of one domain in place of the one the rules give."""

    domain: Words
    concern: Concern
    reason: Words
    by: Words
    date: dt.date
    outcome: Identifier | None = None
