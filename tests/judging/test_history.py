"""The answer through time."""

from __future__ import annotations

import pytest

from steelyard import open_library
from steelyard.errors import EmptyQuestionError
from steelyard.judging.history import history
from tests.judging.reviewed_library import effect, recommendation, tell
from tests.small_library import question, study


@pytest.fixture
def folder(tmp_path):
    for name, year, value in (("ash", 2010, 0.9), ("birch", 2012, 0.5), ("cedar", 2012, 0.4)):
        study(tmp_path, name, effect(value), year=year)
    study(tmp_path, "elder", effect(0.2), year=2015)
    question(tmp_path, more="smallest_worthwhile = 0.14")
    recommendation(tmp_path)
    tell(tmp_path)
    return tmp_path


def found(folder):
    library = open_library(folder)
    return history(
        library.questions["asked"], library, recommendations=library.recommendations.values()
    )


def test_a_step_per_year_ends_at_the_answer_of_now(folder):
    steps = found(folder).steps
    assert list(steps["year"]) == ["2010", "2012", "2015"]
    assert list(steps["k_studies"]) == [1, 3, 4]
    assert steps["added"][1] == "birch, cedar"
    assert steps["estimate"].to_list()[:2] == pytest.approx([0.9, 0.6])
    now = open_library(folder).weigh("asked")
    assert steps["estimate"].iloc[-1] == now.estimate
    assert steps["low"].iloc[-1] == now.low


def test_told_marks_and_the_warning_of_repeated_looks(folder):
    shown = found(folder)
    assert list(shown.told["recommendation"]) == ["lower"]
    assert shown.told["date"][0].isoformat() == "2024-06-01"
    assert "Looking again" in str(shown)


def test_a_study_without_a_year_comes_last(folder):
    path = folder / "studies" / "ash.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("issued = 2010", ""), encoding="utf-8")
    assert list(found(folder).steps["year"]) == ["2012", "2015", "no year"]


def test_no_answer_now_is_an_error(folder):
    for path in (folder / "studies").iterdir():
        path.unlink()
    with pytest.raises(EmptyQuestionError):
        found(folder)
