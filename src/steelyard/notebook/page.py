"""A page of evidence: each method is one cell of a notebook."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from steelyard.library import Library
from steelyard.notebook.answer import Answer, answer_to
from steelyard.notebook.asked import Asked
from steelyard.notebook.drawn import Gallery
from steelyard.notebook.fit import PICTURES_FIT
from steelyard.notebook.plots import Plot, Plots
from steelyard.notebook.routes import routes
from steelyard.notebook.says import InShort, Says
from steelyard.notebook.stack import Sentence, Stack
from steelyard.notebook.standing import Cautions, cautions
from steelyard.notebook.studies import studies_table
from steelyard.notebook.through_time import history_picture
from steelyard.notebook.told import Several, Told
from steelyard.notebook.weigh import WeighPage
from steelyard.notebook.what_would import what_would
from steelyard.records.recommendation import Recommendation


class EvidencePage:
    """What both kinds of page show of the questions they hold."""

    __slots__ = ()

    answers: tuple[Answer, ...]

    def in_short(self) -> InShort:
        """The first lines of the page."""
        raise TypeError(f"{type(self).__name__} has no first lines")

    def asked(self) -> Stack:
        """What is asked, and the smallest effect worth having with its source."""
        return Stack(tuple(Asked(answer) for answer in self.answers))

    def studies(self) -> Stack:
        """The studies: people, training, what was measured and where it stands."""
        return Stack(tuple(studies_table(answer) for answer in self.answers))

    def forest(self) -> Plots:
        """A forest plot per question."""
        return Plots(tuple(Plot(answer) for answer in self.answers))

    def weighing(self) -> Stack:
        """The weighing of each question."""
        return Stack(
            tuple(
                answer.weighing or Sentence(f"Nothing could be pooled: {answer.why_not}.")
                for answer in self.answers
            )
        )

    def how_big(self) -> Told | Several:
        """How big is the effect?"""
        return self._each(lambda page: page.how_big())

    def how_sure(self) -> Told | Several:
        """How sure is that? Every domain's facts, rule and step, and what would tip it."""
        return self._each(lambda page: page.how_sure())

    def for_whom(self, *moderators: str, **who) -> Told | Several:
        """For whom does it hold?

        Parameters
        ----------
        *moderators : str
            What to look for besides, such as ``"age_mean"``.
        **who
            Another person than the question describes, for example ``age=61,
            training_status="trained"``.
        """
        return self._each(lambda page: page.for_whom(*moderators, **who))

    def how_much(self) -> Told | Several:
        """How much of it, and is that what was tested?"""
        return self._each(lambda page: page.how_much())

    def turns_on(self) -> Told | Several:
        """Does it turn on one study or one assumption?"""
        return self._each(lambda page: page.turns_on())

    def missing(self) -> Told | Several:
        """What is missing?"""
        return self._each(lambda page: page.missing())

    def _each(self, ask: Callable[[WeighPage], Told]) -> Told | Several:
        """What each question's page says; under the question's name where there are several."""
        told = [ask(WeighPage(answer, self._record())) for answer in self.answers]
        if len(told) == 1:
            return told[0]
        return Several(
            tuple(
                replace(part, about=answer.question.asks)
                for part, answer in zip(told, self.answers, strict=True)
            )
        )

    def history(self) -> Gallery:
        """Each answer through time, with what clients were told."""
        return Gallery(tuple(history_picture(answer, self._record()) for answer in self.answers))

    def would_change(self) -> Stack:
        """What would change our mind about each answer."""
        return Stack(tuple(what_would(answer, self._record()) for answer in self.answers))

    def _record(self) -> Recommendation | None:
        return None

    def rests_on(self) -> Stack:
        """From printed numbers to effects, what was assumed, what was left out and why."""
        return Stack(tuple(routes(answer) for answer in self.answers))

    def __repr__(self) -> str:
        return str(self.in_short())

    def _repr_html_(self) -> str:
        return PICTURES_FIT + self.in_short()._repr_html_()


@dataclass(frozen=True, slots=True, repr=False)
class RecommendationPage(EvidencePage):
    """The page of a recommendation.

    Attributes
    ----------
    recommendation : Recommendation
    answers : tuple of Answer
        One per question it rests on.
    """

    recommendation: Recommendation
    answers: tuple[Answer, ...]

    @classmethod
    def of(cls, library: Library, recommendation_id: str) -> RecommendationPage:
        """The page of one recommendation of a library."""
        record = library.records.find("recommendation", recommendation_id)
        return cls(record, tuple(answer_to(library, each) for each in record.questions))

    @property
    def invented(self) -> bool:
        return self.recommendation.invented or any(answer.invented for answer in self.answers)

    def _record(self) -> Recommendation:
        return self.recommendation

    def in_short(self) -> InShort:
        """The statement, the answers it rests on and the strength of advice."""
        record = self.recommendation
        return InShort(record.statement, self.answers, self.invented, record)

    def says(self) -> Says:
        """The recommendation with dose, for whom, cost, risk, alternatives and cautions."""
        return Says(self.recommendation, self.answers)


@dataclass(frozen=True, slots=True, repr=False)
class QuestionPage(EvidencePage):
    """The page of a question on which no recommendation rests yet."""

    answers: tuple[Answer, ...]

    @classmethod
    def of(cls, library: Library, question_id: str) -> QuestionPage:
        """The page of one question of a library."""
        return cls((answer_to(library, question_id),))

    @property
    def invented(self) -> bool:
        return any(answer.invented for answer in self.answers)

    def in_short(self) -> InShort:
        """The question and its answer."""
        return InShort(self.answers[0].question.asks, self.answers, self.invented)

    def says(self) -> Cautions:
        """No recommendation rests on it: only the cautions."""
        return cautions()
