"""Faults of different kinds in one record are all told at once, and nothing else with them."""

from __future__ import annotations

from collections import Counter
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steelyard.errors import Finding
from steelyard.records import Question, Recommendation, Study, Vocabulary, load_records
from steelyard.records.consistency import study_findings
from steelyard.records.question_words import question_word_findings
from steelyard.records.reading import look_at, parse, validate
from tests.records.conftest import VOCABULARY
from tests.records.planted import (
    QUESTION,
    QUESTION_PLANTS,
    RECOMMENDATION,
    RECOMMENDATION_PLANTS,
    SLIPS,
    STUDY,
    STUDY_PLANTS,
    Plant,
    clash,
    planted,
)

KINDS = {
    "studies": (STUDY, STUDY_PLANTS),
    "questions": (QUESTION, QUESTION_PLANTS),
    "recommendations": (RECOMMENDATION, RECOMMENDATION_PLANTS),
}
MODELS = {"studies": Study, "questions": Question, "recommendations": Recommendation}
WORDS = validate(parse(VOCABULARY, file="vocabulary.toml"), Vocabulary, file="vocabulary.toml")
EACH = [(kind, plant) for kind, (_, plants) in KINDS.items() for plant in plants]
# Only a whole library can tell these.
OF_A_LIBRARY = {"id-is-file-name", "unknown-question"}


def placed(findings: list[Finding]) -> Counter[tuple[str, str]]:
    """Places and rules of faults; every broken line is at ``line``."""
    return Counter(
        ("line" if each.path.startswith("line ") else each.path, each.rule)
        for each in findings
        if each.severity == "fault"
    )


def wanted(*plants: Plant) -> Counter[tuple[str, str]]:
    return Counter(found for plant in plants for found in plant.found)


def found_in(kind: str, text: str) -> Counter[tuple[str, str]]:
    """What one record by itself is told of, against the vocabulary."""
    looked = look_at(text, MODELS[kind], file="planted.toml")
    found = [*looked.faults]
    if kind == "studies":
        found += study_findings(looked.record, WORDS, file="planted.toml")
    elif kind == "questions":
        found += question_word_findings(looked.record, WORDS, file="planted.toml")
    for each in found:
        assert each.file == "planted.toml"
        assert "\n" not in each.message and "Error" not in each.message
    return placed(found)


def faults_in(library: Path, kind: str, *plants: Plant) -> Counter[tuple[str, str]]:
    """What a library says of a record with faults planted in it."""
    path = library / kind / "planted.toml"
    path.write_text(planted(KINDS[kind][0], *plants), encoding="utf-8")
    records = load_records(library)
    assert {"good-one", "good-two"} <= set(records.studies)
    if plants:
        assert "planted" not in getattr(records, kind) or kind == "recommendations"
    return placed([each for each in records.faults if each.file == f"{kind}/planted.toml"])


@pytest.mark.parametrize("kind", KINDS)
def test_the_records_are_sound_before(library, kind):
    assert faults_in(library, kind) == Counter()


@pytest.mark.parametrize(("kind", "plant"), EACH, ids=lambda each: getattr(each, "name", each))
def test_one_fault_by_itself_casts_no_shadow(library, kind, plant):
    assert faults_in(library, kind, plant) == wanted(plant)


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip.name)
def test_a_slip_that_other_parts_hang_on_is_told_once(library, slip):
    assert faults_in(library, "studies", slip) == wanted(slip)


@pytest.mark.parametrize(("kind", "plant"), EACH, ids=lambda each: getattr(each, "name", each))
def test_any_two_faults_are_told_at_once(kind, plant):
    text, plants = KINDS[kind]
    if OF_A_LIBRARY & {rule for _, rule in plant.found}:
        return
    later = plants[plants.index(plant) + 1 :]
    for other in later:
        if clash(plant, other) or OF_A_LIBRARY & {rule for _, rule in other.found}:
            continue
        found = found_in(kind, planted(text, plant, other))
        assert found == wanted(plant, other), f"{plant.name} and {other.name}"


@pytest.mark.parametrize("kind", KINDS)
def test_what_only_a_library_can_tell_is_told_beside_any_other(library, kind):
    _, plants = KINDS[kind]
    apart = [each for each in plants if OF_A_LIBRARY & {rule for _, rule in each.found}]
    assert apart
    for one, other in combinations(plants, 2):
        if (one in apart or other in apart) and not clash(one, other):
            assert faults_in(library, kind, one, other) == wanted(one, other)


@st.composite
def several(draw: st.DrawFn) -> tuple[str, list[Plant]]:
    kind = draw(st.sampled_from(list(KINDS)))
    plants: list[Plant] = []
    able = [each for each in KINDS[kind][1] if not OF_A_LIBRARY & {rule for _, rule in each.found}]
    for plant in draw(st.lists(st.sampled_from(able), min_size=3, max_size=7, unique=True)):
        if not clash(*plants, plant):
            plants.append(plant)
    return kind, plants


@settings(max_examples=120, deadline=None)
@given(several())
def test_several_faults_are_told_at_once(drawn):
    kind, plants = drawn
    assert found_in(kind, planted(KINDS[kind][0], *plants)) == wanted(*plants)


def test_a_faulty_vocabulary_still_tells_which_words_are_none(library):
    path = library / "vocabulary.toml"
    path.write_text(VOCABULARY.replace('label = "Strength"', "label = 3"), encoding="utf-8")
    study = library / "studies" / "good-two.toml"
    text = study.read_text(encoding="utf-8").replace('"strength"', '"strenght"')
    study.write_text(text, encoding="utf-8")
    records = load_records(library)
    assert set(records.studies) == {"good-one"}
    assert [(each.file, each.path, each.rule) for each in records.faults] == [
        ("vocabulary.toml", "construct[1].label", "string-type"),
        ("studies/good-two.toml", "outcome[1].construct", "unknown-construct"),
    ]


def test_words_are_not_judged_where_one_of_their_kind_cannot_be_read(library):
    path = library / "vocabulary.toml"
    path.write_text(VOCABULARY.replace('"usual"', '"Usual!"'), encoding="utf-8")
    records = load_records(library)
    assert set(records.studies) == {"good-one", "good-two"}
    assert [each.file for each in records.faults] == ["vocabulary.toml"]


def test_a_value_that_might_be_of_several_kinds_is_told_once():
    text = STUDY.replace("issued = 2019", "issued = 2019\nvolume = 3.5")
    (fault,) = look_at(text, Study, file="f").faults
    assert (fault.path, fault.message) == (
        "source.volume",
        "expected text or a whole number, found 3.5",
    )


def test_every_broken_line_is_told_with_its_number():
    text = STUDY.replace("issued = 2019", "issued = 20x19").replace("t = 1.2", "t =")
    text = text.replace('id = "resting"', 'id = "resting')
    looked = look_at(text, Study, file="f")
    lines = text.split("\n")
    shown = [lines[int(each.path.removeprefix("line ")) - 1] for each in looked.faults]
    assert shown == ["issued = 20x19", 'id = "resting', "t ="]
    assert [each.severity for each in study_findings(looked.record, WORDS, file="f")] == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("[population]", "[population"),
        ('[[arm]]\nid = "usual"', '[[arm]\nid = "usual"'),
        ('[[arm]]\nid = "usual"', '[arm]\nid = "usual"'),
        ("tags = []", 'tags = [\n"usual"\n"resting",\n]'),
    ],
)
def test_what_lies_beyond_a_broken_header_or_list_is_judged(old, new):
    assert old in STUDY
    text = (
        STUDY.replace(old, new, 1)
        .replace("events = 3", "events = 20")
        .replace('"chance"', '"luck"')
    )
    assert found_in("studies", text) == Counter(
        [
            ("line", "not-toml"),
            ("result[8].events", "events-above-n"),
            ("appraisal.allocated_by", "unknown-answer"),
        ]
    )


def test_a_text_of_many_broken_lines_is_no_record():
    (fault,) = look_at("not one line\n" * 40, Study, file="f").faults
    assert (fault.path, fault.rule) == ("line 1", "not-toml")


def test_a_file_by_the_id_of_another_leaves_the_other_in(library):
    path = library / "studies" / "a-copy.toml"
    text = (library / "studies" / "good-one.toml").read_text(encoding="utf-8")
    path.write_text(text.replace("n = 19", "n = 1", 1), encoding="utf-8")
    records = load_records(library)
    assert set(records.studies) == {"good-one", "good-two"}
    assert [(each.file, each.rule) for each in records.faults] == [
        ("studies/a-copy.toml", "whole-number"),
        ("studies/a-copy.toml", "id-is-file-name"),
    ]
