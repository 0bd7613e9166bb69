"""Weigh a question: each method answers one thing a coach asks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from steelyard.errors import DesignError, SteelyardError
from steelyard.judging.integrity import suspect_results
from steelyard.library import Library
from steelyard.notebook.answer import Answer, answer_to
from steelyard.notebook.drawn import Drawn
from steelyard.notebook.for_whom import for_whom
from steelyard.notebook.how_sure import certainty_of, concern_picture, how_sure
from steelyard.notebook.plots import Plot
from steelyard.notebook.stack import Sentence
from steelyard.notebook.told import Told, nothing
from steelyard.notebook.what_would import what_would
from steelyard.pooling.answer import answer_sentence, evidence_sentence, next_study_sentence
from steelyard.pooling.belief import belief, belief_data
from steelyard.pooling.careless import careless
from steelyard.pooling.choices_words import choices_data
from steelyard.pooling.count_pool import count_pool
from steelyard.pooling.dose_answer import dose_answer
from steelyard.pooling.dose_data import dose_data
from steelyard.pooling.every_choice import every_choice
from steelyard.pooling.lenses import lenses
from steelyard.pooling.moderators import moderate
from steelyard.pooling.small_studies import funnel_data, small_studies
from steelyard.pooling.turns import turns, turns_data
from steelyard.records.question import COUNT_METRICS

if TYPE_CHECKING:
    from steelyard.pooling.weighing import Weighing

NO_DOSE = (
    "this question compares two things and not amounts of one, so it has no dose; a question with "
    "dose = … has"
)


@dataclass(frozen=True, slots=True, repr=False)
class WeighPage:
    """One question, answered in the order in which a coach asks."""

    answer: Answer

    @classmethod
    def of(cls, library: Library, question_id: str | None = None) -> WeighPage | Sentence:
        """The page of one question, or of the one with the most studies."""
        if question_id is None:
            if not library.questions:
                return Sentence("This library has no question yet.")
            question_id = max(library.questions, key=lambda each: _studies(library, each))
        return cls(answer_to(library, question_id))

    @property
    def weighing(self) -> Weighing | None:
        return self.answer.weighing

    def how_big(self) -> Told:
        """How big is the effect?"""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        found = belief(self.weighing)
        sentence = (
            f"{answer_sentence(self.weighing)} {next_study_sentence(self.weighing)} "
            f"{found.sentence}"
        )
        pictures = (Plot(self.answer), Drawn(belief_data(found), "belief_plot"))
        return Told(sentence, pictures, (self.weighing, found, *self._counts()))

    def _counts(self) -> tuple:
        if self.answer.question.metric not in COUNT_METRICS:
            return ()
        try:
            return (count_pool(self.weighing, self.answer.library.studies),)
        except DesignError as refused:
            return (Sentence(f"Not pooled as counts: {refused}."),)

    def how_sure(self) -> Told:
        """How sure is that?"""
        certainty = certainty_of(self.answer)
        if certainty is None:
            return nothing(self.answer.why_not)
        sentence = f"{certainty.word.capitalize()} certainty. {evidence_sentence(self.weighing)}"
        return Told(sentence, (concern_picture(self.answer),), (how_sure(self.answer),))

    def for_whom(self, *moderators: str) -> Told:
        """For whom does it hold? Name moderators, such as ``"age_mean"``, to look for more."""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        sentences, tables = [], [for_whom(self.answer)]
        for name in moderators or ("duration_weeks",):
            try:
                found = moderate(self.weighing, self.answer.library.studies, [name])
                sentences.append(found.sentence)
                tables.append(found)
            except DesignError as refused:
                words = name.replace("_", " ")
                sentences.append(f"Whether it differs with {words} cannot be told: {refused}.")
        return Told(" ".join(sentences), (), tuple(tables))

    def how_much(self) -> Told:
        """How much of it?"""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        if self.answer.question.dose is None:
            return nothing(NO_DOSE)
        try:
            found = dose_answer(self.weighing, self.answer.library.studies.values())
        except DesignError as refused:
            return nothing(str(refused))
        return Told(found.sentence, (Drawn(dose_data(found), "dose_plot"),), (found,))

    def turns_on(self) -> Told:
        """Does it turn on one study or one assumption?"""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        sentences, pictures, tables = [], [], []
        library = self.answer.library
        suspects = suspect_results(library.integrity)
        try:
            single = turns(self.weighing)
            sentences.append(single.sentence)
            pictures.append(Drawn(turns_data(single), "turns_plot"))
            tables.append(single)
            every = every_choice(
                self.weighing,
                library.studies.values(),
                vocabulary=library.vocabulary,
                suspects=suspects,
            )
            sentences.append(every.sentence)
            pictures.append(Drawn(choices_data(every), "choices_plot"))
            tables.append(every)
            tables.append(
                lenses(
                    self.weighing,
                    library.studies,
                    vocabulary=library.vocabulary,
                    suspects=suspects,
                )
            )
        except SteelyardError as refused:
            sentences.append(f"{str(refused)[:1].upper()}{str(refused)[1:]}.")
        return Told(" ".join(sentences), tuple(pictures), tuple(tables))

    def missing(self) -> Told:
        """What is missing?"""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        found = small_studies(self.weighing)
        pictures = (Drawn(funnel_data(found), "funnel_plot"),)
        return Told(found.sentence, pictures, (found, what_would(self.answer)))

    def careless(self) -> Told:
        """What would a careless reading have said?"""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        library = self.answer.library
        found = careless(
            self.weighing,
            library.studies,
            vocabulary=library.vocabulary,
            suspects=suspect_results(library.integrity),
        )
        return Told(found.sentence, (), (found,))

    def __repr__(self) -> str:
        return self.answer.question.asks

    def _repr_html_(self) -> str:
        return Sentence(self.answer.question.asks)._repr_html_()


def _studies(library: Library, question_id: str) -> int:
    return library.effect_table(question_id).rows["study"].nunique()


def weigh(question_id: str | None = None) -> WeighPage | Sentence:
    """The page of one question; of the one with the most studies if none is named.

    Raises
    ------
    UsageError
        If the library has none by that id; names the nearest.
    """
    from steelyard.notebook.opening import library_in_use

    return WeighPage.of(library_in_use(), question_id)


def weigh_a_dose() -> WeighPage | NoDose:
    """The page of the library's first question that asks how much."""
    from steelyard.notebook.opening import library_in_use

    library = library_in_use()
    asked = next((each for each, q in library.questions.items() if q.dose is not None), None)
    return WeighPage.of(library, asked) if asked else NoDose()


class NoDose:
    """Stands where a library asks nothing of dose."""

    def how_much(self) -> Told:
        return nothing("no question of this library asks how much")
