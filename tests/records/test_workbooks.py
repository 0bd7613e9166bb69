"""Excel workbooks give what they show."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest

from steelyard.records.tables import read_table
from tests.records.example_tables import ARMS, said


def workbook(
    path: Path, rows: list[list[object]], *, formats: dict[str, str] | None = None
) -> Path:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    for cell, number_format in (formats or {}).items():
        book.active[cell].number_format = number_format
    book.save(path)
    return path


HEADER = ["Study", "arm", "outcome", "construct", "week", "n", "post mean", "post_sd", "randomised"]


def test_a_workbook_gives_numbers_as_it_shows_them(tmp_path):
    rows = [HEADER, ["A 2020", "x", "jump", "power", 8, 12, 3.4, 0.1 + 0.2, True]]
    path = workbook(tmp_path / "t.xlsx", rows, formats={"G2": "0.00"})
    imported = read_table(path)
    assert said(imported) == []
    (result,) = imported.studies[0].results
    assert (str(result.post.mean), str(result.post.sd), result.n) == ("3.40", "0.3", 12)
    assert imported.studies[0].design.randomised is True


def test_row_numbers_of_a_workbook_are_those_it_shows(tmp_path):
    rows = [HEADER, [], ["A 2020", "x", "jump", "power", dt.date(2020, 4, 3), 12, "3,4 ± 1", None]]
    (problem,) = read_table(workbook(tmp_path / "t.xlsx", rows)).problems
    assert problem.path == "row 3, column week" and "found 'date 2020-04-03" in problem.message


def test_a_percent_cell_is_read_as_shown(tmp_path):
    rows = [HEADER, ["A 2020", "x", "jump", "power", 8, 12, 0.125, 0.03]]
    path = workbook(tmp_path / "t.xlsx", rows, formats={"G2": "0.0%", "H2": "0%"})
    (result,) = read_table(path).studies[0].results
    assert (str(result.post.mean), str(result.post.sd)) == ("12.5", "3")


def test_a_formula_without_a_saved_value_is_not_taken_for_blank(tmp_path):
    rows = [HEADER, ["A 2020", "x", "jump", "power", 8, 12, 3.4, "=G2/2"]]
    (problem,) = read_table(workbook(tmp_path / "t.xlsx", rows)).problems
    assert problem.path == "row 2, column post_sd" and "formula" in problem.message


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04junk", ARMS.encode()])
def test_a_damaged_workbook(table, content):
    (problem,) = table(content, "t.xlsx").problems
    assert "expected an Excel workbook" in problem.message


def test_a_title_above_the_header_is_passed_over_and_told(tmp_path):
    rows = [["Strength studies, invented", "2026"], [], HEADER]
    path = workbook(tmp_path / "t.xlsx", [*rows, ["A 2020", "x", "jump", "power", 8, 12, "b", 1]])
    imported = read_table(path)
    assert said(imported) == ["row 4, column post mean: expected a number, found 'b'"]
    assert imported.notes == ("read from the header in row 3; what stands above is left",)


def test_cells_merged_over_rows_count_for_each_of_them(tmp_path):
    rows = [
        HEADER,
        ["A 2020", "slow", "jump", "power", 8, 12, 3.4, 0.5],
        [None, "usual", None, "power", 8, None, 3.1, 0.6],
        ["B 2021", "slow", "jump", "power", 8, 9, 3.2, 0.4],
    ]
    path = workbook(tmp_path / "t.xlsx", rows)
    assert [place.split(":")[0] for place in said(read_table(path))] == [
        "row 3, column Study",
        "row 3, column outcome",
    ]
    book = openpyxl.load_workbook(path)
    for cells in ("A2:A3", "C2:C3", "F2:F3", "A6:C6"):
        book.active.merge_cells(cells)
    book.save(path)
    imported = read_table(path)
    assert said(imported) == []
    assert [(study.id, len(study.results)) for study in imported.studies] == [
        ("a-2020", 2),
        ("b-2021", 1),
    ]
    assert [result.n for result in imported.studies[0].results] == [12, 12]
    assert any("merged cells count for each of their rows" in note for note in imported.notes)


def test_cells_under_no_header_are_kept_as_notes(tmp_path):
    rows = [
        [*HEADER[:2], None, *HEADER[2:], None, None],
        ["A 2020", "x", "p. 4", "jump", "power", 8, 12, 3.4, 0.5, "yes", None, "ask authors"],
    ]
    imported = read_table(workbook(tmp_path / "t.xlsx", rows))
    assert said(imported) == []
    assert "kept as notes: column 3, column 12" in imported.notes
    notes = imported.studies[0].results[0].notes
    assert "p. 4" in str(notes) and "ask authors" in str(notes)
