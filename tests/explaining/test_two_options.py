"""A or B: two kinds of either, said differently."""

from __future__ import annotations

import shutil
from itertools import product

import pytest

from steelyard import open_library
from steelyard.errors import UsageError
from steelyard.explaining.two_options import option_kind, option_sentence, two_options
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.explaining.wording.lint import LONGEST_SENTENCE, words_to_avoid
from steelyard.explaining.wording.reading_grade import reading_grade
from steelyard.library import shipped_library
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
    assert "speak against" in same.choice and "not settled" not in same.choice
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
        ruled_out = {"en": "ruled out", "de": "ausgeschlossen"}[tag]
        assert (ruled_out in text) == (kind == "same" and certainty == "high")
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


@pytest.mark.parametrize("name", ["rest-between-sets", "one-leg-work"])
def test_a_preference_decides_where_the_studies_do_not(library, name):
    for prefers, other in (("a", "b"), ("b", "a")):
        found = two_options(library, name, prefers=prefers)
        names = dict(zip("ab", found.title.rstrip("?").lower().split(" or "), strict=True))
        assert f"You prefer {names[prefers]}: take that." in found.choice
        assert names[other] not in found.choice
        assert "Choose what you will stick to" not in found.choice
        german = two_options(library, name, prefers=prefers, language="de").choice
        assert "Ihre Vorliebe entscheidet:" in german
    assert two_options(library, "add-slow-lowering", prefers="b").choice == (
        two_options(library, "add-slow-lowering").choice
    )


@pytest.mark.parametrize(("tag", "said"), [("en", "names no dose"), ("de", "warnt nur")])
def test_what_only_cautions_is_no_choice(library, tag, said):
    with pytest.raises(UsageError, match=said):
        two_options(library, "hamstring-strain-caution", language=tag)


def test_people_counted_may_be_a_choice(tmp_path):
    shutil.copytree(shipped_library(), tmp_path / "library")
    record = tmp_path / "library" / "recommendations" / "hamstring-strain-caution.toml"
    text = record.read_text(encoding="utf-8")
    record.write_text(text.replace("[told]", "[dose]\nreps = [6, 8]\n\n[told]"), encoding="utf-8")
    found = two_options(open_library(tmp_path / "library"), "hamstring-strain-caution", prefers="a")
    assert " in 100, against " in dict(found.rows)["difference"]
    assert found.choice.endswith("take that.") or "take that. Look again" in found.choice


def test_a_dose_has_no_two_options(library):
    with pytest.raises(UsageError, match="does not set two options"):
        two_options(library, "weekly-sets-thigh")


def test_a_choice_is_easy_to_read(library):
    names = ("add-slow-lowering", "rest-between-sets", "one-leg-work")
    for name, prefers in product(names, (None, "a", "b")):
        found = two_options(library, name, prefers=prefers)
        assert reading_grade(found.choice).grade <= 8, name
        (difference,) = [text for row, text in found.rows if row == "difference"]
        assert "((" not in difference and "))" not in difference


def test_in_german_too(library):
    with pytest.raises(UsageError, match="nicht zwei Wege"):
        two_options(library, "weekly-sets-thigh", language="de")
    found = two_options(library, "rest-between-sets", language="de")
    assert dict(found.rows)["Unterschied"].count("; in Prozent: −0,1 %") == 1
