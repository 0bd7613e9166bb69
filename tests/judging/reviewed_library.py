"""A small library with one recommendation, told by the program itself."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from steelyard import open_library
from steelyard.judging.mark import mark_reviewed
from steelyard.judging.told import told_of
from steelyard.library import Library
from tests.small_library import comparison, question, study

VALUES = {"ash": 0.45, "birch": 0.5, "cedar": 0.55, "elder": 0.5}
RECOMMENDATION = """# Invented; kept as it is by every review.
id = "lower"
statement = "Lower slowly."
questions = ["asked"]      # one is enough
{more}
"""
MARKED = dt.date(2024, 6, 1)


def effect(value: float, *, se: float = 0.1) -> str:
    """One comparison in SD units."""
    return comparison(standardised=f"{{ value = {value}, se = {se}, over = 'pre-sd' }}")


def recommendation(folder: Path, name: str = "lower", more: str = "") -> Path:
    """Write one recommendation, not yet told."""
    path = folder / "recommendations" / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    text = RECOMMENDATION.format(more=more).replace('"lower"', f'"{name}"')
    path.write_text(text, encoding="utf-8")
    return path


def tell(folder: Path, name: str = "lower", *, on: dt.date = MARKED) -> Library:
    """Mark a recommendation as reviewed with the numbers of now."""
    answers = open_library(folder).review().review(name).answers
    told = {each.question: told_of(each.now) for each in answers if each.now is not None}
    mark_reviewed(folder, name, by="T. Fell", note="read in full", told=told, today=on)
    return open_library(folder)


def told_library(folder: Path) -> Path:
    """Four studies, a question and a recommendation told from them."""
    for name, value in VALUES.items():
        study(folder, name, effect(value))
    question(folder, more="smallest_worthwhile = 0.14")
    recommendation(folder)
    tell(folder)
    return folder
