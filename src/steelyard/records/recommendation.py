"""A recommendation: what to programme, for whom, at what dose, resting on which questions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from typing import Literal

from pydantic import Field

from steelyard.records.model import Broken, Identifier, Record, RuledRecord, Words, YesNo
from steelyard.records.printed import Pair, Printed


class RecommendedDose(Record):
    """What to programme; ranges as [low, high]."""

    sessions_per_week: Pair | None = None
    sets_per_week: Pair | None = None
    sets: Pair | None = None
    exercises: Pair | None = None
    reps: Pair | None = None
    load_percent_1rm: Pair | None = None
    rest_s: Pair | None = None
    lowering_s: Pair | None = None
    order: str | None = None
    range_of_motion: str | None = None
    notes: str | None = None


class RecommendationWords(Record):
    """A recommendation's own words in another language; what is not given is not translated."""

    statement: Words | None = None
    for_whom: Words | None = None
    not_for_whom: Words | None = None
    cost: Words | None = None
    risk: Words | None = None
    alternatives: Words | None = None
    would_change: Words | None = None
    cautions: tuple[Words, ...] = ()
    order: Words | None = None
    range_of_motion: Words | None = None
    notes: Words | None = None


class Override(Record):
    """A person's overruling of one step of the certainty rules."""

    question: Identifier | None = None
    domain: Words
    step: int
    reason: Words
    by: Words
    date: dt.date


class Told(Record):
    """The numbers the recommendation carried when a person last reviewed it.

    `question` is the first the recommendation rests on where it is not said.
    """

    question: Identifier | None = None
    estimate: Printed
    low: Printed
    high: Printed
    prediction_low: Printed | None = None
    prediction_high: Printed | None = None
    certainty: Literal["high", "moderate", "low", "very low"] | None = None
    verdict: Literal["better", "equivalent", "worse", "not settled"] | None = None
    fingerprint: Words


class AlsoTold(Told):
    """The numbers of a further question the recommendation rests on."""

    question: Identifier


class Recommendation(RuledRecord):
    """What to programme, and what it rests on."""

    schema_version: Literal[1] = Field(1, alias="schema")
    id: Identifier
    invented: YesNo = False
    statement: Words
    questions: tuple[Identifier, ...] = Field(min_length=1)
    sites: tuple[Identifier, ...] = ()
    small_muscle_isolation: YesNo = False
    dose: RecommendedDose = RecommendedDose()
    for_whom: str | None = None
    not_for_whom: str | None = None
    cost: str | None = None
    cost_size: Literal["small", "medium", "large"] | None = None
    risk: str | None = None
    alternatives: str | None = None
    would_change: str | None = None
    cautions: tuple[str, ...] = ()
    overrides: tuple[Override, ...] = Field((), alias="override")
    reviewed: dt.date | None = None
    reviewed_by: str | None = None
    review_note: str | None = None
    told: Told | None = None
    also_told: tuple[AlsoTold, ...] = ()
    translations: dict[Identifier, RecommendationWords] = Field(default_factory=dict)

    def rules(self) -> Iterator[Iterable[Broken]]:
        for tag in self.translations:
            yield self._a_translation_hides_no_caution(tag)

    def _a_translation_hides_no_caution(self, tag: str) -> Iterator[Broken]:
        given = self.translations[tag].cautions
        if given and len(given) != len(self.cautions):
            message = f"expected {len(self.cautions)}, one for each caution, found {len(given)}"
            yield ("translations", tag, "cautions"), "translated-cautions", message
