"""A library with faults: every command works on what is sound, tells the rest, ends with 1."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from steelyard.cli import main, opening
from tests.small_library import SLOW, USUAL, question, study

RECOMMENDATION = """schema = 1
id = "{id}"
statement = "Lower slowly twice a week."
questions = ["{question}"]
"""
ANSWERS = 'schema = 1\nid = "other"\nstatement = "Rest well."\nquestions = ["asked"]\n'
COMMANDS = {
    "check": ["check"],
    "effects": ["effects"],
    "effects of one": ["effects", "asked"],
    "weigh": ["weigh", "asked"],
    "read": ["read", "benholm"],
    "review": ["review"],
    "review mark": ["review", "--mark", "advice", "--by", "K", "--note", "read"],
    "explain": ["explain", "advice"],
    "export": ["export", "{tmp}/table.csv"],
    "new": ["new", "recommendation", "--answers", "{tmp}/answers.toml"],
}


def recommendation(folder: Path, name: str = "advice", *, on: str = "asked") -> Path:
    path = folder / "recommendations" / f"{name}.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_text(RECOMMENDATION.format(id=name, question=on), encoding="utf-8")
    return path


@pytest.fixture
def library(tmp_path: Path) -> Path:
    folder = tmp_path / "library"
    for name in ("aldbury", "benholm", "carrick"):
        study(folder, name, SLOW + USUAL)
    question(folder)
    recommendation(folder)
    (tmp_path / "answers.toml").write_text(ANSWERS, encoding="utf-8")
    return folder


@pytest.fixture
def told(monkeypatch, capsys):
    """Run the command in this process: exit status, standard output, standard error."""

    def run(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["steelyard", *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            main()
        return left.value.code, *capsys.readouterr()

    return run


def arguments_of(name: str, library: Path) -> list[str]:
    words = [word.format(tmp=library.parent) for word in COMMANDS[name]]
    return [*words, "--library", str(library)]


def spoil(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    path.write_text(f"colour = 3\n{text}", encoding="utf-8")


@pytest.mark.parametrize("name", COMMANDS)
def test_a_sound_library_is_status_0(library, told, name):
    status, _, err = told(*arguments_of(name, library))
    assert status == 0 and "fault" not in err


@pytest.mark.parametrize("name", COMMANDS)
def test_one_faulty_study_is_told_and_the_work_is_done(library, told, name):
    _, sound, _ = told(*arguments_of(name, library))
    for made in (*library.rglob("other.*"), library.parent / "table.csv"):
        made.unlink(missing_ok=True)
    spoil(library / "studies" / "aldbury.toml")
    status, out, err = told(*arguments_of(name, library))
    assert status == 1
    assert "studies/aldbury.toml: colour: unknown key" in (out if name == "check" else err)
    if name == "check":
        assert "2 studies, 1 question, 1 recommendation usable; 1 fault" in out
    else:
        assert err.count("colour") == 1 and "faults in 1 file, everything else is used" in err
        assert bool(out) == bool(sound)


@pytest.mark.parametrize("kind", ["studies", "questions", "recommendations"])
@pytest.mark.parametrize("name", [name for name in COMMANDS if name not in ("new", "review mark")])
def test_a_kind_of_file_of_which_none_is_sound_is_status_1(library, told, name, kind):
    for path in (library / kind).iterdir():
        spoil(path)
    status, out, err = told(*arguments_of(name, library))
    assert status == 1
    assert f"fault: {kind}/" in out + err and "Traceback" not in err


@pytest.mark.parametrize("file", ["settings.toml", "certainty-rules.toml", "vocabulary.toml"])
@pytest.mark.parametrize("name", ["check", "weigh", "review"])
def test_a_fault_in_a_file_beside_the_records_is_status_1(library, told, file, name):
    (library / file).write_text("colour = 3\n", encoding="utf-8")
    status, out, err = told(*arguments_of(name, library))
    assert status == 1 and f"fault: {file}: " in out + err


@pytest.mark.parametrize("file", ["settings.toml", "certainty-rules.toml"])
def test_what_an_explanation_cannot_do_without_is_told_once(library, told, file):
    (library / file).write_text("colour = 3\n", encoding="utf-8")
    status, out, err = told(*arguments_of("explain", library))
    assert (status, out) == (1, "")
    assert err.count(f"fault: {file}") == 1 and f"nothing to show, for it needs {file}" in err


def test_a_question_with_faults_is_named_by_what_rests_on_it(library, told):
    spoil(library / "questions" / "asked.toml")
    _, out, _ = told("check", "--library", library)
    assert "questions: rests on 'asked', but questions/asked.toml has faults" in out
    assert "nearest known" not in out


def test_opening_tells_faults_and_opens(library, told, monkeypatch):
    started = []
    monkeypatch.setattr(opening.subprocess, "call", lambda *a, **k: started.append(a) or 0)
    monkeypatch.setattr(opening.signal, "signal", lambda *a: None)
    arguments = ("open", "--no-browser", "--library", library)
    assert told(*arguments)[0] == 0
    spoil(library / "studies" / "aldbury.toml")
    status, _, err = told(*arguments)
    assert status == 1 and len(started) == 2
    assert "studies/aldbury.toml: colour: unknown key" in err


def test_a_report_names_the_answers_that_faults_take_away(library, tmp_path):
    question(library, "again")
    recommendation(library, "unread", on="asked")
    recommendation(library, "rests", on="again")
    question(library, "lonely")
    faulty = ("recommendations/unread", "questions/again", "questions/lonely", "studies/aldbury")
    for name in faulty:
        spoil(library / f"{name}.toml")
    (library / "workbook").mkdir()
    out = tmp_path / "pages"
    done = subprocess.run(
        [sys.executable, "-m", "steelyard", "report", "--library", library, "--out", out],
        capture_output=True,
        encoding="utf-8",
        timeout=300,
    )
    assert done.returncode == 1
    assert "Lower slowly twice a week." in done.stdout
    index = (out / "index.html").read_text(encoding="utf-8")
    for line in (
        "recommendations/unread.toml: no answer: colour: unknown key",
        "recommendations/rests.toml: no answer: questions/again.toml: colour: unknown key",
        "questions/lonely.toml: no answer: colour: unknown key",
    ):
        assert line in done.stdout and line in index
    assert "questions/again.toml: no answer" not in done.stdout
    assert "left out of every answer, for faults: studies/aldbury.toml" in index


def test_json_stays_json_beside_faults(library, told):
    spoil(library / "studies" / "aldbury.toml")
    status, out, _ = told("weigh", "asked", "--library", library, "--format", "json")
    assert status == 1 and json.loads(out)["k_studies"] == 2
