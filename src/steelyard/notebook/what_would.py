"""What would change our mind about an answer, as a notebook shows it."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.explaining.page_caution import INVENTED_DATA
from steelyard.judging.would_change import NO_MORE_STUDIES, would_change
from steelyard.notebook.answer import Answer
from steelyard.notebook.how_sure import certainty_of
from steelyard.notebook.stack import Sentence
from steelyard.records.recommendation import Recommendation
from steelyard.show import Shown

SETTLING = "to settle it"


@dataclass(frozen=True, slots=True, eq=False)
class WhatWould(Shown):
    """What is written in the recommendation, and what the numbers say."""

    title: str
    rows: tuple[tuple[str, str], ...]

    def _title(self) -> str:
        return self.title

    def _rows(self) -> list[tuple[str, str]]:
        return list(self.rows)


def what_would(
    answer: Answer, recommendation: Recommendation | None = None
) -> WhatWould | Sentence:
    """Rows for one answer."""
    certainty = certainty_of(answer, recommendation)
    if certainty is None:
        return Sentence(f"Any study that can be pooled: there is none yet ({answer.why_not}).")
    found = would_change(answer.weighing, certainty)
    rows = list(found._rows())
    if recommendation is not None and recommendation.would_change:
        rows.insert(0, ("in a person's words", recommendation.would_change))
    if answer.invented:
        rows.append(("data", INVENTED_DATA))
    return WhatWould(found._title(), tuple(rows))


def settling_words(answer: Answer, recommendation: Recommendation | None = None) -> str:
    """How many more people would settle it, as a sentence; empty where that cannot be said."""
    found = what_would(answer, recommendation)
    told = dict(found.rows).get(SETTLING, "") if isinstance(found, WhatWould) else ""
    if told.startswith(NO_MORE_STUDIES):
        return f"{told[:1].upper()}{told[1:]}."
    return f"To settle it: {told}." if told else ""
