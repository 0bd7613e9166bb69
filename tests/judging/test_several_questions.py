"""A recommendation that rests on two questions: each is told, held against now, and shown."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys

import pytest

from steelyard import open_library
from steelyard.judging.answer_review import EVIDENCE_CHANGED
from steelyard.judging.checks import EVIDENCE_OTHER
from steelyard.judging.history import history
from steelyard.judging.pictures_overview import overview_data
from steelyard.judging.told import told_by_question
from tests.judging.reviewed_library import MARKED, effect, tell, told_library
from tests.judging.test_earlier import git, record
from tests.small_library import comparison, question, study

HOPS = """[[outcome]]
id = "hop"
construct = "power"
unit = "cm"
better = "higher"
"""


def both(strength: float, power: float) -> str:
    """Results on both questions' outcomes."""
    cell = f"{{ value = {power}, se = 0.1, over = 'pre-sd' }}"
    return HOPS + effect(strength) + comparison(outcome="hop", standardised=cell)


@pytest.fixture
def folder(tmp_path):
    """`asked` is of strength, `also` of power; what was told is of both."""
    told_library(tmp_path)
    for at, name in enumerate(("ivy", "juniper", "kelp")):
        study(tmp_path, name, both(0.5, 0.4 + at / 100))
    question(tmp_path, more="smallest_worthwhile = 0.14")
    path = question(tmp_path, "also", "smallest_worthwhile = 0.2")
    path.write_text(path.read_text("utf-8").replace('["strength"]', '["power"]'), "utf-8")
    change(tmp_path, '["asked"]', '["asked", "also"]')
    tell(tmp_path)
    return tmp_path


def change(folder, old: str, new: str) -> None:
    path = folder / "recommendations" / "lower.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def add_low_power(folder) -> None:
    """A study on power alone: strength is as it was."""
    body = HOPS + comparison(
        outcome="hop", standardised="{ value = -0.9, se = 0.1, over = 'pre-sd' }"
    )
    study(folder, "lichen", body)


def reviewed(folder):
    return open_library(folder).review(MARKED).review("lower")


def test_marking_tells_each_question_and_nothing_has_moved(folder):
    record_ = open_library(folder).recommendations["lower"]
    assert list(told_by_question(record_)) == ["also", "asked"]
    assert (record_.told.question, record_.also_told[0].question) == ("asked", "also")
    found = reviewed(folder)
    assert [answer.question for answer in found.answers] == ["asked", "also"]
    assert not found.changed
    assert not found.due
    for answer in found.answers:
        now = open_library(folder).weigh(answer.question)
        assert answer.told.estimate == pytest.approx(now.estimate, abs=1e-4)


def test_a_study_on_the_second_question_moves_that_one_alone(folder):
    add_low_power(folder)
    found = reviewed(folder)
    strength, power = found.answers
    assert not strength.moved
    assert power.moved
    assert [mover.study for mover in power.movers] == ["lichen"]
    assert strength.movers == ()
    assert (found.changed, found.moved, found.overturned) == (True, True, power.overturned)
    # The study has an outcome of the first question without results: left out there, and said so.
    assert strength.since_told == EVIDENCE_CHANGED
    assert found.due == (f"asked: {EVIDENCE_OTHER}", f"also: {EVIDENCE_OTHER}")
    assert found.due_in_words == (f"asked: {EVIDENCE_CHANGED}", f"also: {EVIDENCE_OTHER}")
    assert "1 moved since told" in open_library(folder).review(MARKED).table().title


def test_every_text_names_the_question_that_moved(folder):
    add_low_power(folder)
    library = open_library(folder)
    table = library.review(MARKED).table()
    assert [row[0] for row in table.rows] == ["lower, asked", "lower, also"]
    text = str(reviewed(folder))
    assert text.index("question") < text.index("also") < text.index("lichen")


def test_the_overview_draws_a_row_for_each_question_together(folder):
    add_low_power(folder)
    library = open_library(folder)
    data = overview_data(library.review(MARKED), library.vocabulary)
    rows = data.recommendations.to_dict("records")
    assert [row["recommendation"] for row in rows] == ["lower", "lower"]
    assert [bool(row["changed"]) for row in rows] == [False, True]
    for row, name in zip(rows, ("asked", "also"), strict=True):
        weighing = library.weigh(name)
        assert row["estimate"] == pytest.approx(weighing.estimate / weighing.worthwhile)
        assert row["certainty"] == library.certainty(name).word
    assert rows[1]["statement"] == "It also rests on: Does slow lowering help?"
    assert data.subtitle.startswith("Of 2 answers behind 1 recommendation")


def test_history_marks_what_was_told_of_its_own_question(folder):
    library = open_library(folder)
    record_ = library.recommendations["lower"]
    for name in ("asked", "also"):
        found = history(library.questions[name], library, recommendations=[record_])
        (told,) = found.told["estimate"]
        assert told == pytest.approx(library.weigh(name).estimate, abs=1e-4)


def test_a_told_of_old_speaks_of_the_first_question_and_the_second_is_due(folder):
    """What was written before further questions were told is read as ever."""
    path = folder / "recommendations" / "lower.toml"
    text = path.read_text(encoding="utf-8")
    old = re.sub(r"\n\[\[also_told\]\](.|\n)*", "\n", text).replace('question = "asked"\n', "")
    path.write_text(old, encoding="utf-8")
    found = reviewed(folder)
    assert found.first.told is not None
    assert not found.changed
    assert found.answers[1].told is None
    assert found.due == ("its review told no numbers of also",)
    tell(folder)
    assert not reviewed(folder).due


def test_swapping_the_questions_overturns_nothing(folder):
    change(folder, '["asked", "also"]', '["also", "asked"]')
    found = reviewed(folder)
    assert [answer.question for answer in found.answers] == ["also", "asked"]
    assert not found.changed


def test_a_question_given_up_is_told_and_marking_takes_its_numbers_out(folder):
    change(folder, '["asked", "also"]', '["asked"]')
    found = reviewed(folder)
    assert not found.changed
    assert any("numbers were told of 'also'" in warning for warning in found.warnings)
    tell(folder)
    text = (folder / "recommendations" / "lower.toml").read_text(encoding="utf-8")
    assert "also" not in text
    assert "# one is enough" in text
    assert not reviewed(folder).changed


def test_marking_again_keeps_a_comment_in_the_second_block(folder):
    change(folder, "[[also_told]]", "[[also_told]]   # power, SD")
    add_low_power(folder)
    assert reviewed(folder).changed
    tell(folder)
    assert "# power, SD" in (folder / "recommendations" / "lower.toml").read_text(encoding="utf-8")
    assert not reviewed(folder).changed


def test_a_second_question_without_an_answer_still_lets_the_first_be_told(folder):
    for path in (folder / "studies").iterdir():
        if path.stem in ("ivy", "juniper", "kelp"):
            path.unlink()
    found = reviewed(folder)
    assert found.answers[1].problem
    assert found.moved
    words = ["--mark", "lower", "--by", "T. Fell", "--note", "no study on power is left"]
    done = run(folder, *words)
    assert done.returncode == 0
    assert "lower, also: nothing told, for there is no answer" in done.stderr
    assert list(told_by_question(open_library(folder).recommendations["lower"])) == ["asked"]


def run(folder, *words):
    command = [sys.executable, "-m", "steelyard", "review", "--library", str(folder), *words]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)


def test_json_and_csv_have_every_answer(folder):
    add_low_power(folder)
    (row,) = json.loads(run(folder, "--format", "json").stdout)
    assert [answer["question"] for answer in row["answers"]] == ["asked", "also"]
    assert row["told"] == row["answers"][0]["told"]
    assert (row["changed"], row["moved_by"]) == (True, ["lichen"])
    lines = list(csv.DictReader(run(folder, "--format", "csv").stdout.splitlines()))
    assert [line["question"] for line in lines] == ["asked", "also"]
    assert [line["changed"] for line in lines] == ["False", "True"]
    assert lines[1]["now_estimate"] != lines[0]["now_estimate"]


def test_an_earlier_state_is_shown_for_each_question(folder):
    git(folder, "init", "-q")
    record(folder, "2024-06-02")
    add_low_power(folder)
    rows = json.loads(run(folder, "--at", "2024-06-02", "--format", "json").stdout)
    assert [(row["question"], row["changed"]) for row in rows] == [("asked", False), ("also", True)]
    assert "Then and now: lower, also" in run(folder, "--at", "2024-06-02").stdout
