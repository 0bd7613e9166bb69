"""One question with its weighing, or with the reason why there is none."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.effects.table import EffectTable
from steelyard.errors import DesignError, EmptyQuestionError
from steelyard.library import Library
from steelyard.pooling.weighing import Weighing
from steelyard.records.question import Question


@dataclass(frozen=True, slots=True)
class Answer:
    """A question of a library and what came of weighing it.

    Attributes
    ----------
    library : Library
    question : Question
    table : EffectTable
        The effects formed, whether or not they could be pooled.
    weighing : Weighing or None
    why_not : str
        Why there is no weighing; empty where there is one.
    """

    library: Library
    question: Question
    table: EffectTable
    weighing: Weighing | None
    why_not: str = ""

    @property
    def invented(self) -> bool:
        """Whether any of the data behind it is invented."""
        if self.weighing is not None:
            return self.weighing.invented
        touched = {*self.table.rows["study"], *(out.study for out in self.table.left_out)}
        studies = self.library.studies
        return self.question.invented or any(studies[study].invented for study in touched)


def answer_to(library: Library, question_id: str) -> Answer:
    """Weigh one question of a library; a question with nothing to pool is an answer too.

    Raises
    ------
    UsageError
        If the library has no such question.
    """
    question = library.records.find("question", question_id)
    table = library.effect_table(question_id)
    try:
        return Answer(library, question, table, library.weigh(question_id))
    except (EmptyQuestionError, DesignError) as nothing:
        return Answer(library, question, table, None, str(nothing))
