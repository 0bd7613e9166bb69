"""What an explanation rests on: a recommendation, its weighings, and how sure they are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from steelyard.errors import DesignError, EmptyQuestionError
from steelyard.judging.certainty import Certainty
from steelyard.judging.person import Person
from steelyard.pooling.weighing import Weighing
from steelyard.records.question import COUNT_METRICS, Question
from steelyard.records.recommendation import Recommendation
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """One question under a recommendation, answered as far as it can be.

    Attributes
    ----------
    question : Question
    weighing : Weighing or None
        None where nothing could be pooled.
    why_not : str
        The reason, where there is none.
    certainty : Certainty or None
    studies : mapping of str to Study
        Every study of the library.
    vocabulary : Vocabulary
    """

    question: Question
    weighing: Weighing | None
    why_not: str
    certainty: Certainty | None
    studies: Mapping[str, Study]
    vocabulary: Vocabulary

    @property
    def lower_is_better(self) -> bool:
        """Whether every outcome pooled is better when lower."""
        return set(self.weighing.effects.loc[self.weighing.effects["used"], "better"]) == {"lower"}

    @property
    def counts(self) -> bool:
        """Whether people with an event are counted."""
        return self.question.metric in COUNT_METRICS

    @property
    def used_studies(self) -> tuple[Study, ...]:
        """The studies pooled, in the order of the weighing."""
        table = self.weighing.studies
        return tuple(self.studies[study] for study in table.loc[table["used"], "study"])

    @property
    def weeks(self) -> tuple[float, float, float]:
        """Shortest, middle and longest time at which effects were taken."""
        used = self.weighing.effects[self.weighing.effects["used"]]
        weeks = used.groupby("study")["week"].max()
        return float(weeks.min()), float(weeks.median()), float(weeks.max())

    @property
    def randomised_share(self) -> float:
        """Share of weight from studies that formed their groups by chance."""
        table = self.weighing.studies[self.weighing.studies["used"]]
        by_chance = [bool(self.studies[study].design.randomised) for study in table["study"]]
        return float(table.loc[by_chance, "weight"].sum())

    @property
    def surrogate(self) -> bool:
        """Whether all that was measured only stands in for what is asked."""
        return self.certainty is not None and self.certainty.directness.surrogate >= 1 - 1e-9


def evidence_of(
    library: Any, recommendation_id: str, *, person: Person | None = None
) -> tuple[Recommendation, tuple[Evidence, ...]]:
    """A recommendation of a library with the evidence under each of its questions.

    Parameters
    ----------
    library : Library
        Anything with its ``records``, ``weigh``, ``certainty``, ``studies`` and ``vocabulary``.
    recommendation_id : str
    person : Person, optional
        Whom certainty is judged for; the one each question describes, if none is given.

    Raises
    ------
    UsageError
        If the library has no such recommendation, or not the question it rests on.
    """
    record = library.records.find("recommendation", recommendation_id)
    return record, tuple(
        answered(library, question_id, record=record, person=person)
        for question_id in record.questions
    )


def answered(
    library: Any, question_id: str, *, record: Recommendation | None, person: Person | None = None
) -> Evidence:
    """One question answered as far as it can be, as a recommendation has it if one is given."""
    question = library.records.find("question", question_id)
    common = {"studies": library.studies, "vocabulary": library.vocabulary}
    try:
        weighing = library.weigh(question_id)
    except (EmptyQuestionError, DesignError) as nothing:
        return Evidence(question, None, str(nothing), None, **common)
    certainty = library.certainty(question_id, person, recommendation=record)
    return Evidence(question, weighing, "", certainty, **common)
