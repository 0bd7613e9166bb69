"""The command from a terminal: what it prints, its exit status, no tracebacks."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from steelyard.library import shipped_library
from tests.small_library import question, result, study


def run(*arguments, **options):
    return subprocess.run(
        [sys.executable, "-m", "steelyard", *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        **options,
    )


def tree_hash(folder: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        digest.update(str(path.relative_to(folder)).encode())
        if path.is_file():
            digest.update(path.read_bytes())
    return digest.hexdigest()


@pytest.fixture
def sound(tmp_path):
    for name, gain in (("aldbury", 6), ("benholm", 9), ("carrick", 7)):
        body = result(
            "slow", pre="{ mean = 50, sd = 10 }", post=f"{{ mean = {50 + gain}, sd = 10 }}", r="0.8"
        )
        body += result(
            "usual", pre="{ mean = 50, sd = 10 }", post="{ mean = 53, sd = 10 }", r="0.8"
        )
        study(tmp_path, name, body)
    question(tmp_path)
    return tmp_path


def test_help_names_every_command():
    done = run("--help")
    assert done.returncode == 0
    for name in ("open", "report", "check", "effects", "weigh", "add"):
        assert name in done.stdout


def test_check_of_the_shipped_library_finds_no_fault():
    done = run("check")
    assert done.returncode == 0, done.stdout
    assert "0 faults" in done.stdout


def test_check_counts_notes_of_one_kind_and_lists_them_when_asked():
    short, full = (run("check", *more).stdout.splitlines() for more in ((), ("--all",)))
    rows = json.loads(run("check", "--format", "json").stdout)
    assert len(full) == len(rows) + 1
    notes = [line for line in full if line.startswith("note:") and "[read-once]" in line]
    left = [line for line in short if line.startswith("note:") and "[read-once]" in line]
    assert len(notes) > 6
    assert left[:5] == notes[:5]
    more = len(notes) - 5
    assert left[5:] == [f"note: {more} more notes of this kind [read-once]; --all lists them"]
    graver = ("fault:", "warning:")
    assert [line for line in short if line.startswith(graver)] == [
        line for line in full if line.startswith(graver)
    ]
    assert short[-1] == full[-1]


def test_weigh_prints_the_answer_and_json_the_same(sound):
    shown = run("weigh", "asked", "--library", sound)
    assert shown.returncode == 0
    data = json.loads(run("weigh", "asked", "--library", sound, "--format", "json").stdout)
    assert f"{data['estimate']:+.2f} SD" in shown.stdout
    assert data["k_studies"] == 3


def test_effects_as_csv_holds_every_row(sound):
    done = run("effects", "asked", "--library", sound, "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert [row["study"] for row in rows] == ["aldbury", "benholm", "carrick"]
    assert all(float(row["variance"]) > 0 for row in rows)


def test_cells_a_spreadsheet_would_run_are_made_harmless(sound):
    path = sound / "studies" / "aldbury.toml"
    path.write_text(path.read_text().replace('family = "Aldbury"', 'family = "=1+1"'))
    done = run("effects", "asked", "--library", sound, "--format", "csv")
    assert "'=1+1" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["weigh", "nothing-like-it"], "no question 'nothing-like-it'"),
        (["weigh"], "Missing argument"),
        (["wiegh", "asked"], "No such command"),
        (["weigh", "asked", "--format", "xml"], "xml"),
        (["check", "--library", "no-such-folder"], "does not exist"),
    ],
)
def test_wrong_usage_is_status_2_and_one_message(sound, arguments, said):
    if "--library" not in arguments:
        arguments = [*arguments, "--library", str(sound)]
    done = run(*arguments)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_empty_question_is_status_1_with_the_reason(sound):
    question(sound, "wrists", 'sites = ["wrist"]')
    done = run("weigh", "wrists", "--library", sound)
    assert done.returncode == 1
    assert "wrists" in done.stderr and "Traceback" not in done.stderr


BAD = {
    "n = 1": ("n = 20\n", "n = 1\n", "2 or more, found 1"),
    "sd = 0": ("sd = 10 }", "sd = 0 }", "above 0, found 0"),
    "text in a number": ("mean = 50,", 'mean = "fifty",', "expected a number, found 'fifty'"),
    "malformed": ("[source]", "[source", "not valid TOML"),
    "unknown key": ("randomised = true", "randomized = true", "nearest known: randomised"),
    "duplicate id": ('id = "aldbury"', 'id = "benholm"', "'benholm'"),
}


@pytest.mark.parametrize("name", BAD)
def test_one_bad_record_is_named_and_the_others_are_weighed(sound, name):
    old, new, said = BAD[name]
    path = sound / "studies" / "aldbury.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    before = tree_hash(sound)
    done = run("check", "--library", sound)
    assert done.returncode == 1
    assert "studies/aldbury.toml" in done.stdout and said in done.stdout
    weighed = run("weigh", "asked", "--library", sound, "--format", "json")
    assert json.loads(weighed.stdout)["k_studies"] == 2
    assert "aldbury" in weighed.stderr
    assert tree_hash(sound) == before


def test_huge_file_and_directory_in_place_of_a_file(sound):
    (sound / "studies" / "huge.toml").write_bytes(b"# " + b"x" * 50_000_000)
    (sound / "studies" / "folder.toml").mkdir()
    done = run("check", "--library", sound)
    assert done.returncode == 1
    assert "studies/huge.toml: expected a record of at most" in done.stdout
    assert "studies/folder.toml: expected a file, found a directory" in done.stdout
    assert "3 studies" in done.stdout


def test_unknown_tag_is_named_with_the_nearest(tmp_path):
    folder = tmp_path / "evidence"
    shutil.copytree(shipped_library(), folder)
    path = next(
        path
        for path in sorted((folder / "studies").iterdir())
        if '"slow-lowering"' in path.read_text(encoding="utf-8")
    )
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('"slow-lowering"', '"slow-lowring"', 1), encoding="utf-8")
    done = run("check", "--library", folder)
    assert done.returncode == 1
    assert "'slow-lowring'; nearest known: slow-lowering" in done.stdout


TABLE = (
    "study,arm,tags,n,outcome,construct,week,pre_mean,pre_sd,post_mean,post_sd,r\n"
    "Dunmore 2022,slow,slow,18,peak,strength,12,50,10,58,10,0.8\n"
    "Dunmore 2022,usual,usual,18,peak,strength,12,50,10,53,10,0.8\n"
)


def test_a_table_added_moves_the_answer(sound, tmp_path):
    table = tmp_path / "table.csv"
    table.write_text(TABLE)
    tried = run("add", table, "--library", sound, "--dry-run").stdout
    assert tried.startswith("would add studies/dunmore-2022.toml") and "TableWord" not in tried
    assert not (sound / "studies" / "dunmore-2022.toml").exists()
    assert run("add", table, "--library", sound).returncode == 0
    data = json.loads(run("weigh", "asked", "--library", sound, "--format", "json").stdout)
    assert data["k_studies"] == 4


def test_a_bad_row_writes_nothing(sound, tmp_path):
    table = tmp_path / "table.csv"
    table.write_text(TABLE.replace("58,10,0.8", "about 58,10,0.8"))
    before = tree_hash(sound)
    done = run("add", table, "--library", sound)
    assert done.returncode == 1
    assert "row 2" in done.stderr and "about 58" in done.stderr
    assert tree_hash(sound) == before
