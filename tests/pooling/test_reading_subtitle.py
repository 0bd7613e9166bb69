"""The line above a study's chart counts what the findings count, and no stand-in."""

from __future__ import annotations

import pandas as pd
import pytest

from steelyard.pooling.reading_data import _in_short
from steelyard.pooling.study_reading import NOT_SETTLED, SHOWN


def rows(*kinds: str, effect: float = 0.9, verdict: str = SHOWN) -> pd.DataFrame:
    """Invented: effects that count, stand-ins, and earlier results."""
    made = [
        {
            "effect": effect,
            "verdict": verdict,
            "last": kind != "earlier",
            "counted": kind == "counts",
        }
        for kind in kinds
    ]
    return pd.DataFrame(made)


def test_a_surrogate_is_drawn_but_not_counted():
    said = _in_short(rows("counts", "counts", "surrogate"))
    assert said.startswith("2 of 2 effects lean towards the intervention; 2 of them show")
    assert "(1 stand-in drawn, not counted)" in said


def test_an_earlier_week_is_drawn_but_not_counted():
    said = _in_short(rows("earlier", "earlier", "counts", "surrogate"))
    assert said.startswith("Its one effect leans towards the intervention; it shows one large")
    assert "(1 stand-in and 2 earlier results drawn, not counted)" in said


def test_without_one_nothing_is_said_of_it():
    said = _in_short(rows("counts", "counts", verdict=""))
    assert "stand-in" not in said and "earlier" not in said and "large enough" not in said


def test_surrogates_alone_count_as_none():
    assert "none is counted" in _in_short(rows("surrogate"))


@pytest.mark.parametrize(("effect", "leaning"), [(-0.9, "away from"), (0.9, "towards")])
def test_what_is_worse_for_the_intervention_does_not_lean_towards_it(effect, leaning):
    said = _in_short(rows("counts", effect=effect, verdict=NOT_SETTLED))
    assert said.startswith(f"Its one effect leans {leaning} the intervention; it does not show")


def test_what_is_worse_by_enough_is_not_counted_as_large_enough():
    said = _in_short(rows("counts", "counts", effect=-0.9))
    assert said.startswith("0 of 2 effects lean towards the intervention; 0 of them show")
    assert "it does not show" in _in_short(rows("counts", effect=-0.9))
