"""The answer through time, with what clients were told."""

from __future__ import annotations

from steelyard.judging.history import history
from steelyard.judging.pictures_history import history_data
from steelyard.notebook.answer import Answer
from steelyard.notebook.drawn import Drawn
from steelyard.records.recommendation import Recommendation


def history_picture(answer: Answer, recommendation: Recommendation | None = None) -> Drawn:
    """The cumulative answer by year; certainty as the recommendation has it."""
    if answer.weighing is None:
        return Drawn(None, "history_plot", f"{answer.why_not}.")
    library = answer.library
    found = history(
        answer.question,
        library,
        recommendations=() if recommendation is None else (recommendation,),
        overrides=() if recommendation is None else recommendation.overrides,
        rules=library.rules,
    )
    data = history_data(found)
    if not len(data.years):
        return Drawn(None, "history_plot", data.subtitle)
    return Drawn(data, "history_plot")
