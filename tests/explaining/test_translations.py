"""A recommendation's own words in another language: used where there, named where not."""

from __future__ import annotations

import shutil

import pytest

from steelyard import open_library
from steelyard.explaining.explain import explain
from steelyard.explaining.handout import handout
from steelyard.explaining.handout_text import markdown
from steelyard.explaining.two_options import two_options
from steelyard.records.reading import read_record
from steelyard.records.recommendation import Recommendation, RecommendationWords
from steelyard.records.writing import write_record

WORDS = ("statement", "for_whom", "not_for_whom", "cost", "risk", "alternatives", "would_change")
ONLY_ENGLISH = "Dieser Teil liegt nur auf Englisch vor."


@pytest.fixture(scope="module")
def library():
    return open_library()


@pytest.fixture
def copied(library, tmp_path):
    folder = tmp_path / "evidence"
    shutil.copytree(library.folder, folder)
    return folder


def changed(folder, old, new):
    path = folder / "recommendations" / "rest-between-sets.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    return open_library(folder)


def test_every_shipped_recommendation_is_there_in_german(library):
    for record in library.recommendations.values():
        german = record.translations["de"]
        for name in WORDS:
            assert getattr(german, name), (record.id, name)
        assert len(german.cautions) == len(record.cautions)
        for name in ("order", "range_of_motion", "notes"):
            assert (getattr(record.dose, name) is None) == (getattr(german, name) is None)


def test_a_german_page_holds_no_english_of_the_record(library):
    for name, record in library.recommendations.items():
        found = explain(library, name, language="de")
        text = f"{found}\n{markdown(found)}\n{handout(found)}"
        for key in WORDS:
            assert getattr(record, key) not in text, (name, key)
        for caution in record.cautions:
            assert caution not in text
        assert ONLY_ENGLISH not in text
        assert ' lang="en"' not in handout(found)


def test_english_stays_as_it_was(library):
    found = explain(library, "rest-between-sets")
    record = library.recommendations["rest-between-sets"]
    assert found.recommendation == record
    assert "is only in" not in str(found)


def test_numbers_and_fingerprint_do_not_hang_on_a_translation(library, copied):
    german = 'statement = "Machen Sie zwischen den Sätzen'
    other = changed(copied, german, 'statement = "Halten Sie zwischen den Sätzen')
    for tag in ("en", "de"):
        before = explain(library, "rest-between-sets", language=tag)
        after = explain(other, "rest-between-sets", language=tag)
        assert after.fingerprint == before.fingerprint
        assert after.paragraph == before.paragraph
    assert after.recommendation.statement.startswith("Halten Sie")


def test_what_is_not_translated_is_named(copied):
    library = changed(copied, 'cost = "kurze Pausen', 'cost_was = "kurze Pausen')
    assert library.records.faults
    path = copied / "recommendations" / "rest-between-sets.toml"
    text = path.read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("cost_was")]
    path.write_text("\n".join(lines), encoding="utf-8")
    found = explain(open_library(copied), "rest-between-sets", language="de")
    cost = [line.text for line in found.section("cost").lines]
    assert cost == [
        "Short rests save about fifteen minutes a session and feel harder",
        ONLY_ENGLISH,
    ]
    assert str(found).count(ONLY_ENGLISH) == 1
    assert '<li lang="en">Short rests' in handout(found)
    options = two_options(open_library(copied), "rest-between-sets", language="de")
    assert ONLY_ENGLISH in str(options)


def test_without_any_translation_every_own_part_says_so(library):
    record = library.recommendations["one-leg-work"]
    from steelyard.explaining.record_words import in_language
    from steelyard.explaining.wording.catalogue import catalogue

    bare = record.model_copy(update={"translations": {}})
    own = in_language(bare, catalogue("de"), written_in="en")
    assert own.kept == frozenset(RecommendationWords.model_fields)
    assert own.lines("risk")[-1].text == ONLY_ENGLISH
    assert own.line("statement", record.statement).language == "en"
    assert own.note("statement")


def test_a_translation_that_drops_a_caution_is_refused(copied):
    library = changed(copied, '    "Schwindel beendet die Einheit.",\n', "")
    assert "rest-between-sets" not in library.recommendations
    said = "\n".join(map(str, library.records.faults))
    assert "translations.de.cautions: expected 2, one for each caution, found 1" in said


def test_an_unknown_key_in_a_translation_is_a_fault(copied):
    library = changed(copied, 'cost = "kurze', 'costs = "kurze')
    said = str(library.records.faults)
    assert "translations.de" in said and "unknown key" in said


def test_it_is_written_and_read_again(library, tmp_path):
    record = library.recommendations["add-slow-lowering"]
    path = tmp_path / "recommendations" / "add-slow-lowering.toml"
    path.parent.mkdir()
    write_record(path, record, model=Recommendation)
    assert read_record(path, Recommendation) == record
