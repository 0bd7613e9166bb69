"""The recommendation itself, with everything that qualifies it."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.explaining.page_caution import GENERAL_CAUTIONS
from steelyard.judging.certainty.rules import level_of
from steelyard.judging.strength import strength_of_advice
from steelyard.notebook.answer import Answer
from steelyard.notebook.client_units import in_client_units, next_in_client_units
from steelyard.notebook.dose_words import dose_in_words
from steelyard.notebook.how_sure import certainty_of
from steelyard.pooling.answer import answer_sentence, evidence_sentence, next_study_sentence
from steelyard.records.recommendation import Recommendation
from steelyard.show import Shown

NOT_SAID = "not said"


@dataclass(frozen=True, slots=True)
class Says(Shown):
    """What to programme, for whom, on which answers."""

    recommendation: Recommendation
    answers: tuple[Answer, ...]

    def _title(self) -> str:
        return self.recommendation.statement

    def _rows(self) -> list[tuple[str, str]]:
        record = self.recommendation
        rows = [
            ("dose", dose_in_words(record.dose) or NOT_SAID),
            ("for whom", record.for_whom or NOT_SAID),
            ("not for whom", record.not_for_whom or NOT_SAID),
            ("cost", record.cost or NOT_SAID),
            ("risk", record.risk or NOT_SAID),
            ("alternatives", record.alternatives or NOT_SAID),
        ]
        rows += advice_rows(self.answers, record)
        for answer in self.answers:
            rows += answer_rows(answer, record)
        rows.append(("what would change it", record.would_change or NOT_SAID))
        rows.append(("reviewed", _reviewed(record)))
        cautions = dict.fromkeys((*record.cautions, *GENERAL_CAUTIONS))
        rows += [("caution", text) for text in cautions]
        if record.invented or any(answer.invented for answer in self.answers):
            rows.append(("data", "invented, for demonstration"))
        return rows


@dataclass(frozen=True, slots=True)
class InShort(Shown):
    """A page's first lines: the statement or question, and the answers."""

    title: str
    answers: tuple[Answer, ...]
    invented: bool
    recommendation: Recommendation | None = None

    def _title(self) -> str:
        return self.title

    def _rows(self) -> list[tuple[str, str]]:
        rows = []
        for answer in self.answers:
            rows += answer_rows(answer, self.recommendation)
        if self.recommendation is not None:
            rows += advice_rows(self.answers, self.recommendation)
        if self.invented:
            rows.append(("data", "invented, for demonstration"))
        return rows


def answer_rows(
    answer: Answer, recommendation: Recommendation | None = None
) -> list[tuple[str, str]]:
    """The question, its answer, how sure it is, what a further study may show, the evidence."""
    rows = [("question", answer.question.asks)]
    certainty = certainty_of(answer, recommendation)
    if certainty is None:
        return [*rows, ("answer", f"Nothing could be pooled: {answer.why_not}.")]
    said = (in_client_units(answer), answer_sentence(answer.weighing))
    ahead = (next_study_sentence(answer.weighing), next_in_client_units(answer))
    return [
        *rows,
        ("answer", " ".join(filter(None, said))),
        ("certainty", certainty.grounds()),
        ("next study", " ".join(filter(None, ahead))),
        ("evidence", evidence_sentence(answer.weighing)),
    ]


def advice_rows(
    answers: tuple[Answer, ...], recommendation: Recommendation
) -> list[tuple[str, str]]:
    """How strongly to advise, by the first question's size and the least sure answer."""
    known = [certainty_of(answer, recommendation) for answer in answers]
    words = [certainty.word for certainty in known if certainty is not None]
    if not words or answers[0].weighing is None:
        return []
    strength = strength_of_advice(
        answers[0].weighing, min(words, key=level_of), cost=recommendation.cost_size
    )
    return [("strength of advice", strength.sentence)]


def _reviewed(record: Recommendation) -> str:
    if record.reviewed is None:
        return "not yet"
    by = f" by {record.reviewed_by}" if record.reviewed_by else ""
    note = f"; {record.review_note}" if record.review_note else ""
    return f"{record.reviewed.isoformat()}{by}{note}"
