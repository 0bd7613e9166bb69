"""What the first notebook says of recommendations that rest on several questions, or on none."""

from __future__ import annotations

import pytest

from steelyard import open_library
from steelyard.judging.answer_review import EVIDENCE_CHANGED, MOVED_RULE
from steelyard.notebook.standings import at_a_glance, to_mind, to_read_again, told_and_now
from tests.judging.reviewed_library import recommendation, tell, told_library
from tests.judging.test_several_questions import add_low_power, both, change
from tests.small_library import question, study


@pytest.fixture
def folder(tmp_path):
    """Told of strength and of power; then a study finds less power."""
    told_library(tmp_path)
    for at, name in enumerate(("ivy", "juniper", "kelp")):
        study(tmp_path, name, both(0.5, 0.4 + at / 100))
    path = question(tmp_path, "also", "smallest_worthwhile = 0.2")
    path.write_text(path.read_text("utf-8").replace('["strength"]', '["power"]'), "utf-8")
    change(tmp_path, '["asked"]', '["asked", "also"]')
    tell(tmp_path)
    add_low_power(tmp_path)
    return tmp_path


def test_told_and_now_has_a_row_per_question_with_its_own_move(folder):
    rows = told_and_now(open_library(folder)).rows
    assert [row[0] for row in rows] == ["lower, asked", "lower, also"]
    assert rows[0][3] == EVIDENCE_CHANGED
    assert "lichen added" in rows[1][3]


def test_the_day_it_was_told_stays_on_one_line_and_the_rule_of_moving_stands_below(folder):
    table = told_and_now(open_library(folder))
    day = table.rows[0][1].split("\n")[-1]
    assert day.endswith("\u00a02024") and " " not in day and "-" not in day
    assert MOVED_RULE in table.notes


def test_what_to_read_again_and_to_mind_name_the_question(folder):
    library = open_library(folder)
    ((_, why),) = to_read_again(library).rows
    assert "also: the evidence is not the same as when it was told" in why
    ((_, mind),) = to_mind(library).rows
    assert "also: " in mind
    assert "asked: " in mind
    assert "Of 2 answers behind 1 recommendation" in repr(at_a_glance(library))


def test_what_was_told_still_shows_where_there_is_no_answer_now(folder):
    for path in (folder / "studies").iterdir():
        path.unlink()
    rows = told_and_now(open_library(folder)).rows
    assert "(as\u00a0recorded)" in rows[0][1]
    assert rows[0][3].startswith("OVERTURNED")


def test_a_record_with_faults_has_its_row_in_the_order_of_names(folder):
    path = recommendation(folder, "broken")
    path.write_text('id = "broken"\n', encoding="utf-8")
    rows = told_and_now(open_library(folder)).rows
    assert [row[0] for row in rows] == ["broken", "lower, asked", "lower, also"]
    assert "cannot be read" in rows[0][2]
