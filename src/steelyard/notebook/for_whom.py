"""For whom an answer holds: how near its studies are to a person."""

from __future__ import annotations

from steelyard.explaining.page_caution import INVENTED_DATA
from steelyard.judging.certainty.wording import share_text
from steelyard.judging.directness import Directness, directness
from steelyard.judging.person import Person
from steelyard.judging.pictures_nearness import (
    WHAT_IS_ASKED,
    asked_in_words,
    near_alone,
    nearness_data,
)
from steelyard.notebook.answer import Answer
from steelyard.notebook.drawn import Drawn
from steelyard.records.recommendation import Recommendation
from steelyard.show import Table

RESPECTS = ("respect", "asked about", "weight that matches")


def nearness(
    answer: Answer,
    recommendation: Recommendation | None = None,
    *,
    person: Person | None = None,
) -> Directness:
    """Shares of an answer's weight like the person.

    Parameters
    ----------
    answer : Answer
        With a weighing.
    recommendation : Recommendation, optional
        Whose parts of the body are asked about too.
    person : Person, optional
        The one the question describes, if none is given.
    """
    sites = recommendation.sites if recommendation else ()
    return directness(answer.weighing, answer.library.studies, person=person, sites=sites)


def nearness_words(answer: Answer, near: Directness) -> str:
    """How much is near, and what the near studies say alone."""
    return " ".join(filter(None, (near.sentence, near_alone(near, answer.weighing))))


def nearness_picture(answer: Answer, near: Directness) -> Drawn:
    """A bar per respect."""
    return Drawn(nearness_data(near, answer.weighing), "nearness_plot")


def nearness_table(answer: Answer, near: Directness) -> Table:
    """A row per respect."""
    asked = asked_in_words(near.person)
    rows = tuple(
        (respect, asked.get(respect, WHAT_IS_ASKED), share_text(share))
        for respect, share in near.shares.items()
    )
    notes = [nearness_words(answer, near)]
    if answer.invented:
        notes.append(INVENTED_DATA)
    return Table("How near the people and measures are", RESPECTS, rows, tuple(notes))
