"""``steelyard new recommendation``: from answers to records and a notebook, all or nothing."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

from steelyard import open_library
from steelyard.notebook.template import recommendation_notebook
from tests.judging.reviewed_library import effect, told_library
from tests.small_library import study

VOCABULARY = """schema = 1
[[construct]]
id = "strength"
label = "strength"
[[tag]]
id = "slow"
label = "slow lowering"
[[tag]]
id = "usual"
label = "usual lifting"
"""
TYPED = (
    *("Lower slowly twice a week: it helps.", "slow-twice", "a new question"),
    *("Does lowering slowly help?", "", "rowers", "1", "usual lifting", "strength"),
    *("standardised", "0.2", "a fifth of a standard deviation, common practice"),
    *("club rowers", "", "ten minutes", "huge", "small", "", "", ""),
    *("maybe", "yes", "2", "4-6", "", "", "6-8", "", "", "", "", "", "y"),
)
ANSWERS = """schema = 1
id = "from-file"
statement = "Rest as you like."
questions = ["asked"]
cost_size = "small"
[dose]
rest_s = [60, 180]
"""


@pytest.fixture
def folder(tmp_path):
    path = tmp_path / "library"
    path.mkdir()
    (path / "vocabulary.toml").write_text(VOCABULARY, encoding="utf-8")
    told_library(path)
    return path


def run(folder, *words, typed=()):
    command = [sys.executable, "-m", "steelyard", *words, "--library", str(folder)]
    return subprocess.run(
        command,
        input="".join(f"{line}\n" for line in typed),
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )


def files(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name != ".lock"
    }


def from_file(folder, text: str):
    path = folder.parent / "answers.toml"
    path.write_text(text, encoding="utf-8")
    return run(folder, "new", "recommendation", "--answers", str(path))


def test_typed_answers_make_a_question_a_recommendation_and_a_notebook(folder):
    before = files(folder)
    done = run(folder, "new", "recommendation", typed=TYPED)
    assert done.returncode == 0, done.stderr
    assert "found 'huge'" in done.stdout
    made = set(files(folder)) - set(before)
    assert made == {
        "recommendations/slow-twice.toml",
        "questions/does-lowering-slowly-help.toml",
        "workbook/recommendations/slow-twice.ipynb",
    }
    assert all(files(folder)[name] == content for name, content in before.items())
    library = open_library(folder)
    record = library.recommendations["slow-twice"]
    question = library.questions["does-lowering-slowly-help"]
    assert (question.intervention, question.comparator) == (("slow",), ("usual",))
    assert str(question.smallest_worthwhile) == "0.2"
    assert record.cost_size == "small"
    assert [str(end) for end in record.dose.reps] == ["6", "8"]
    assert record.not_for_whom is None
    assert record.told is None
    # 6 to 8 repetitions of work for one small muscle group: told, with what is usual.
    assert record.small_muscle_isolation
    assert "found 'maybe'" in done.stdout
    assert "usual there: 2 to 3 sessions a week" in done.stdout
    assert "dose: repetitions 6 to 8: 10 to 20 are usual for a small muscle group" in done.stdout
    assert "dose: sets a week 4 to 6: no pooled study says" in done.stdout


def test_it_may_rest_on_several_questions(folder):
    typed = list(TYPED)
    typed[2] = "2, asked"
    done = run(folder, "new", "recommendation", typed=typed)
    assert done.returncode == 0, done.stderr
    record = open_library(folder).recommendations["slow-twice"]
    assert record.questions == ("does-lowering-slowly-help", "asked")
    assert done.stdout.count("  question  ") == 2


def test_it_asks_of_which_part_of_the_body_question_and_recommendation_speak(folder):
    sites = '[[site]]\nid = "thigh"\nlabel = "thigh"\n[[site]]\nid = "calf"\nlabel = "calf"\n'
    (folder / "vocabulary.toml").write_text(VOCABULARY + sites, encoding="utf-8")
    measured, told = TYPED.index("strength") + 1, TYPED.index("0.2") + 2
    typed = [*TYPED[:measured], "shoulder", "thigh, calf", *TYPED[measured:told], "thigh"]
    done = run(folder, "new", "recommendation", typed=[*typed, *TYPED[told:]])
    assert done.returncode == 0, done.stderr
    assert "found 'shoulder'" in done.stdout
    library = open_library(folder)
    assert library.questions["does-lowering-slowly-help"].sites == ("thigh", "calf")
    assert library.recommendations["slow-twice"].sites == ("thigh",)


def test_a_part_of_the_body_the_vocabulary_lacks_is_a_fault(folder):
    sites = '[[site]]\nid = "thigh"\nlabel = "thigh"\n'
    (folder / "vocabulary.toml").write_text(VOCABULARY + sites, encoding="utf-8")
    before = files(folder)
    done = from_file(folder, ANSWERS.replace("[dose]", 'sites = ["thihg"]\n[dose]'))
    assert done.returncode == 1
    assert "expected a site from vocabulary.toml, found 'thihg'" in done.stdout + done.stderr
    assert files(folder) == before


def test_it_runs_at_once(folder):
    run(folder, "new", "recommendation", typed=TYPED)
    weighed = run(folder, "weigh", "does-lowering-slowly-help", "--format", "json")
    assert json.loads(weighed.stdout)["k_studies"] == 4
    path = folder / "workbook" / "recommendations" / "slow-twice.ipynb"
    book = nbformat.read(path, as_version=4)
    made = recommendation_notebook("slow-twice")
    assert [cell.source for cell in book.cells] == [cell.source for cell in made.cells]
    out = folder.parent / "pages"
    done = run(folder, "report", "--out", str(out))
    assert done.returncode == 0, done.stderr
    assert "Lower slowly twice a week" in done.stdout
    page = (out / "recommendations" / "slow-twice.html").read_text(encoding="utf-8")
    for heading in ("How sure?", "For whom?", "What would change our mind"):
        assert f">{heading}</h2>" in page
    assert "<strong>This cell failed.</strong>" not in page


def test_answers_from_a_file_on_a_question_that_is_there(folder):
    done = from_file(folder, ANSWERS)
    assert done.returncode == 0, done.stderr
    assert open_library(folder).recommendations["from-file"].questions == ("asked",)


def test_answers_from_a_file_with_a_new_question(folder):
    text = ANSWERS.replace('questions = ["asked"]\n', "") + (
        '[question]\nid = "fresh"\nasks = "Does it?"\nintervention = "slow"\n'
        'comparator = "usual"\nconstructs = ["strength"]\n'
    )
    done = from_file(folder, text)
    assert done.returncode == 0, done.stderr
    assert open_library(folder).recommendations["from-file"].questions == ("fresh",)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (('"asked"', '"askd"'), "found 'askd'"),
        (("[60, 180]", "[60]"), "dose.rest_s"),
        (('"from-file"', '"From File"'), "id"),
        (("statement", "statment"), "statment"),
        (('"small"', '"tiny"'), "cost_size"),
        (('questions = ["asked"]', "questions = []"), "questions"),
        (('cost_size = "small"', 'sites = ["ear"]\ncost_size = "tiny"'), "cost_size"),
        (("schema = 1", "schema = "), "not valid TOML"),
        (("[dose]", '[question]\nid = "fresh"\n[dose]'), "asks"),
        (("[dose]", "question = 5\n[dose]"), "expected a group of answers"),
    ],
)
def test_unsound_answers_are_told_and_nothing_is_written(folder, change, said):
    before = files(folder)
    done = from_file(folder, ANSWERS.replace(*change))
    assert done.returncode == 1
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert files(folder) == before


def test_every_fault_is_told_at_once(folder):
    text = ANSWERS.replace('"asked"', '"askd"').replace("[60, 180]", "[60]")
    text += '[question]\nid = "fresh"\nasks = "?"\nconstructs = ["strengt"]\n'
    stderr = from_file(folder, text).stderr
    assert "dose.rest_s" in stderr
    assert "fault: question" in stderr


@pytest.mark.parametrize("taken", ["lower", "asked"])
def test_ids_that_are_taken_are_refused(folder, taken):
    before = files(folder)
    text = ANSWERS.replace("from-file", "lower")
    if taken == "asked":
        text = ANSWERS.replace('questions = ["asked"]\n', "") + (
            '[question]\nid = "asked"\nasks = "Does it?"\nintervention = "slow"\n'
            'comparator = "usual"\nconstructs = ["strength"]\n'
        )
    done = from_file(folder, text)
    assert done.returncode == 2
    assert f"{taken}.toml is already there" in done.stderr
    assert files(folder) == before


def test_a_notebook_in_the_way_stops_all_of_it(folder):
    place = folder / "workbook" / "recommendations" / "from-file.ipynb"
    place.parent.mkdir(parents=True)
    place.write_text("mine", encoding="utf-8")
    before = files(folder)
    done = from_file(folder, ANSWERS)
    assert done.returncode == 2
    assert files(folder) == before


def test_breaking_off_and_saying_no_write_nothing(folder):
    before = files(folder)
    assert run(folder, "new", "recommendation", typed=TYPED[:7]).returncode == 130
    assert run(folder, "new", "recommendation", typed=[*TYPED[:-1], "n"]).returncode == 130
    assert files(folder) == before


def test_a_taken_name_is_asked_for_again(folder):
    typed = list(TYPED)
    typed[1:2] = ["Lower", "lower", "slow-twice"]
    done = run(folder, "new", "recommendation", typed=typed)
    assert done.returncode == 0, done.stderr
    assert "lower is taken" in done.stdout


def test_a_question_without_studies_is_made_and_says_so(folder):
    text = ANSWERS.replace('questions = ["asked"]\n', "") + (
        '[question]\nid = "fresh"\nasks = "Does it?"\nintervention = "usual"\n'
        'comparator = "usual"\nconstructs = ["strength"]\neligible = { design = ["crossover"] }\n'
    )
    done = from_file(folder, text)
    assert done.returncode == 0, done.stderr
    assert "Nothing could be pooled" in done.stdout
    study(folder, "extra", effect(0.4))
    assert run(folder, "report", "--out", str(folder.parent / "pages")).returncode == 0


def test_every_fault_of_the_answers_is_told_at_once(folder):
    text = ANSWERS.replace('cost_size = "small"', 'sites = ["ear"]\ncost_size = "tiny"')
    text = text.replace('"asked"', '"askd"').replace("[60, 180]", "[60]")
    done = from_file(folder, text)
    assert done.returncode == 1
    for said in ("found 'askd'", "dose.rest_s", "cost_size", "found 'ear'"):
        assert said in done.stderr
