"""An edit changes what was asked and not a character more."""

from __future__ import annotations

import difflib
from decimal import Decimal

import pytest

from steelyard.errors import RecordError, UsageError
from steelyard.records import Study
from steelyard.records.editing import edit_record
from steelyard.records.reading import read_record


@pytest.fixture
def path(library):
    return library / "studies" / "good-one.toml"


def changed_lines(path, changes) -> list[str]:
    before = path.read_text(encoding="utf-8").splitlines()
    edit_record(path, changes)
    after = path.read_text(encoding="utf-8").splitlines()
    return [line for line in difflib.ndiff(before, after) if line[0] in "+-"]


@pytest.mark.parametrize(
    ("changes", "lines"),
    [
        (
            {"result[1].pre.sd": Decimal("31.50")},
            [
                "- pre = { mean = 212.0, sd = 31.5 }   # Table 2",
                "+ pre = { mean = 212.0, sd = 31.50 }   # Table 2",
            ],
        ),
        (
            {"source.title": "Final"},
            [
                '- title = "Invented: slow lowering at Tarnside"   # working title',
                '+ title = "Final"   # working title',
            ],
        ),
        ({"result[2].where": "Table 2"}, ['+ where = "Table 2"']),
        ({"outcome[1].better": "lower"}, ['+ better = "lower"']),
        ({"arm[2].dose.rest_s": 120}, ["+ dose = {rest_s = 120}"]),
        ({"arm[2].n": None, "result[2].n": 19}, ["- n = 19", "+ n = 19"]),
        ({"population": {"sex": "female"}}, ["+ ", "+ [population]", '+ sex = "female"']),
    ],
)
def test_only_the_asked_lines_change(path, changes, lines):
    assert changed_lines(path, changes) == lines
    read_record(path, Study)


def test_a_part_is_appended_beside_its_kind_and_comments_keep_their_place(path):
    added = changed_lines(path, {"arm[3]": {"id": "third", "n": 12}})
    assert added == ["+ [[arm]]", '+ id = "third"', "+ n = 12", "+ "]
    text = path.read_text(encoding="utf-8")
    assert "# One outcome is enough here.\n[[outcome]]" in text
    assert [arm.id for arm in read_record(path, Study).arms] == ["added", "usual", "third"]


def test_a_part_is_taken_out(path):
    edit_record(path, {"result[1]": None})
    assert [result.arm for result in read_record(path, Study).results] == ["usual"]


@pytest.mark.parametrize(
    "place", ["", "result[0].n", "result[9].n", "arm[4]", "schema.x", "id[1].x", "a b", "source.x"]
)
def test_a_place_that_is_not_there(path, place, library, tree_hash):
    before = tree_hash(library)
    with pytest.raises(UsageError):
        edit_record(path, {place: None})
    assert tree_hash(library) == before


def test_an_edit_that_would_spoil_the_record_is_refused(path, library, tree_hash):
    before = tree_hash(library)
    with pytest.raises(RecordError, match=r"result\[1\]\.pre\.sd: expected a number above 0"):
        edit_record(path, {"result[1].pre.sd": 0, "source.title": "Final"})
    assert tree_hash(library) == before


def test_the_folder_says_what_the_file_holds(library):
    edit_record(library / "questions" / "slow-lowering-strength.toml", {"metric": "raw"})
    with pytest.raises(RecordError, match="expected"):
        edit_record(library / "questions" / "slow-lowering-strength.toml", {"metric": "rough"})
    edit_record(library / "vocabulary.toml", {"tag[3]": {"id": "rest", "label": "longer rest"}})
    assert "# Sites, from head to foot.\n[[site]]" in (library / "vocabulary.toml").read_text()
