"""Cells merged over several rows of a workbook: what stands there holds for each row."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import openpyxl

Row = tuple[int, tuple[str | Decimal, ...]]


@dataclass(frozen=True, slots=True)
class Merge:
    """One column's cells merged from the first row to the last, by their numbers."""

    column: int
    first: int
    last: int
    said: str


@dataclass(frozen=True, slots=True)
class FilledDown:
    """Rows without holes, and which cells were merged, in words."""

    rows: tuple[Row, ...]
    said: str


def merged_below(raw: bytes, title: str) -> tuple[Merge, ...]:
    """Cells of a sheet that are merged downwards within one column."""
    sheet: Any = openpyxl.load_workbook(io.BytesIO(raw))[title]
    return tuple(
        Merge(each.min_col - 1, each.min_row, each.max_row, each.coord)
        for each in sheet.merged_cells.ranges
        if each.min_col == each.max_col and each.min_row < each.max_row
    )


def filled_down(rows: Sequence[Row], merges: Sequence[Merge]) -> FilledDown:
    """The rows with the value of merged cells in each of their rows."""
    cells = {number: list(row) for number, row in rows}
    used: list[str] = []
    for merge in merges:
        at, first = merge.column, cells.get(merge.first, [])
        value = first[at] if at < len(first) else ""
        below = [row for row in range(merge.first + 1, merge.last + 1) if row in cells]
        if value == "" or not below:
            continue
        for number in below:
            row = cells[number]
            row += [""] * (at + 1 - len(row))
            row[at] = value
        used.append(merge.said)
    shown = ", ".join(used[:5]) + (" …" if len(used) > 5 else "")
    return FilledDown(tuple((number, tuple(cells[number])) for number, _ in rows), shown)
