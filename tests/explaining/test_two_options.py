"""A or B: two kinds of either, said differently."""

from __future__ import annotations

from itertools import product

import pytest

from steelyard import open_library
from steelyard.errors import UsageError
from steelyard.explaining.two_options import option_kind, option_sentence, two_options
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.explaining.wording.lint import LONGEST_SENTENCE, words_to_avoid
from steelyard.explaining.wording.reading_grade import reading_grade
from tests.explaining.test_wording_grid import CERTAINTIES, INTERVALS, ZONES, cell


@pytest.fixture(scope="module")
def library():
    return open_library()


def test_the_three_of_the_shipped_library(library):
    settled, same, unsettled = (
        two_options(library, name)
        for name in ("add-slow-lowering", "rest-between-sets", "one-leg-work")
    )
    assert (settled.kind, same.kind, unsettled.kind) == ("a", "same", "open")
    assert "is probably the better choice" in settled.choice
    for either in (same.choice, unsettled.choice):
        assert either.startswith("Either") and "Choose what you will stick to" in either
    assert "ruled out" in same.choice and "not settled" not in same.choice
    assert "not settled" in unsettled.choice and "ruled out" not in unsettled.choice
    for found in (settled, same, unsettled):
        names = [name for name, _ in found.rows]
        for row in ("difference", "worth having", "how sure", "cost", "Cautions"):
            assert row in names


@pytest.mark.parametrize("tag", ["en", "de"])
def test_over_the_grid(tag):
    words = catalogue(tag)
    for certainty, (low, high), zone in product(CERTAINTIES, INTERVALS, ZONES):
        claim = cell(certainty, low, high, zone)
        kind = option_kind(claim)
        text = option_sentence(claim, kind, words)
        assert "{" not in text
        assert not words_to_avoid(text, words)
        assert reading_grade(text).longest <= LONGEST_SENTENCE, text
        if certainty == "very low":
            assert kind in ("open", "unknown")
        if kind in ("a", "b"):
            assert (low if kind == "a" else -high) >= zone
        if kind == "same":
            assert -zone < low and high < zone
        if tag == "en" and low <= 0 <= high and kind != "same":
            assert text.startswith("Either")


def test_a_preference_is_laid_beside_it(library):
    found = str(two_options(library, "add-slow-lowering", prefers="b"))
    assert "You prefer usual lifting." in found
    assert "a plan that is kept" in found
    with pytest.raises(UsageError, match="prefers must be a or b"):
        two_options(library, "add-slow-lowering", prefers="c")


def test_a_dose_has_no_two_options(library):
    with pytest.raises(UsageError, match="does not set two options"):
        two_options(library, "weekly-sets-thigh")


def test_a_choice_is_easy_to_read(library):
    names = ("add-slow-lowering", "rest-between-sets", "one-leg-work", "hamstring-strain-caution")
    for name in names:
        found = two_options(library, name, prefers="b")
        assert reading_grade(found.choice).grade <= 8, name
        (difference,) = [text for row, text in found.rows if row == "difference"]
        assert "((" not in difference and "))" not in difference


def test_in_german_too(library):
    with pytest.raises(UsageError, match="nicht zwei Wege"):
        two_options(library, "weekly-sets-thigh", language="de")
    found = two_options(library, "rest-between-sets", language="de")
    assert dict(found.rows)["Unterschied"].count("; in Prozent: −0,1 %") == 1
