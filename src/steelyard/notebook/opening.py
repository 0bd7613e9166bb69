"""Opening a page of evidence from a cell, in whichever library is in use."""

from __future__ import annotations

import os

from steelyard.library import Library, open_library
from steelyard.notebook import standings
from steelyard.notebook.drawn import Drawn
from steelyard.notebook.overview import Overview
from steelyard.notebook.page import QuestionPage, RecommendationPage
from steelyard.notebook.plain_errors import tell_plainly

LIBRARY_VARIABLE = "STEELYARD_LIBRARY"


def library_in_use() -> Library:
    """The library named by the environment variable STEELYARD_LIBRARY, else the shipped one.

    It is read anew each time, so that a cell run again shows a record as it now is.
    """
    tell_plainly()
    return open_library(os.environ.get(LIBRARY_VARIABLE) or None)


def recommendation(recommendation_id: str) -> RecommendationPage:
    """The page of one recommendation.

    Raises
    ------
    UsageError
        If the library has none by that id; names the nearest.
    """
    return RecommendationPage.of(library_in_use(), recommendation_id)


def question(question_id: str) -> QuestionPage:
    """The page of one question that no recommendation need rest on.

    Raises
    ------
    UsageError
        If the library has none by that id; names the nearest.
    """
    return QuestionPage.of(library_in_use(), question_id)


def overview() -> Overview:
    """Every recommendation of the library with the answers it rests on."""
    return Overview(library_in_use())


def at_a_glance() -> Drawn:
    """All recommendations in one picture."""
    return standings.at_a_glance(library_in_use())


def told_and_now():
    """What clients were told, and what holds now."""
    return standings.told_and_now(library_in_use())


def to_read_again():
    """What is due for reading again today."""
    return standings.to_read_again(library_in_use())


def to_mind():
    """What weakens the answers."""
    return standings.to_mind(library_in_use())
