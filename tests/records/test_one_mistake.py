"""One slip of the hand gives one message, however much hangs on what it spoils."""

from __future__ import annotations

import re

import pytest

from steelyard.records import Question, Recommendation, Study, load_records
from steelyard.records.consistency import study_findings
from steelyard.records.reading import look_at
from tests.records.conftest import VOCABULARY
from tests.records.planted import QUESTION, RECOMMENDATION, STUDY
from tests.records.test_all_at_once import WORDS

HEADERS = [
    (kind, model, text, index)
    for kind, model, text in (
        ("study", Study, STUDY),
        ("question", Question, QUESTION),
        ("recommendation", Recommendation, RECOMMENDATION),
    )
    for index, line in enumerate(text.split("\n"))
    if line.startswith("[")
]
LATER = ("events = 3", "events = 20"), ('"chance"', '"luck"')


def told(text: str, model: type = Study) -> list[tuple[str, str, str]]:
    """Place, rule and message of every fault in a text."""
    looked = look_at(text, model, file="f")
    found = [*looked.faults]
    if model is Study and looked.record is not None:
        found += study_findings(looked.record, WORDS, file="f")
    return [(each.path, each.rule, each.message) for each in found if each.severity == "fault"]


def instead(old: str, new: str) -> str:
    assert old in STUDY
    return STUDY.replace(old, new, 1)


def spoilt(text: str, index: int, how: str) -> str:
    lines = text.split("\n")
    lines[index : index + 1] = {
        "lost": [],
        "emptied": [""],
        "a brace for a bracket": ["{" + lines[index][1:]],
        "not closed": [lines[index][:-1]],
        "not opened": [lines[index].lstrip("[")],
        "in capitals": [lines[index].title()],
    }[how]
    return "\n".join(lines)


@pytest.mark.parametrize(
    "how",
    ["lost", "emptied", "a brace for a bracket", "not closed", "not opened", "in capitals"],
)
def test_a_spoilt_header_is_one_fault(how):
    for kind, model, text, index in HEADERS:
        line = text.split("\n")[index]
        below = text.split("\n\n" + line + "\n")[1].split("\n\n")[0].strip().count("\n")
        found = told(spoilt(text, index, how), model)
        assert len(found) == 1, f"{kind}, line {index + 1}: {line}: {found}"
        # A single key below is told as one that stands in the wrong place.
        if how in ("lost", "emptied") and below:
            assert found[0][0].startswith("line "), line
            assert re.sub(r"\.\w+\]", ".…]", line) in found[0][2]


@pytest.mark.parametrize(
    ("header", "first"),
    [
        ("[design]", 'kind = "parallel"'),
        ("[[arm]]", 'id = "usual"'),
        ("[[outcome]]", 'id = "knee-flexion"'),
        ("[[outcome]]", 'id = "sprint"'),
        ("[[result]]", 'outcome = "hip-extension"\narm = "added"'),
    ],
)
def test_what_lies_beyond_a_lost_header_is_judged_as_it_was_meant(header, first):
    text = instead(f"{header}\n{first}", first)
    (alone,) = told(text)
    assert text.split("\n")[int(alone[0].removeprefix("line ")) - 1] == first.split("\n")[0]
    for old, new in LATER:
        text = text.replace(old, new)
    assert [each[:2] for each in told(text)] == [
        alone[:2],
        ("appraisal.allocated_by", "unknown-answer"),
        ("result[8].events", "events-above-n"),
    ]


def test_a_broken_line_after_a_lost_header_keeps_its_number():
    text = instead('[[arm]]\nid = "usual"', 'id = "usual"').replace("t = 1.2", "t =")
    _, broken = told(text)
    assert text.split("\n")[int(broken[0].removeprefix("line ")) - 1] == "t ="
    assert f"({broken[0].replace('line', 'at line')}," in broken[2]


def test_a_header_that_cannot_be_guessed_leaves_what_stands_above_it_judged():
    text = instead("[[outcome]]", "{otcm]").replace("issued = 2019", 'issued = "2019"')
    assert [each[1] for each in told(text)] == ["not-toml", "int-type"]


def test_what_is_torn_or_lost_in_notes_is_told_once():
    text = STUDY + '\n[notes]\ndoubt = "asked twice"\narm = "the left one"\n'
    assert told(text) == []
    assert [each[1] for each in told(text.replace("[notes]", "notes]"))] == ["not-toml"]
    both = text.replace("[notes]", "{notes]").replace("[source]\n", "")
    assert [each[1] for each in told(both)] == ["not-toml", "lost-header"]


@pytest.mark.parametrize(
    ("old", "new", "place", "said"),
    [
        ("n = 19", "N = 19", "arm[1].N", "nearest known: n"),
        ("n = 19", "people = 19", "arm[1].people", "nearest known: n"),
        ("n = 19", "zz = 19", "arm[1].zz", "unknown key"),
        ("week = 12", "WEEK = 12", "result[1].WEEK", "nearest known: week"),
        ('id = "added"', 'ID = "added"', "arm[1].ID", "nearest known: id"),
        ("pre = { mean", "PRE = { mean", "result[1].PRE", "nearest known: pre"),
        ("pre = { mean", "before = { mean", "result[1].before", "nearest known: pre"),
        ("mean = 212.0", "average = 212.0", "result[1].pre.average", "nearest known: mean"),
        ("sd = 31.5", "SD = 31.5", "result[1].pre.SD", "nearest known: sd"),
        ("[[arm]]", "[[amr]]", "amr", "nearest known: arm"),
        ("[[result]]", "[[resutl]]", "resutl", "nearest known: result"),
    ],
)
def test_a_misspelt_key_is_told_once_with_the_right_one(old, new, place, said):
    ((path, rule, message),) = told(instead(old, new))
    assert (path, rule) == (place, "extra-forbidden")
    assert message.endswith(said)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('construct = "strength"', "c"),
        ("\nn = 19", "\n = 19"),
        ("\nn = 19", "\nn 19"),
        ("\nid = ", "\n = "),
        ("ways to lower", "ways\nto lower"),
        ("usual lifting", "usual\nlifting"),
        ('tags = ["usual"]', 'tags =\n"usual",\n]'),
        ('tags = ["usual"]', 't\n  "usual",\n]'),
        ("[[arm]]\n", "arm\n"),
    ],
)
def test_a_torn_line_is_told_once(old, new):
    ((path, rule, _),) = told(instead(old, new))
    assert path.startswith("line ") and rule == "not-toml"


def test_a_control_character_in_an_answer_is_told_as_such():
    ((path, rule, _),) = told(instead('"chance"', '"chance\\u0007"'))
    assert (path, rule) == ("appraisal.allocated_by", "control-character")


def test_an_arm_by_the_id_of_another_is_told_once():
    ((path, rule, _),) = told(instead('id = "usual"', 'id = "added"'))
    assert (path, rule) == ("arm", "duplicate-id")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("[[construct]]\n", ""),
        ("[[construct]]\n", "{construct]]\n"),
        ("[[construct]]\n", "[[constructs\n"),
        ("[[tag]]\n", ""),
        ("[[tag]]\n", "[[tga]]\n"),
        ("[[site]]\n", "site\n"),
        ('id = "strength"', 'id = "strength'),
        ('id = "strength"', '"strength"'),
        ('id = "strength"', 'ID = "strength"'),
    ],
)
def test_a_vocabulary_that_cannot_be_read_casts_no_shadow_on_studies(library, old, new):
    assert old in VOCABULARY
    path = library / "vocabulary.toml"
    path.write_text(VOCABULARY.replace(old, new, 1), encoding="utf-8")
    records = load_records(library)
    assert [each.file for each in records.faults] == ["vocabulary.toml"]
    assert {"good-one", "good-two"} <= set(records.studies)
