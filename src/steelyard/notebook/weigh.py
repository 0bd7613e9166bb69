"""Weigh a question: each method answers one thing a coach asks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from steelyard.effects.paired_check import paired_table
from steelyard.errors import DesignError, SteelyardError
from steelyard.judging.integrity import suspects_of
from steelyard.judging.person import person
from steelyard.library import Library
from steelyard.notebook.answer import Answer, answer_to
from steelyard.notebook.client_units import in_client_units, next_in_client_units
from steelyard.notebook.designs import design_table, design_words, holds_pairs
from steelyard.notebook.drawn import Drawn
from steelyard.notebook.fit import PICTURES_FIT
from steelyard.notebook.for_whom import nearness, nearness_picture, nearness_table, nearness_words
from steelyard.notebook.how_much import how_much
from steelyard.notebook.how_sure import (
    certainty_of,
    certainty_table,
    concern_picture,
    how_sure_words,
    tipping_table,
)
from steelyard.notebook.plots import Plot
from steelyard.notebook.stack import Folded, NothingYet, Sentence
from steelyard.notebook.told import Told, lines, nothing
from steelyard.notebook.what_would import settling_words, what_would
from steelyard.pooling.answer import (
    answer_sentence,
    evidence_sentence,
    margin_sentence,
    next_study_sentence,
    sameness_sentence,
)
from steelyard.pooling.belief import belief, belief_data
from steelyard.pooling.bending import bending, bending_data
from steelyard.pooling.careless import careless
from steelyard.pooling.choices_words import choices_data
from steelyard.pooling.count_pool import count_pool
from steelyard.pooling.every_choice import every_choice
from steelyard.pooling.gathering import gathering, gathering_data
from steelyard.pooling.lenses import lenses
from steelyard.pooling.moderator_values import moderator_words
from steelyard.pooling.moderators import moderate
from steelyard.pooling.prior_lines import prior_lines, priors_data
from steelyard.pooling.settling import could_settle
from steelyard.pooling.small_studies import funnel_data, small_studies
from steelyard.pooling.turns import FEWEST_STUDIES, turns, turns_data
from steelyard.records.question import COUNT_METRICS
from steelyard.records.recommendation import Recommendation

if TYPE_CHECKING:
    from steelyard.pooling.weighing import Weighing


@dataclass(frozen=True, slots=True, repr=False)
class WeighPage:
    """One question, answered in the order in which a coach asks.

    Attributes
    ----------
    answer : Answer
    recommendation : Recommendation or None
        Which rests on it: its dose, its parts of the body and its overrulings count.
    """

    answer: Answer
    recommendation: Recommendation | None = None

    @classmethod
    def of(cls, library: Library, question_id: str | None = None) -> WeighPage | Sentence:
        """The page of one question, or of the one with the most studies."""
        if question_id is None:
            if not library.questions:
                return NothingYet("This library has no question yet.")
            question_id = max(library.questions, key=lambda each: _studies(library, each))
        return cls(answer_to(library, question_id))

    @property
    def weighing(self) -> Weighing | None:
        return self.answer.weighing

    def how_big(self) -> Told:
        """How big is the effect?"""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        words = (
            margin_sentence(self.weighing),
            in_client_units(self.answer),
            answer_sentence(self.weighing),
            sameness_sentence(self.weighing),
            next_study_sentence(self.weighing),
            next_in_client_units(self.answer),
        )
        tables = (Folded("The weighing in numbers", self.weighing), *self._counts())
        return Told(lines(*words), (Plot(self.answer),), tables)

    def _counts(self) -> tuple:
        if self.answer.question.metric not in COUNT_METRICS:
            return ()
        try:
            found = count_pool(self.weighing, self.answer.library.studies)
            return (Folded("Pooled as counts", found),)
        except DesignError as refused:
            return (Sentence(f"Not pooled as counts: {refused}."),)

    def how_sure(self) -> Told:
        """How sure is that?"""
        certainty = certainty_of(self.answer, self.recommendation)
        if certainty is None:
            return nothing(self.answer.why_not)
        believed = belief(self.weighing)
        words = (
            how_sure_words(certainty),
            believed.sentence,
            evidence_sentence(self.weighing),
            design_words(self.answer),
        )
        tables = [certainty_table(self.answer, certainty)]
        tipping = tipping_table(certainty)
        tables.append(
            tipping
            if isinstance(tipping, Sentence)
            else Folded("How far each step is from changing", tipping)
        )
        designs = design_table(self.answer)
        if designs is not None:
            tables.append(Folded("What the designs do to the answer", designs))
        if holds_pairs(self.answer):
            words_of_pairs = (
                "The same people under both: the standard error, and the usual wrong one"
            )
            tables.append(Folded(words_of_pairs, paired_table()))
        tables.append(Folded("What to believe, under several priors", believed))
        priors = prior_lines(self.weighing)
        tables.append(Folded("The chance under every prior tried, as a table", priors))
        pictures = (
            concern_picture(self.answer),
            Drawn(belief_data(believed), "belief_plot"),
            Drawn(priors_data(priors), "priors_plot"),
        )
        return Told(lines(*words), pictures, tuple(tables))

    def for_whom(self, *moderators: str, **who) -> Told:
        """For whom does it hold?

        Parameters
        ----------
        *moderators : str
            What to look for besides, such as ``"age_mean"``.
        **who
            Another person than the question describes, for example ``age=61,
            training_status="trained"``.
        """
        if self.weighing is None:
            return nothing(self.answer.why_not)
        asked = person(**who) if who else None
        near = nearness(self.answer, self.recommendation, person=asked)
        sentences = [nearness_words(self.answer, near)]
        table = nearness_table(self.answer, near)
        tables = [Folded("How near the people and measures are, as a table", table)]
        for name in moderators or ("duration_weeks",):
            try:
                found = moderate(self.weighing, self.answer.library.studies, [name])
                sentences.append(found.sentence)
                words = found.moderators[0].words
                tables.append(Folded(f"Whether it differs with {words}, in numbers", found))
            except DesignError as refused:
                words = moderator_words(name)
                sentences.append(f"Whether it differs with {words} cannot be told: {refused}.")
        picture = nearness_picture(self.answer, near)
        return Told(lines(*sentences), (picture,), tuple(tables))

    def how_much(self) -> Told:
        """How much of it?"""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        return how_much(self.answer, self.recommendation)

    def turns_on(self) -> Told:
        """Does it turn on one study or one assumption?"""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        looks = (self._one_study, self._one_choice, self._bends, self._gathers, self._lenses)
        told = [self._tried(look) for look in looks]
        return Told(
            lines(*(part.sentence for part in told)),
            tuple(picture for part in told for picture in part.pictures),
            tuple(table for part in told for table in part.tables),
        )

    def _tried(self, look) -> Told:
        try:
            return look()
        except SteelyardError as refused:
            return nothing(str(refused))

    def _one_study(self) -> Told:
        found = turns(self.weighing)
        table = Folded("The answer without each study", found)
        return Told(found.sentence, (Drawn(turns_data(found), "turns_plot"),), (table,))

    def _one_choice(self) -> Told:
        library = self.answer.library
        found = every_choice(
            self.weighing,
            library.studies.values(),
            vocabulary=library.vocabulary,
            suspects=self._suspects(),
        )
        table = Folded("Every way to weigh it, in numbers", found)
        return Told(found.sentence, (Drawn(choices_data(found), "choices_plot"),), (table,))

    def _bends(self) -> Told:
        if self.weighing.k_studies < FEWEST_STUDIES:
            return Told("")
        found = bending(self.weighing)
        table = Folded("How much each study bends the answer, in numbers", found)
        return Told(found.sentence, (Drawn(bending_data(found), "bending_plot"),), (table,))

    def _gathers(self) -> Told:
        if self.weighing.k_studies < FEWEST_STUDIES:
            return Told("")
        found = gathering(self.weighing)
        table = Folded("The answer as studies gather, as a table", found)
        return Told(found.sentence, (Drawn(gathering_data(found), "gathering_plot"),), (table,))

    def _lenses(self) -> Told:
        library = self.answer.library
        found = lenses(
            self.weighing,
            library.studies,
            vocabulary=library.vocabulary,
            suspects=self._suspects(),
        )
        return Told("", (), (Folded("Through other lenses: what was held equal, and more", found),))

    def _suspects(self) -> dict[tuple[str, str], str]:
        library = self.answer.library
        return suspects_of(self.answer.question, (*library.integrity, *library.far_off))

    def missing(self) -> Told:
        """What is missing?"""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        found = small_studies(self.weighing)
        tables = [Folded("What may be missing, in numbers", found)]
        if self.recommendation is None:
            changes = what_would(self.answer)
            tables.append(Folded("What would change our mind", changes))
        settles = could_settle(self.weighing)
        tables.append(Folded("What this many studies could settle, in numbers", settles))
        words = (
            found.sentence,
            settling_words(self.answer, self.recommendation),
            settles.sentence,
        )
        return Told(
            lines(*words),
            (Drawn(funnel_data(found), "funnel_plot"),),
            tuple(tables),
        )

    def careless(self) -> Told:
        """What would a careless reading have said?"""
        if self.weighing is None:
            return nothing(self.answer.why_not)
        library = self.answer.library
        found = careless(
            self.weighing,
            library.studies,
            vocabulary=library.vocabulary,
            suspects=self._suspects(),
        )
        return Told(found.sentence, (), (found,))

    def __repr__(self) -> str:
        return self.answer.question.asks

    def _repr_html_(self) -> str:
        return PICTURES_FIT + Sentence(self.answer.question.asks)._repr_html_()


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
