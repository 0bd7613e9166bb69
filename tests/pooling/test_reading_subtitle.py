"""The line above a study's chart counts what the findings count, and no stand-in."""

from __future__ import annotations

import pandas as pd
import pytest

from steelyard.effects.table import EffectTable
from steelyard.pooling.reading_data import _in_short


def table(*flags: str) -> EffectTable:
    """Invented: each effect 0.9, its standard error 0.1."""
    rows = [{"effect": 0.9, "variance": 0.01, "df": 38.0, "flags": flag} for flag in flags]
    return EffectTable(pd.DataFrame(rows, columns=["effect", "variance", "df", "flags"]), ())


@pytest.mark.parametrize("flag", ["surrogate", "assumed r; surrogate"])
def test_a_surrogate_is_drawn_but_not_counted(flag):
    said = _in_short(table("", "assumed r", flag), 0.2)
    assert said.startswith("2 of 2 effects lean towards the intervention; 2 of them")
    assert "(1 stand-in drawn, not counted)" in said


def test_without_one_nothing_is_said_of_it():
    assert "stand-in" not in _in_short(table("", "assumed r"), None)


def test_surrogates_alone_count_as_none():
    assert "none is counted" in _in_short(table("surrogate"), 0.2)
    assert "No effect" in _in_short(table(), 0.2)
