"""A block pasted from a spreadsheet or a PDF table into one outcome's grid."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from steelyard.notebook.entry.cell import PAIRS, read_cell
from steelyard.notebook.entry.state import ONE_NUMBER, ArmForm, OutcomeForm
from steelyard.records.cells import CellError, DecimalMarks, decimal_marks, is_blank, parse_number
from steelyard.records.printed import brief
from steelyard.records.slugs import slug

MOST_CHARACTERS = 200_000
_NUMBER = r"[-−–+]?[0-9](?:[0-9.,]*[0-9])?\s?%?"
_GROUP = re.compile(rf"{_NUMBER}(?:\s*(?:±|\+/[-−])\s*{_NUMBER}|\s*[(\[][^()\[\]]{{1,60}}[)\]])?")
_STARRED = re.compile(r"(?<=[0-9)\]%])\s*[*†‡§¶#]+$")


class PasteError(ValueError):
    """A block that does not fit the grid; the message says what was expected."""


@dataclass(frozen=True, slots=True)
class Pasted:
    """What a pasted block puts into a grid.

    Attributes
    ----------
    cells : dict
        Text by ``arm key|column``.
    sizes : dict
        n analysed as text, by arm key; empty where the block has no such column.
    message : str
        What was understood, as a sentence.
    """

    cells: dict[str, str]
    sizes: dict[str, str] = field(default_factory=dict)
    message: str = ""


def read_block(text: str, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> Pasted:
    """Fit a block to a grid: a row per arm, the columns in the grid's order.

    Rows may start with the arm's name, columns with n; mean and spread may stand in one cell or
    in two; header rows are passed over. All or nothing.

    Raises
    ------
    PasteError
        If rows or columns do not fit, or a cell is no number.
    """
    if len(text) > MOST_CHARACTERS:
        raise PasteError(
            f"expected a table of at most {MOST_CHARACTERS:,} characters, found {len(text):,}"
        )
    rows = [row for line in text.splitlines() if (row := _cells(line))]
    rows = [row for row in rows if any(map(_has_digit, row.numbers))]
    columns = outcome.columns()
    if not rows:
        raise PasteError("expected rows with numbers, found none")
    if len(rows) > len(arms):
        raise PasteError(
            f"expected at most {len(arms)} rows, one per arm, found {len(rows):,}: "
            "nothing was filled in"
        )
    order = _order(rows, arms)
    cells: dict[str, str] = {}
    sizes: dict[str, str] = {}
    for row, arm in zip(rows, order, strict=True):
        numbers, n = _fit(row.numbers, columns, outcome, arm)
        if n:
            sizes[arm.key] = n
        cells |= {f"{arm.key}|{column}": value for column, value in numbers.items()}
    marks = decimal_marks(cells.values())
    for place, value in cells.items():
        _check(value, place.partition("|")[2], outcome, marks)
    names = ", ".join(arm.label.strip() or f"arm {arms.index(arm) + 1}" for arm in order)
    also = " and n" if sizes else ""
    return Pasted(cells, sizes, f"Filled in {len(cells)} cells{also} for {names}.")


@dataclass(frozen=True, slots=True)
class _Row:
    label: str
    numbers: tuple[str, ...]


def _cells(line: str) -> _Row | None:
    if not line.strip():
        return None
    for mark in ("\t", "|", r"\s*;\s+", r"\s{2,}"):
        parts = line.split(mark) if len(mark) == 1 else re.split(mark, line.strip())
        if len(parts) > 1:
            break
    else:
        start = _GROUP.search(line)
        if start is None:
            return _Row(line.strip(), ())
        groups = tuple(match.group().strip() for match in _GROUP.finditer(line, start.start()))
        return _Row(line[: start.start()].strip(" :"), groups)
    parts = [_STARRED.sub("", part.strip().strip('"').strip()) for part in parts]
    if mark == "|":
        parts = parts[bool(not parts[0]) : len(parts) - bool(not parts[-1])]
    label = "" if not parts or _numeric(parts[0]) else parts.pop(0)
    while parts and not parts[-1]:
        parts.pop()
    return _Row(label, tuple(parts))


def _numeric(text: str) -> bool:
    return bool(text) and (is_blank(text) or bool(re.match(rf"[(\[]?{_NUMBER}", text)))


def _has_digit(text: str) -> bool:
    return bool(re.match(rf"[(\[]?{_NUMBER}", text))


def _order(rows: Sequence[_Row], arms: Sequence[ArmForm]) -> list[ArmForm]:
    """Which arm each row is: by name where every name fits one arm, else in order."""
    named = [_named(row.label, arms) for row in rows]
    if all(named) and len({arm.key for arm in named}) == len(named):
        return named
    return list(arms[: len(rows)])


def _named(label: str, arms: Sequence[ArmForm]) -> ArmForm | None:
    wanted = slug(label, kind="row") if label else ""
    fitting = [arm for arm in arms if arm.label.strip() and slug(arm.label, kind="arm") == wanted]
    if not fitting and wanted:
        fitting = [
            arm
            for arm in arms
            if arm.label.strip() and slug(arm.label, kind="arm").startswith(wanted)
        ]
    return fitting[0] if len(fitting) == 1 else None


def _fit(
    numbers: Sequence[str], columns: Sequence[str], outcome: OutcomeForm, arm: ArmForm
) -> tuple[dict[str, str], str]:
    """The row's cells by column, and n where the row starts with it."""
    width = len(columns)
    n, rest = "", list(numbers)
    if len(rest) in (width + 1, 2 * width + 1) and re.fullmatch(r"[0-9]{1,7}", rest[0]):
        n, rest = rest[0], rest[1:]
    if len(rest) == width:
        return dict(zip(columns, rest, strict=True)), n
    if len(rest) == 2 * width:
        pairs = zip(rest[::2], rest[1::2], strict=True)
        return {
            column: _joined(mean, spread, outcome.style(column))
            for column, (mean, spread) in zip(columns, pairs, strict=True)
        }, n
    who = f" for {brief(arm.label)}" if arm.label.strip() else ""
    raise PasteError(
        f"expected {width} or {2 * width} numbers in a row (with n before them, if it is printed)"
        f"{who}, found {len(numbers)}: nothing was filled in"
    )


def _joined(mean: str, spread: str, style: str) -> str:
    spread = spread.strip().lstrip("±").strip()
    if is_blank(spread):
        return mean
    if is_blank(mean):
        return ""
    if style in PAIRS or spread[:1] in "([":
        return f"{mean} ({spread.strip('()[]')})"
    return f"{mean} ± {spread}"


def _check(text: str, column: str, outcome: OutcomeForm, marks: DecimalMarks) -> None:
    try:
        if column.partition("@")[0] in ONE_NUMBER:
            parse_number(text, marks=marks)
        else:
            read_cell(text, outcome.style(column), marks=marks)
    except CellError as error:
        raise PasteError(f"{brief(text)}: {error}; nothing was filled in") from error
