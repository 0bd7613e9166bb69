"""The headings above the numbers of a pasted block: which column of the grid each names."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from steelyard.notebook.entry.pasted_rows import NOTHING, Block, PasteError, Row
from steelyard.notebook.entry.pasted_words import (
    Time,
    column_of,
    has_week,
    is_size,
    time_of,
    times_in_line,
)
from steelyard.notebook.entry.state import OutcomeForm

_ABOUT_SPREAD = re.compile(r"(?:[\W_]|95|sd|sem?|m|mean|ci)+", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Headings:
    """What the lines above the numbers say of the columns.

    Attributes
    ----------
    columns : tuple of str
        The grid's columns in the table's order; empty where the lines do not say.
    n_at : int or None
        How many columns stand before n; None where no line names n.
    other : bool
        Whether something else than n stands where n would, such as an age.
    """

    columns: tuple[str, ...] = ()
    n_at: int | None = None
    other: bool = False


def headed(block: Block, outcome: OutcomeForm) -> Headings:
    """Read the headings above the rows of arms.

    Raises
    ------
    PasteError
        If they name a week or an order of columns that the grid does not have.
    """
    other, n_at = False, None
    for head in reversed(block.heads):
        marks = _marks(head)
        if any(isinstance(mark, Time) for mark in marks):
            return _placed(marks, outcome.columns())
        above_n = (*head.cells, "")[0] if block.rows[0].label else head.label
        if head.parted and is_size(above_n):
            n_at = 0
        elif head.parted and above_n and not _ABOUT_SPREAD.fullmatch(above_n):
            other = True
    return Headings(n_at=n_at, other=other and n_at is None)


def _placed(marks: Sequence[Time | str | None], columns: Sequence[str]) -> Headings:
    """Headings with a time among them, as columns of the grid."""
    for mark in marks:
        if isinstance(mark, Time) and mark.week is not None and not has_week(mark.week, columns):
            raise PasteError(
                f"the table has a week {mark.week}, the grid has not: change the weeks measured, "
                f"or leave the line of headings out; {NOTHING}"
            )
    placed = [column_of(mark, columns) if isinstance(mark, Time) else mark for mark in marks]
    # “Pre (week 0)” names one column twice over.
    placed = [each for n, each in enumerate(placed) if n == 0 or each != placed[n - 1]]
    known = [each for each in placed if each and each != "n"]
    if len(set(known)) < len(known):
        raise PasteError(
            f"the headings name a time twice: paste the columns of one outcome alone; {NOTHING}"
        )
    if placed.count("n") > 1:
        raise PasteError(f"the headings name n twice: paste one column of it; {NOTHING}")
    if all(placed):
        return Headings(tuple(known), placed.index("n") if "n" in placed else None)
    if [columns.index(each) for each in known] != sorted(map(columns.index, known)):
        raise PasteError(
            "the headings have the times in another order than the grid, and not all of them can "
            f"be told: paste the columns in the grid's order, without headings; {NOTHING}"
        )
    return Headings(other=True)


def _marks(head: Row) -> list[Time | str | None]:
    """What each heading stands for; None for one that is neither a time nor n nor a spread."""
    if not head.parted:
        return list(times_in_line(head.label))
    marks: list[Time | str | None] = []
    for number, cell in enumerate((head.label, *head.cells)):
        time = time_of(cell, alone=False)
        if is_size(cell):
            marks.append("n")
        elif time is not None:
            marks.append(time)
        elif number and cell and not _ABOUT_SPREAD.fullmatch(cell):
            marks.append(None)
    return marks
