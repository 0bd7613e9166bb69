"""``steelyard review`` from the command line."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from steelyard import open_library
from tests.judging.reviewed_library import effect, told_library
from tests.judging.test_earlier import git, record
from tests.small_library import study


def run(folder, *words):
    command = [sys.executable, "-m", "steelyard", "review", "--library", str(folder), *words]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)


@pytest.fixture
def folder(tmp_path):
    told_library(tmp_path)
    git(tmp_path, "init", "-q")
    record(tmp_path, "2024-06-02")
    study(tmp_path, "fir", effect(-0.6))
    return tmp_path


def test_json_table_and_csv(folder):
    done = run(folder, "--format", "json")
    assert done.returncode == 0, done.stderr
    (row,) = json.loads(done.stdout)
    assert (row["changed"], row["moved_by"]) == (True, ["fir"])
    assert "OVERTURNED" in run(folder).stdout
    head, line = run(folder, "--format", "csv").stdout.strip().split("\n")
    assert "told_estimate" in head
    assert line.startswith("lower,")


def test_an_earlier_state_against_now(folder):
    done = run(folder, "--at", "2024-06-02")
    assert done.returncode == 0, done.stderr
    assert "The library of 2024-06-02" in done.stdout
    assert "fir (added)" in done.stdout
    (row,) = json.loads(run(folder, "--at", "2024-06-02", "--format", "json").stdout)
    assert row["then"]["verdict"] == "better"
    assert row["at"] == "2024-06-02"


def test_marking_writes_the_new_told(folder):
    done = run(folder, "--mark", "lower", "--by", "T. Fell", "--note", "fir read, answer open")
    assert done.returncode == 0, done.stderr
    library = open_library(folder)
    assert library.recommendations["lower"].review_note == "fir read, answer open"
    assert not library.review().review("lower").changed


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--mark", "lower", "--note", "read"), "needs a name"),
        (("--mark", "lower", "--by", "T. Fell"), "needs a note"),
        (("--mark", "higher", "--by", "T. Fell", "--note", "read"), "no recommendation 'higher'"),
        (("--by", "T. Fell"), "need --mark"),
        (("--mark", "lower", "--at", "2024-06-02"), "cannot go together"),
        (("--at", "2999-01-01"), "in the future"),
    ],
)
def test_wrong_usage_is_one_plain_message(folder, words, said):
    done = run(folder, *words)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_a_faulty_recommendation_is_told_and_the_rest_shows(folder):
    path = folder / "recommendations" / "broken.toml"
    path.write_text('id = "broken"\nstatement = "s"\nquestions = []\n', encoding="utf-8")
    done = run(folder)
    assert done.returncode == 1
    assert "Review: lower" in done.stdout
    assert "the record cannot be read" in done.stdout
    assert "broken.toml" in done.stderr


def test_without_version_control_the_overview_still_shows(tmp_path, monkeypatch):
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    done = run(told_library(tmp_path), "--at", "2024-06-02")
    assert done.returncode == 2
    assert "is not under version control" in done.stderr
    assert "what holds now" in done.stderr
    assert "Review: lower" in done.stdout
    done = run(tmp_path, "--at", "2024-06-02", "--format", "json")
    assert (done.returncode, done.stdout) == (2, "")


def test_the_first_lines_are_to_be_scanned(folder):
    lines = run(folder).stdout.split("\n")
    assert lines[0].endswith("1 moved since told, 1 to be read again")
    assert lines[1].split()[:2] == ["lower", "OVERTURNED"]
    assert lines[1].endswith("certainty; read again")
    assert lines[2] == ""
    assert "verdict was 'better', is 'not settled'" in "\n".join(lines)


def test_what_was_never_told_is_said_to_be_so(folder):
    path = folder / "recommendations" / "lower.toml"
    path.write_text(path.read_text(encoding="utf-8").split("[told]")[0], encoding="utf-8")
    lines = run(folder).stdout.splitlines()
    assert any(line.split() == ["told", "never"] for line in lines)
