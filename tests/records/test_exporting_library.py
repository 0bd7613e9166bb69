"""A whole library out as one table, and in again as an equal library."""

from __future__ import annotations

import csv
import io
import shutil
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from steelyard import open_library
from steelyard.records import load_records
from steelyard.records.adding import add_file
from steelyard.records.exporting import export_file
from steelyard.records.fingerprint import fingerprint
from steelyard.records.library_files import library_texts
from steelyard.records.question import Question
from steelyard.records.recommendation import Recommendation
from steelyard.records.second_reading import ask_second_reading, find_reading
from steelyard.records.settings import read_settings
from steelyard.records.tables.whole import line_cells, read_line
from steelyard.records.writing import record_to_toml

ROOT = Path(__file__).resolve().parents[2]
RULES = ROOT / "src" / "steelyard" / "judging" / "certainty" / "rules.toml"
FORMS = (".csv", ".xlsx")
SETTINGS = 'schema = 1\npaper = "Letter"\n\n[coach]\nname = "=1+1"   # odd on purpose\n'


def exported(library: Path, path: Path) -> Path:
    path.unlink(missing_ok=True)
    records = load_records(library)
    export_file(records.studies, path, texts=dict(library_texts(records)))
    return path


@pytest.fixture
def shipped(tmp_path) -> Path:
    """The shipped library with every other kind of file a library may have."""
    folder = tmp_path / "shipped"
    shutil.copytree(ROOT / "evidence", folder, ignore=shutil.ignore_patterns(".*"))
    (folder / "settings.toml").write_text(SETTINGS, encoding="utf-8")
    shutil.copy(RULES, folder / "certainty-rules.toml")
    study = next(iter(load_records(folder).studies.values()))
    ask_second_reading(folder, study, by="Ada")
    return folder


@pytest.mark.parametrize("form", FORMS)
def test_the_shipped_library_comes_back_equal(shipped, tmp_path, form):
    new = tmp_path / "new"
    report = add_file(new, exported(shipped, tmp_path / f"all{form}"))
    assert report.problems == () and report.new_words == ()
    before, after = load_records(shipped), load_records(new)
    assert after.findings == before.findings
    assert after.studies == before.studies and len(after.studies) > 40
    assert after.questions == before.questions and after.questions
    assert after.recommendations == before.recommendations and after.recommendations
    assert after.vocabulary == before.vocabulary
    assert read_settings(new) == read_settings(shipped)
    first = next(iter(before.studies))
    assert find_reading(new, first) == find_reading(shipped, first) is not None
    for name, text in library_texts(before):
        assert (new / name).read_text(encoding="utf-8") == text
    for kind in ("studies", "questions", "recommendations"):
        one, other = (getattr(each, kind).values() for each in (before, after))
        assert fingerprint(one) == fingerprint(other)
    question = next(iter(before.questions))
    marks = [open_library(folder).weigh(question).fingerprint for folder in (shipped, new)]
    assert marks[0] == marks[1]


LINES = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\n"), max_size=40)
SAID = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], include_characters="\t\r"), max_size=40
)
ODD = st.sampled_from(
    ("=1+1", "'=1", "@x", "-2", " indented", "trailing ", '"quoted"', '"', "", "\t", "[x]", "12")
)


@given(LINES | ODD)
def test_a_line_is_kept_in_its_cell(line):
    (text,) = [cell for header, cell in line_cells("x", line).items() if header == "text"]
    assert text == text.strip() and not {"\n", "\r", "\0"} & set(text)
    assert read_line(text) == line


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(SAID | ODD, min_size=1, max_size=5), SAID.filter(str.strip))
def test_any_words_in_a_question_and_a_recommendation_come_back(
    tmp_path_factory, library_text, words, statement
):
    folder = tmp_path_factory.mktemp("odd")
    library_text(folder / "one", asks=words, statement=statement)
    for form in FORMS:
        new = folder / f"new{form}"
        report = add_file(new, exported(folder / "one", folder / f"all{form}"))
        assert report.problems == ()
        before, after = load_records(folder / "one"), load_records(new)
        assert before.faults == () and len(before.questions) == 1
        assert after.questions == before.questions
        assert after.recommendations == before.recommendations


@pytest.fixture
def library_text(library):
    """Write a library whose question and recommendation hold given words."""

    def write(folder: Path, *, asks: list[str], statement: str) -> None:
        shutil.copytree(library, folder)
        name = "slow-lowering-strength"
        path = folder / "questions" / f"{name}.toml"
        question = load_records(folder).questions[name]
        values = question.model_dump(by_alias=True, exclude_unset=True)
        values["asks"] = "\n".join(["x", *asks, "x"])
        path.write_bytes(record_to_toml(Question.model_validate(values)).encode("utf-8"))
        recommendation = Recommendation(id="odd", statement=statement, questions=(name,))
        target = folder / "recommendations" / "odd.toml"
        target.write_bytes(record_to_toml(recommendation).encode("utf-8"))

    return write


def test_no_line_is_run_by_a_spreadsheet(library, tmp_path):
    (library / "settings.toml").write_text(
        'schema = 1\nclients_folder = """x\n=HYPERLINK(1)\n+1\n@x"""\n', encoding="utf-8"
    )
    text = exported(library, tmp_path / "a.csv").read_text("utf-8-sig")
    cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
    assert {"'=HYPERLINK(1)", "'+1", '\'@x"""'} <= set(cells)
    assert not any(cell[:1] in ("=", "+", "@") for cell in cells)
    sheet = openpyxl.load_workbook(exported(library, tmp_path / "a.xlsx")).active
    assert {cell.data_type for row in sheet.iter_rows() for cell in row} == {"s", "n"}
    for form in FORMS:
        assert add_file(tmp_path / f"new{form}", tmp_path / f"a{form}").problems == ()
        assert read_settings(tmp_path / f"new{form}") == read_settings(library)


def test_a_library_keeps_its_own_and_learns_new_words(library, tmp_path):
    other = tmp_path / "other"
    shutil.copytree(library, other)
    for path in (other / "studies").iterdir():
        path.unlink()
    (other / "settings.toml").write_text('schema = 1\npaper = "A4"\n', encoding="utf-8")
    (library / "settings.toml").write_text(SETTINGS, encoding="utf-8")
    with open(library / "vocabulary.toml", "a", encoding="utf-8") as stream:
        stream.write('\n[[tag]]\nid = "rest"\nlabel = "long rest"\nnotes = "in minutes"\n')
    report = add_file(other, exported(library, tmp_path / "all.csv"))
    assert report.problems == ()
    assert [(word.kind, word.id) for word in report.new_words] == [("tag", "rest")]
    assert report.updated == ("vocabulary.toml",)
    assert report.notes == (
        "settings.toml is passed over: the library has its own",
        "questions/slow-lowering-strength.toml is passed over: the library has the same",
    )
    assert load_records(other).vocabulary == load_records(library).vocabulary
    assert load_records(other).studies == load_records(library).studies
    assert read_settings(other).paper == "A4"


@pytest.mark.parametrize(
    ("old", "new", "file", "shows"),
    [
        ("questions/slow", "../slow", "all.csv", "such as questions/example.toml"),
        ("metric = ", "metrik = ", "questions/slow-lowering-strength.toml", "unknown key"),
        ('constructs = [""strength""]', 'constructs = [""speed""]', "questions/", "vocabulary"),
    ],
)
def test_one_bad_line_keeps_everything_out(library, tmp_path, old, new, file, shows):
    path = library / "questions" / "slow-lowering-strength.toml"
    path.write_text(path.read_text("utf-8") + 'metric = "raw"\n', encoding="utf-8")
    table = exported(library, tmp_path / "all.csv")
    text = table.read_text("utf-8-sig")
    assert old in text
    table.write_text(text.replace(old, new), encoding="utf-8")
    report = add_file(tmp_path / "new", table)
    assert report.added == () and not (tmp_path / "new").exists()
    told = [problem for problem in report.problems if problem.file.startswith(file)]
    assert any(shows in problem.message for problem in told), report.problems


def test_every_bad_line_is_told_at_once(library, tmp_path):
    name = "questions/slow-lowering-strength.toml"
    table = exported(library, tmp_path / "all.csv")
    text = table.read_text("utf-8-sig")
    for old, new in (
        ("invented = true", "invented = 3"),
        ('comparator = ""usual""', 'comparator = ""usuel""'),
        ('label = ""Hamstrings""', "label = 3"),
    ):
        text = text.replace(old, new)
    table.write_text(text, encoding="utf-8")
    problems = add_file(tmp_path / "new", table).problems
    told = {(problem.file, problem.path) for problem in problems}
    assert {(name, "invented"), ("vocabulary.toml", "site[1].label")} <= told


def test_a_question_of_the_same_name_that_says_something_else_stops_all(
    library, tmp_path, tree_hash
):
    table = exported(library, tmp_path / "all.csv")
    for path in (library / "studies").iterdir():
        path.unlink()
    path = library / "questions" / "slow-lowering-strength.toml"
    path.write_text(path.read_text("utf-8") + 'metric = "raw"\n', encoding="utf-8")
    before = tree_hash(library)
    (problem,) = add_file(library, table).problems
    assert (problem.rule, problem.path) == (
        "already-there",
        "questions/slow-lowering-strength.toml",
    )
    assert tree_hash(library) == before


@pytest.mark.parametrize("form", FORMS)
def test_parts_of_a_group_come_back_however_they_are_printed(shipped, tmp_path, form):
    path = shipped / "studies" / "tarnholt-2019.toml"
    text = path.read_text(encoding="utf-8")
    assert text.count("sd = 14.6") == 1 and text.count("sd = 9.5") == 1
    changed = text.replace("sd = 14.6", "se = 3.0").replace("sd = 9.5", "ci95 = [47.4, 55.4]")
    path.write_text(changed, encoding="utf-8")
    new = tmp_path / "new"
    assert add_file(new, exported(shipped, tmp_path / f"all{form}")).problems == ()
    before, after = (load_records(each).studies["tarnholt-2019"] for each in (shipped, new))
    assert after == before
    groups = [group for result in after.results for group in result.pre.groups]
    assert {group.se for group in groups} > {None} and {group.ci95 for group in groups} > {None}
