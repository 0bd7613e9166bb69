"""All studies out as one table, and in again as the same studies."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from steelyard.errors import UsageError
from steelyard.records import Study, load_records
from steelyard.records.adding import add_file
from steelyard.records.exporting import export_file, export_table
from steelyard.records.harmless import guarded, unguarded
from steelyard.records.reading import parse
from steelyard.records.tables.reading import read_table
from steelyard.records.tables.whole import KINDS, LINE, all_columns, columns_of, value_of
from steelyard.records.writing import record_to_toml

ROOT = Path(__file__).resolve().parents[2]
LIBRARY = load_records(ROOT / "evidence")
SHIPPED = LIBRARY.studies
STYLES = load_records(ROOT / "tests" / "reporting" / "styles").studies
ALL = dict(SHIPPED) | dict(STYLES)
FORMS = (".csv", ".xlsx")


def through(studies, folder, form):
    path = folder / f"studies{form}"
    path.unlink(missing_ok=True)
    export_file(studies, path)
    return read_table(path)


@pytest.mark.parametrize("form", FORMS)
def test_every_shipped_study_and_every_style_comes_back_equal(tmp_path, form):
    read = through(ALL, tmp_path, form)
    assert read.problems == ()
    assert read.layout == "whole"
    assert len(read.studies) == len(ALL) > 80
    for study in read.studies:
        assert study == ALL[study.id]
        # Also 3.40 and not 3.4, and nothing set that was not: equal in text.
        assert record_to_toml(study) == record_to_toml(ALL[study.id])


@pytest.mark.parametrize("form", FORMS)
def test_an_exported_library_is_added_to_an_empty_one(tmp_path, form):
    path = tmp_path / f"all{form}"
    export_file(SHIPPED, path)
    report = add_file(tmp_path / "new", path)
    assert report.problems == ()
    assert load_records(tmp_path / "new").studies == SHIPPED


def test_rows_name_what_they_hold_and_use_the_columns_of_the_short_layouts():
    table = export_table(SHIPPED)
    assert list(table.columns[:2]) == ["study", "row_holds"]
    assert set(table["row_holds"]) == set(KINDS) - {LINE}
    for kind, parts in (("arm", "arms"), ("result", "results"), ("comparison", "comparisons")):
        count = sum(len(getattr(study, parts)) for study in SHIPPED.values())
        assert (table["row_holds"] == kind).sum() == count
    short = {"title", "authors", "year", "arm", "tags", "n", "pre_mean", "pre_sd", "post_ci_low"}
    assert short <= set(table.columns)
    assert table[table["row_holds"] == "result"]["week"].map(type).isin([Decimal, int]).all()


def test_every_column_is_found_again_by_its_plain_name():
    headers = {"study", "row_holds", *(header for kind in KINDS for header in columns_of(kind))}
    assert set(all_columns().values()) == headers
    for kind in KINDS:
        assert len(set(columns_of(kind).values())) == len(columns_of(kind))


ODD = (
    *("=1+1", "-3.4", "+5", "@SUM(A1)", "'=1", "''x", "true", "TRUE", "12", "1e5", "nan"),
    *("2020-01-01", "07:32:00", '"quoted"', "{}", "{ a = 1 }", "[1, 2]", "a\nb", "\tx", " x "),
    *("x # y", "1 # y", "_x000D_", "0x10", "1_000", "n/a", "-", "'", '"', "\\", "<b>x</b>"),
    *("é", "\u2028", "\ufeff", "٣"),
)
LETTERS = st.characters(exclude_categories=["Cs", "Cc"], include_characters="\t\n\r")
MESSY = st.text(LETTERS, min_size=1, max_size=30) | st.sampled_from(ODD)


def with_texts(first, second, third):
    study = parse(record_to_toml(SHIPPED["thistlewick-2016"]), file="thistlewick")
    study["source"] |= {"funding": first, "volume": second}
    study["notes"] = {second: third, "two words": first}
    study["result"][0]["where"] = third
    study["arm"][0]["dose"]["order"] = first
    study["source"]["author"] = [{"literal": "A; B"}, {"family": "C, D", "given": "="}]
    return Study.model_validate(study)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(MESSY, MESSY, MESSY)
def test_any_text_comes_back_as_it_was(tmp_path_factory, first, second, third):
    study = with_texts(first, second, third)
    folder = tmp_path_factory.mktemp("messy")
    for form in FORMS:
        read = through({study.id: study}, folder, form)
        assert read.problems == ()
        assert read.studies == (study,)


@given(st.text(max_size=12) | MESSY)
def test_guarding_is_undone_and_leaves_nothing_to_run(text):
    safe = guarded(text)
    assert unguarded(safe) == text
    is_number = safe[:1] == "-" and value_of(safe) != safe
    assert safe[:1] not in ("=", "+", "@", "\t", "\r") and (safe[:1] != "-" or is_number)


def test_no_cell_of_either_file_is_a_formula(tmp_path):
    study = with_texts("=HYPERLINK(1)", "@x", "+1")
    export_file({study.id: study}, tmp_path / "a.csv")
    export_file({study.id: study}, tmp_path / "a.xlsx")
    text = (tmp_path / "a.csv").read_text("utf-8-sig")
    cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
    assert "'=HYPERLINK(1)" in cells
    assert not any(cell[:1] in ("=", "+", "@") for cell in cells)
    sheet = openpyxl.load_workbook(tmp_path / "a.xlsx").active
    kinds = {cell.data_type for row in sheet.iter_rows() for cell in row}
    assert kinds == {"s", "n"}


def test_numbers_of_a_workbook_are_numbers(tmp_path):
    export_file(SHIPPED, tmp_path / "a.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "a.xlsx").active
    header = [cell.value for cell in sheet[1]]
    column = header.index("pre_mean") + 1
    cells = [sheet.cell(row, column) for row in range(2, sheet.max_row + 1)]
    assert {type(cell.value) for cell in cells if cell.value is not None} <= {int, float}


def test_a_file_that_is_there_is_left_alone(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("mine")
    with pytest.raises(UsageError, match="already there"):
        export_file(SHIPPED, path)
    assert path.read_text() == "mine"
    with pytest.raises(UsageError, match=r"expected one of \.csv, \.xlsx"):
        export_file(SHIPPED, tmp_path / "a.ods")


def test_a_text_too_long_for_a_workbook_is_refused_not_cut(tmp_path):
    study = with_texts("x" * 32_768, "a", "b")
    with pytest.raises(UsageError, match=r"32,768; write a \.csv file instead"):
        export_file({study.id: study}, tmp_path / "a.xlsx")
    assert not (tmp_path / "a.xlsx").exists()
    assert through({study.id: study}, tmp_path, ".csv").studies == (study,)


HEAD = "study,row_holds,title,design,arm,n,outcome,construct,week,post_mean,post_sd\n"
GOOD = (
    "a-1,study,Invented,parallel,,,,,,,\na-1,arm,,,slow,9,,,,,\na-1,arm,,,usual,9,,,,,\n"
    "a-1,outcome,,,,,squat,strength,,,\na-1,result,,,slow,,squat,,6,100.0,20.0\n"
)


@pytest.mark.parametrize(
    ("old", "new", "place", "shows"),
    [
        ("100.0", "about 100", "row 6, column post_mean", "expected a number"),
        ("a-1,result,", "a-1,reslt,", "row 6, column row_holds", "expected one of study, arm"),
        ("a-1,result,", ",result,", "row 6, column study", "expected a study"),
        ("slow,,squat,,6", "slwo,,squat,,6", "row 6, column arm", "nearest known: slow"),
        ("20.0\n", "-20.0\n", "row 6, column post_sd", "above 0"),
        (
            "a-1,arm,,,usual,9,,",
            "a-1,arm,,,usual,9,squat,",
            "row 4, column outcome",
            "nothing here",
        ),
        ("a-1,study,Invented,parallel,,,,,,,\n", "", "row 2, column source", "required"),
        ("post_sd\n", "post_sd,colour\n", "column colour", "which keeps no others"),
    ],
)
def test_what_is_wrong_is_told_by_row_and_column(tmp_path, old, new, place, shows):
    path = tmp_path / "a.csv"
    path.write_text(HEAD + GOOD)
    assert read_table(path).problems == ()
    assert old in HEAD + GOOD
    path.write_text((HEAD + GOOD).replace(old, new, 1))
    read = read_table(path)
    assert read.studies == ()
    told = {(problem.path, shows in problem.message) for problem in read.problems}
    assert (place, True) in told, read.problems


def test_the_command_writes_the_file_and_says_how_many(tmp_path):
    command = [sys.executable, "-m", "steelyard", "export", str(tmp_path / "all.csv")]
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", timeout=60)
    assert done.returncode == 0, done.stderr
    others = len(list((ROOT / "evidence").rglob("*.toml"))) - len(SHIPPED)
    assert f"{len(SHIPPED)} studies and {others} other files written" in done.stdout
    assert dict.fromkeys(study.id for study in read_table(tmp_path / "all.csv").studies) == (
        dict.fromkeys(SHIPPED)
    )
    again = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", timeout=60)
    assert again.returncode == 2
    assert "already there" in again.stderr
