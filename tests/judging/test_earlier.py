"""Earlier states of a library, from its version control."""

from __future__ import annotations

import datetime as dt
import os
import subprocess

import pytest

from steelyard import open_library
from steelyard.errors import UsageError
from steelyard.judging.between_states import then_and_now
from steelyard.judging.earlier import states
from tests.judging.reviewed_library import MARKED, effect, told_library
from tests.small_library import study


def git(folder, *words, day="2024-06-01"):
    stamp = f"{day}T12:00:00+00:00"
    names = {
        "GIT_AUTHOR_NAME": "T. Fell",
        "GIT_AUTHOR_EMAIL": "fell@example.org",
        "GIT_COMMITTER_NAME": "T. Fell",
        "GIT_COMMITTER_EMAIL": "fell@example.org",
        "GIT_AUTHOR_DATE": stamp,
        "GIT_COMMITTER_DATE": stamp,
        "GIT_CONFIG_GLOBAL": os.devnull,
        "GIT_CONFIG_SYSTEM": os.devnull,
    }
    subprocess.run(
        ["git", "-C", str(folder), *words],
        check=True,
        capture_output=True,
        env={**os.environ, **names},
    )


def record(folder, day):
    git(folder, "add", "-A", day=day)
    git(folder, "commit", "-q", "-m", f"state of {day}", day=day)


@pytest.fixture(params=["", "library"], ids=["at the top", "in a subfolder"])
def folder(tmp_path, request):
    """A library recorded on two days: as told, and with a study that overturns it."""
    top = tmp_path / "kept"
    place = top / request.param if request.param else top
    place.mkdir(parents=True)
    told_library(place)
    git(top, "init", "-q")
    record(top, "2024-06-02")
    study(place, "fir", effect(-0.6))
    record(top, "2024-08-01")
    return place


def test_states_newest_first(folder):
    assert [state.date for state in states(folder)] == [dt.date(2024, 8, 1), dt.date(2024, 6, 2)]


def test_a_date_takes_the_last_state_up_to_it(folder):
    library = open_library(folder)
    for day, studies in (("2024-06-02", 4), ("2024-07-31", 4), ("2024-08-01", 5)):
        assert len(library.at(day).studies) == studies
    assert library.at("2024-07-01").state.date == dt.date(2024, 6, 2)


def test_a_fingerprint_gives_the_weighing_it_was_taken_from(folder):
    library = open_library(folder)
    told = library.recommendations["lower"].told
    then = library.at(told.fingerprint)
    weighing = then.weigh("asked")
    assert weighing.fingerprint == told.fingerprint
    assert weighing.estimate == pytest.approx(float(told.estimate), abs=1e-4)
    assert library.at(told.fingerprint[:6]).state == then.state


def test_the_difference_names_what_moved_it(folder):
    library = open_library(folder)
    then = library.at("2024-06-02")
    (found,) = then_and_now(
        then,
        library,
        then_recommendations=then.recommendations,
        now_recommendations=library.recommendations,
    )
    assert found.changed
    assert [(mover.study, mover.what) for mover in found.movers] == [("fir", "added")]
    assert found.then.verdict == "better"
    assert found.as_json()["moved_by"] == ["fir"]


def test_the_same_state_shows_no_difference(folder):
    library = open_library(folder)
    then = library.at("2024-08-01")
    (found,) = then_and_now(
        then,
        library,
        then_recommendations=then.recommendations,
        now_recommendations=library.recommendations,
    )
    assert not found.changed
    assert found.movers == ()


def test_a_correction_is_traced_through_version_control(folder):
    study(folder, "fir", effect(-0.6).replace("value = -0.6", "value = -0.2"))
    (folder / "studies" / "ash.toml").unlink()
    study(folder, "cedar", effect(0.9), source_more='status = "corrected"')
    found = open_library(folder).review(MARKED).review("lower")
    moved = {(mover.study, mover.what) for mover in found.movers}
    assert moved == {("ash", "removed"), ("cedar", "changed"), ("fir", "added")}


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("2999-01-01", "in the future"),
        ("2024-02-31", "a date that exists"),
        ("2001-01-01", "earliest recorded state is of 2024-06-02"),
        ("yesterday", "expected a date"),
        ("abc", "expected a date"),
        ("0123456789ab", "no question had fingerprint"),
        ("--output=x", "expected a date"),
    ],
)
def test_what_cannot_be_found_is_said_plainly(folder, at, said):
    with pytest.raises(UsageError, match=said):
        open_library(folder).at(at)


def test_a_library_without_version_control_says_so(tmp_path, monkeypatch):
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    library = open_library(told_library(tmp_path))
    with pytest.raises(UsageError, match="not under version control"):
        library.at("2024-06-02")
    # The overview does without.
    study(tmp_path, "cedar", effect(-0.9))
    found = open_library(tmp_path).review(MARKED).review("lower")
    assert found.changed
    # Nobody kept what cedar said before: it is a guess, and the reason for guessing is told.
    assert [(mover.study, mover.what) for mover in found.movers] == [("cedar", "perhaps")]
    assert "guess from the numbers alone: library" in found.warnings[0]
    assert "not under version control" in found.warnings[0]


def test_a_study_taken_out_where_nobody_kept_it_leaves_a_guess_and_says_so(tmp_path, monkeypatch):
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    told_library(tmp_path)
    (tmp_path / "studies" / "cedar.toml").unlink()
    found = open_library(tmp_path).review(MARKED).review("lower")
    assert found.changed
    # Without ash the mean is 0.5, as told; that does not show that ash is what changed.
    assert [(mover.study, mover.what) for mover in found.movers] == [("ash", "perhaps")]
    assert "perhaps ash: without it the answer is near the one told (a guess)" in str(found)
    assert "guess from the numbers alone" in found.warnings[0]


def test_a_change_that_no_study_explains_is_not_blamed_on_one(tmp_path, monkeypatch):
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    told_library(tmp_path)
    for name in ("ash", "birch", "cedar", "elder"):
        study(tmp_path, name, effect(0.9))
    found = open_library(tmp_path).review(MARKED).review("lower")
    assert found.changed
    assert found.movers == ()
    assert "one may have been taken out or edited" in found.warnings[0]


def test_a_repository_without_a_state_says_so(tmp_path):
    told_library(tmp_path)
    git(tmp_path, "init", "-q")
    with pytest.raises(UsageError, match="nothing of library"):
        open_library(tmp_path).at("2024-06-02")


def test_a_machine_without_git_says_so(tmp_path, monkeypatch):
    library = open_library(told_library(tmp_path))
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(UsageError, match="needs git"):
        library.at("2024-06-02")
