"""Table files to rows of cells: CSV of any common kind, and Excel workbooks."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl

from steelyard.errors import SteelyardError, UsageError
from steelyard.records.regular_file import FileRefused, read_regular
from steelyard.records.tables.columns import KIND_COLUMN, plain_name, recognised
from steelyard.records.tables.merged import filled_down, merged_below

LARGEST_TABLE_BYTES = 50_000_000
LARGEST_UNPACKED_BYTES = 500_000_000
MOST_ROWS = 10_000
# Of a table that holds whole records: a library of some thousand studies.
MOST_WHOLE_ROWS = 250_000
LAST_ROW = 1_048_576
SUFFIXES = (".csv", ".xlsx")
_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
_SEPARATOR_LINE = re.compile(r'\A"?sep=([,;\t])"?\r?\n', re.IGNORECASE)
# How far down a header is looked for, and how many known columns tell it from a title.
_MOST_TITLE_ROWS = 10
_FEWEST_KNOWN = 3
UNSAVED_FORMULA = "\0formula"

Cell = str | Decimal


class SheetError(SteelyardError):
    """A file that cannot be read as a table; the message says why."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """Cells of a table file.

    Attributes
    ----------
    headers : tuple of str
        The first row that is not blank, or after rows of a title the first with known columns.
    rows : tuple of (int, tuple of Cell)
        Every later row that is not blank, with its number as a spreadsheet shows it. A cell
        is text, or a Decimal where the file itself says it is a number.
    semicolons : bool
        Whether semicolons part the columns.
    notes : tuple of str
        What was taken for granted on reading.
    """

    headers: tuple[str, ...]
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
    semicolons: bool
    notes: tuple[str, ...]


def holds_whole_records(headers: Iterable[str]) -> bool:
    """Whether a header row is that of a whole-record table."""
    return plain_name(KIND_COLUMN) in map(plain_name, headers)


def read_sheet(path: Path) -> Sheet:
    """Read a ``.csv`` or ``.xlsx`` file.

    Raises
    ------
    UsageError
        If the file is not there or is of another kind.
    SheetError
        If it cannot be read as a table.
    """
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise UsageError(
            f"cannot read {path.name!r} as a table: expected one of {', '.join(SUFFIXES)}"
        )
    if not path.exists():
        raise UsageError(f"there is no file {str(path)!r}")
    try:
        raw = read_regular(path, most=LARGEST_TABLE_BYTES, what="table")
    except FileRefused as refused:
        advice = ": split it into several files" if refused.rule == "too-large" else ""
        raise SheetError(f"{refused}{advice}") from refused
    return _from_csv(raw) if suffix == ".csv" else _from_workbook(raw)


def _from_csv(raw: bytes) -> Sheet:
    text, notes = _decoded(raw)
    line = _SEPARATOR_LINE.match(text)
    if line:
        delimiter, text = line[1], text[line.end() :]
    else:
        delimiter = max(_DELIMITERS, key=lambda mark: recognised(_first_record(text, mark)))
    rows = _collected(_csv_records(text, delimiter))
    if not rows:
        raise SheetError("expected a header row and rows of results, found no text")
    if delimiter != ",":
        notes.append(f"read with a {_DELIMITERS[delimiter]} between columns")
    return _below_title(rows, delimiter == ";", notes)


def _decoded(raw: bytes) -> tuple[str, list[str]]:
    encodings = ["utf-8-sig", "cp1252"]
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings = ["utf-16"]
    elif raw[1:200:2].count(0) > len(raw[1:200:2]) // 2:
        encodings = ["utf-16-le"]
    elif raw[0:200:2].count(0) > len(raw[0:200:2]) // 2:
        encodings = ["utf-16-be"]
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" in text:
            break
        return text, [] if encoding == "utf-8-sig" else [f"read as {encoding} text"]
    raise SheetError("expected text (UTF-8, UTF-16 or Windows-1252), found binary data")


def _first_record(text: str, delimiter: str) -> list[str]:
    try:
        return next((row for row in _reader(text, delimiter) if any(map(str.strip, row))), [])
    except csv.Error:
        return []


def _reader(text: str, delimiter: str) -> Any:
    # Strict: else an unclosed quotation mark swallows every row after it without a word.
    return csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)


def _csv_records(text: str, delimiter: str) -> Iterator[list[str]]:
    reader = _reader(text, delimiter)
    try:
        yield from reader
    except csv.Error as error:
        message = f"the quotation marks cannot be followed near line {reader.line_num}: {error}"
        raise SheetError(message) from error


def _collected(records: Iterable[Iterable[Cell]]) -> list[tuple[int, tuple[Cell, ...]]]:
    rows: list[tuple[int, tuple[Cell, ...]]] = []
    most = MOST_ROWS
    for number, record in enumerate(records, 1):
        cells = tuple(record)
        if any(not isinstance(cell, str) or cell.strip() for cell in cells):
            rows.append((number, cells))
            if len(rows) == 1 and holds_whole_records(map(str, cells)):
                most = MOST_WHOLE_ROWS
        if len(rows) > most + 1 or number > LAST_ROW:
            raise SheetError(
                f"expected at most {most:,} rows of results, found more: "
                "split the table into several files"
            )
    return rows


def _from_workbook(raw: bytes) -> Sheet:
    # The format's reader raises whatever it stumbles on in a damaged file, and warns about
    # features of a workbook that hold no values.
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            unpacked, has_formulas, has_merges = _looked_into(raw)
            if unpacked > LARGEST_UNPACKED_BYTES:
                raise SheetError(
                    f"expected a workbook of at most {LARGEST_UNPACKED_BYTES:,} bytes unpacked, "
                    f"found {unpacked:,}"
                )
            title, titles, rows = _workbook_rows(raw, values=True)
            if has_formulas:
                formulas = dict(_workbook_rows(raw, values=False)[2])
                rows = [(n, _unsaved_marked(cells, formulas.get(n, ()))) for n, cells in rows]
            merges = merged_below(raw, title) if has_merges else ()
    except SheetError:
        raise
    except Exception as error:
        raise SheetError(f"expected an Excel workbook (.xlsx): {error}"[:300]) from error
    if not rows:
        raise SheetError(f"expected a header row and rows of results, sheet {title!r} is empty")
    notes = [f"read sheet {title!r}, the first of {titles}"] if titles > 1 else []
    sheet = _below_title(rows, False, notes)
    # A workbook's cells stand under their column, also where it has no header.
    width = max(len(cells) for _, cells in rows)
    headers = (*sheet.headers, *[""] * (width - len(sheet.headers)))
    merged = filled_down(sheet.rows, merges)
    notes = [f"merged cells count for each of their rows: {merged.said}"] if merged.said else []
    return Sheet(headers, merged.rows, False, (*sheet.notes, *notes))


def _below_title(
    rows: list[tuple[int, tuple[Cell, ...]]], semicolons: bool, notes: list[str]
) -> Sheet:
    """The sheet below a title, if there is one, such as the name of the table in a row alone."""
    known = [recognised([str(cell) for cell in cells]) for _, cells in rows[:_MOST_TITLE_ROWS]]
    most = known.index(max(known))
    at = most if known[0] < min(2, known[most]) and known[most] >= _FEWEST_KNOWN else 0
    if at:
        notes = [*notes, f"read from the header in row {rows[at][0]}; what stands above is left"]
    headers = tuple(str(cell) for cell in rows[at][1])
    return Sheet(headers, tuple(rows[at + 1 :]), semicolons, tuple(notes))


def _looked_into(raw: bytes) -> tuple[int, bool, bool]:
    """Bytes unpacked, whether there are formulas, and whether there are merged cells."""
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        unpacked = sum(part.file_size for part in archive.infolist())
        if unpacked > LARGEST_UNPACKED_BYTES:
            return unpacked, False, False
        sheets = [name for name in archive.namelist() if name.startswith("xl/worksheets/")]
        texts = [archive.read(name) for name in sheets]
        has_formulas = any(re.search(rb"<f[ >]", text) for text in texts)
        return unpacked, has_formulas, any(b"<mergeCell " in text for text in texts)


def _workbook_rows(
    raw: bytes, *, values: bool
) -> tuple[str, int, list[tuple[int, tuple[Cell, ...]]]]:
    workbook = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=values)
    try:
        sheets = workbook.worksheets
        visible = [sheet for sheet in sheets if sheet.sheet_state == "visible"] or sheets
        if not visible:
            raise SheetError("expected a sheet with a table, found none")
        visible[0].reset_dimensions()
        rows = _collected(map(_shown, row) for row in visible[0].iter_rows())
        return visible[0].title, len(sheets), rows
    finally:
        workbook.close()


def _unsaved_marked(cells: tuple[Cell, ...], formulas: tuple[Cell, ...]) -> tuple[Cell, ...]:
    """Cells whose formula has no saved value would pass for blank; mark them."""
    padded = (*cells, *[""] * (len(formulas) - len(cells)))
    return tuple(
        UNSAVED_FORMULA
        if cell == "" and position < len(formulas) and str(formulas[position]).startswith("=")
        else cell
        for position, cell in enumerate(padded)
    )


def _shown(cell: Any) -> Cell:
    """A workbook cell as its reader sees it: ``3.4`` under the format ``0.00`` is ``3.40``."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.datetime | dt.date | dt.time | dt.timedelta):
        return f"date {value}"
    shown = re.fullmatch(r"(?:#,##)?0(?:\.(0+))?(%?)", cell.number_format or "")
    # Fifteen digits are what the program that saved the file shows; the rest is binary noise.
    number = Decimal(f"{value * 100 if shown and shown[2] else value:.15g}")
    wanted = len(shown[1] or "") if shown else 0
    if number.is_finite() and -int(number.as_tuple().exponent) < wanted:
        number = number.quantize(Decimal(1).scaleb(-wanted))
    return f"{number}%" if shown and shown[2] else number
