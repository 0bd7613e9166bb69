"""Killed in the middle, a change of several files is made good: all of them, or none."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import time
from pathlib import Path

import pytest

from steelyard.errors import UsageError
from steelyard.records import load_records
from steelyard.records.adding import add_table
from steelyard.records.journal import JOURNAL_FILE, KEPT_FOLDER, is_unfinished
from steelyard.records.locking import LOCK_FILE, writing_lock
from tests.records.example_tables import strength_table

STUDIES = {"brae", "corrie", "dell"}
TRIES = 20


@pytest.fixture
def table(tmp_path) -> Path:
    path = tmp_path / "table.csv"
    path.write_text(strength_table(sorted(STUDIES), site="calf"), encoding="utf-8")
    return path


def added(library: Path) -> set[str]:
    """Studies that were added, once the library has been opened again."""
    records = load_records(library)
    assert records.faults == ()
    assert records.vocabulary.words("site") >= ({"calf"} if len(records.studies) > 2 else set())
    return set(records.studies) - {"good-one", "good-two"}


def on_disk(library: Path, wanted: set[str] = STUDIES) -> set[str]:
    return {path.stem for path in (library / "studies").glob("[!.]*.toml")} & wanted


def is_tidy(library: Path) -> bool:
    """Whether the next writer finds, and leaves, nothing of what was broken off."""
    with writing_lock(library):
        pass
    files = {path.name for path in library.iterdir() if path.is_file()}
    return files == {"vocabulary.toml", LOCK_FILE} and not list(library.rglob("*.part"))


@pytest.mark.parametrize("step", ["replace", "fsync", "unlink"])
def test_killed_before_any_step_an_add_leaves_all_or_nothing(
    library, tmp_path, table, workers, step
):
    half_way, seen = 0, []
    for nth in range(1, 60):
        copy = shutil.copytree(library, tmp_path / f"copy-{nth}")
        ended = workers[0].run(f"add-killed {copy} {table} {step} {nth}")
        assert ended in (0, -signal.SIGKILL)
        half_way += 0 < len(on_disk(copy)) < len(STUDIES)
        found = added(copy)
        assert found in (set(), STUDIES)
        assert is_tidy(copy)
        seen.append(found == STUDIES)
        if ended == 0:
            break
    assert seen[-1] and len(seen) > 1
    if step == "replace":
        # The list itself, then the vocabulary, then each study; once it is listed it counts.
        assert half_way == len(STUDIES) - 1
        assert seen == [False] + [True] * (len(STUDIES) + 2)


@pytest.mark.parametrize("step", ["replace", "fsync", "unlink"])
@pytest.mark.parametrize("refused", [1, 2, 3, 4, 5])
def test_killed_while_a_refused_add_is_undone_it_leaves_all_or_nothing(
    library, tmp_path, table, workers, tree_hash, step, refused
):
    before, seen = tree_hash(library), []
    for nth in range(1, 60):
        copy = shutil.copytree(library, tmp_path / f"copy-{nth}")
        ended = workers[0].run(f"add-refused {copy} {table} {refused} {step} {nth}")
        assert ended in (1, -signal.SIGKILL)
        found = added(copy)
        assert found in (set(), STUDIES)
        assert is_tidy(copy)
        seen.append(found == STUDIES)
        if ended == 1:
            break
    # Undone to the end, nothing is left of it; until the undoing is listed, the change stands.
    (copy / LOCK_FILE).unlink()
    assert tree_hash(copy) == before
    assert seen == sorted(seen, reverse=True)
    if step == "replace" and refused > 2:
        # Refused at a file: the new list is first, then the vocabulary comes back.
        assert seen == [True, False, False]


@pytest.mark.parametrize("refused", [1, 2, 3, 4, 5])
def test_where_not_even_the_undoing_is_taken_the_change_is_finished_later(
    library, table, workers, refused
):
    assert workers[0].run(f"add-refused-for-good {library} {table} {refused}") == 1
    found = added(library)
    assert found == (STUDIES if refused > 2 else set())
    assert is_tidy(library)


@pytest.mark.parametrize("nth", [1, 2, 3, 4])
def test_killed_at_any_rename_a_save_with_a_new_word_leaves_both_or_neither(library, workers, nth):
    ended = workers[0].run(f"save-killed {library} replace {nth}")
    assert ended == (0 if nth == 4 else -signal.SIGKILL)
    records = load_records(library)
    assert records.faults == ()
    assert ("third" in records.studies) == ("calf" in records.vocabulary.words("site")) == (nth > 1)
    assert is_tidy(library)


def test_killed_at_a_random_moment(library, tmp_path, workers):
    many = {f"study-{number}" for number in range(15)}
    table = tmp_path / "many.csv"
    table.write_text(strength_table(sorted(many), site="calf"), encoding="utf-8")
    chance, broken_off, outcomes = random.Random(20_261_125), 0, set()
    for number in range(TRIES):
        copy = shutil.copytree(library, tmp_path / f"copy-{number}")
        workers[0].start(f"add {copy} {table}")
        give_up = time.monotonic() + 30
        while not any((copy / "studies").glob(".*.part")) and len(on_disk(copy, many)) < len(many):
            assert time.monotonic() < give_up
        time.sleep(chance.uniform(0.0, 0.03))
        workers[0].kill()
        workers[0].ended()
        broken_off += bool(list(copy.rglob("*.part")))
        found = added(copy)
        assert found in (set(), many)
        assert is_tidy(copy)
        outcomes.add(len(found))
        shutil.rmtree(copy)
    # The kills are of use only if some fall into the middle of a write.
    assert broken_off >= TRIES // 10
    assert outcomes <= {0, len(many)}


def test_a_killed_add_keeps_nobody_out(library, table, workers):
    workers[0].run(f"add-killed {library} {table} replace 3")
    assert is_unfinished(library)
    begin = time.monotonic()
    report = add_table(library, table)
    assert {problem.rule for problem in report.problems} == {"already-there"}
    assert time.monotonic() - begin < 5
    assert added(library) == STUDIES


def test_a_file_changed_by_hand_since_the_kill_is_left_alone(library, table, workers):
    workers[0].run(f"add-killed {library} {table} replace 3")
    (missing, *_) = sorted(STUDIES - on_disk(library))
    path = library / "studies" / f"{missing}.toml"
    mine = (library / "studies" / "good-one.toml").read_text("utf-8").replace("good-one", missing)
    path.write_text(mine, encoding="utf-8")
    assert added(library) == STUDIES
    assert path.read_text(encoding="utf-8") == mine
    (kept,) = (library / KEPT_FOLDER).glob(f"{missing}--*.toml")
    assert "236.40" in kept.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"moves": 3}',
        json.dumps({"moves": [{"from": "studies/good-one.toml", "to": "x.toml", "was": ""}]}),
        json.dumps({"moves": [{"from": "studies/.x.0123456789ab.part", "to": "../x", "was": ""}]}),
        json.dumps({"moves": [{"from": "", "to": "../../x.toml", "was": ""}]}),
        json.dumps({"moves": [{"from": "", "to": "studies/notes.txt", "was": ""}]}),
    ],
)
def test_a_list_that_is_none_renames_nothing_and_is_told(library, tree_hash, text):
    (library / "studies" / ".x.0123456789ab.part").write_text("x", encoding="utf-8")
    (library / JOURNAL_FILE).write_text(text, encoding="utf-8")
    before = tree_hash(library)
    records = load_records(library)
    assert [(finding.file, finding.rule) for finding in records.faults] == [
        (JOURNAL_FILE, "unfinished")
    ]
    assert set(records.studies) == {"good-one", "good-two"}
    with pytest.raises(UsageError, match="take it away"), writing_lock(library):
        pass
    assert tree_hash(library) == before


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes by name here")
def test_a_pipe_in_place_of_the_list_keeps_nobody_waiting(library):
    os.mkfifo(library / JOURNAL_FILE)
    assert [finding.rule for finding in load_records(library).faults] == ["unfinished"]
