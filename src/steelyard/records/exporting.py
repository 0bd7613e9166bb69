"""A library out as one table that reads in again as the same library."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from decimal import Decimal
from pathlib import Path

import openpyxl
import pandas as pd
from openpyxl.styles import Font

from steelyard.errors import UsageError
from steelyard.records.harmless import guarded
from steelyard.records.staging import place_files
from steelyard.records.study import Study
from steelyard.records.tables.columns import KIND_COLUMN
from steelyard.records.tables.sheets import MOST_WHOLE_ROWS
from steelyard.records.tables.whole import (
    KEY_OF,
    LINE,
    PARTS,
    STUDY_COLUMN,
    Cell,
    all_columns,
    cells_of,
    line_cells,
)

SUFFIXES = (".csv", ".xlsx")
# What a workbook's cell can hold, and how many digits its numbers keep.
_LONGEST_CELL = 32_767
_MOST_DIGITS = 15

Progress = Callable[[int, int], None]


def export_table(
    studies: Mapping[str, Study],
    *,
    texts: Mapping[str, str] | None = None,
    progress: Progress | None = None,
) -> pd.DataFrame:
    """Every study as rows: one for itself, then one per arm, outcome, result, comparison.

    Parameters
    ----------
    studies : mapping of str to Study
    texts : mapping of str to str, optional
        Other files of the library by name (see `library_texts`): a row per line.
    progress : callable, optional
        Called with (studies done, studies in all).

    Returns
    -------
    DataFrame
        Columns that some row uses, in the order of the schema; numbers as printed (Decimal or
        int), all else text; "" where a row says nothing. `read_table` makes the same studies of
        it, comments aside.
    """
    rows: list[dict[str, Cell]] = []
    for done, study in enumerate(studies.values(), 1):
        rows.append({KIND_COLUMN: "study", **cells_of("study", study)})
        by_key = {
            "arm": study.arms,
            "outcome": study.outcomes,
            "result": study.results,
            "comparison": study.comparisons,
            "appraisal_overruling": study.overrulings,
        }
        for kind in PARTS:
            for part in by_key[KEY_OF[kind]]:
                own = {STUDY_COLUMN: study.id, KIND_COLUMN: kind}
                rows.append(own | cells_of(kind, part))
        if progress is not None:
            progress(done, len(studies))
    for file, text in (texts or {}).items():
        for line in text.removesuffix("\n").split("\n"):
            rows.append({KIND_COLUMN: LINE, **line_cells(file, line)})
    used = {STUDY_COLUMN, KIND_COLUMN}.union(*rows) if rows else {STUDY_COLUMN, KIND_COLUMN}
    columns = [header for header in all_columns().values() if header in used]
    return pd.DataFrame(rows, columns=columns, dtype=object).fillna("")


def export_file(
    studies: Mapping[str, Study],
    path: str | Path,
    *,
    texts: Mapping[str, str] | None = None,
    progress: Progress | None = None,
) -> tuple[str, ...]:
    """Write studies and other files to a ``.csv`` or ``.xlsx`` file that is not there yet.

    Cells that a spreadsheet would run as a formula get an apostrophe, which `read_table` takes
    off again.

    Returns
    -------
    tuple of str
        What to know of the file, in words.

    Raises
    ------
    UsageError
        If the file is there already, is of another kind, cannot be written, or a text is too
        long for a workbook's cell.
    """
    path = Path(path)
    if path.suffix.lower() not in SUFFIXES:
        raise UsageError(f"cannot write {path.name!r}: expected one of {', '.join(SUFFIXES)}")
    table = export_table(studies, texts=texts, progress=progress)
    content = _csv(table) if path.suffix.lower() == ".csv" else _workbook(table)
    place_files({path: content})
    if len(table) > MOST_WHOLE_ROWS:
        return (f"{len(table):,} rows; steelyard add takes {MOST_WHOLE_ROWS:,} in one file",)
    return ()


def _csv(table: pd.DataFrame) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(table.columns)
    for row in table.itertuples(index=False):
        writer.writerow([guarded(str(cell)) for cell in row])
    # The mark at the start tells spreadsheets that the text is UTF-8.
    return text.getvalue().encode("utf-8-sig")


def _workbook(table: pd.DataFrame) -> bytes:
    workbook = openpyxl.Workbook(write_only=False)
    sheet = workbook.active
    sheet.title = "library"
    for column, header in enumerate(table.columns, 1):
        sheet.cell(1, column, header).font = Font(bold=True)
    for number, row in enumerate(table.itertuples(index=False), 2):
        for column, value in enumerate(row, 1):
            if value != "":
                _fill(
                    sheet.cell(number, column), value, f"row {number}, {table.columns[column - 1]}"
                )
    sheet.freeze_panes = "C2"
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


def _fill(cell, value: Cell, place: str) -> None:
    """A number where the workbook keeps every digit of it, else text."""
    text = str(value)
    if _is_kept(value, text):
        cell.value = float(value) if "." in text else int(value)
        decimals = len(text.partition(".")[2])
        cell.number_format = f"0.{'0' * decimals}" if decimals else "0"
        return
    text = guarded(text)
    if len(text) > _LONGEST_CELL:
        raise UsageError(
            f"{place}: expected at most {_LONGEST_CELL:,} characters in a workbook's cell, found "
            f"{len(text):,}; write a .csv file instead"
        )
    cell.value, cell.data_type = text, "s"


def _is_kept(value: Cell, text: str) -> bool:
    if not isinstance(value, int | Decimal) or not value:
        return isinstance(value, int | Decimal) and text == "0"
    digits = text.lstrip("-").replace(".", "")
    return digits.isdigit() and len(digits) <= _MOST_DIGITS
