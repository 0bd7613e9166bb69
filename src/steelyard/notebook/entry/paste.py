"""A block pasted from a spreadsheet or a PDF table into one outcome's grid."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from steelyard.notebook.entry.pasted_cells import fitted, joined_up, refuse_unreadable
from steelyard.notebook.entry.pasted_headings import headed
from steelyard.notebook.entry.pasted_rows import NOTHING, Block, PasteError, Row, take_apart
from steelyard.notebook.entry.pasted_two_headings import by_two_headings, refuse_other_spreads
from steelyard.notebook.entry.pasted_words import (
    arm_of,
    arms_in_line,
    column_of,
    is_corner,
    is_size,
    named_n,
    same_name,
    time_of,
)
from steelyard.notebook.entry.state import ArmForm, OutcomeForm
from steelyard.records.cells import is_blank
from steelyard.records.printed import brief

__all__ = ["PasteError", "Pasted", "read_block"]


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
    """Fit a block to a grid: a row per arm and a column per time, or the other way round.

    Rows go by the names before them; rows without any go in the order of the arms, which the
    message says. Headings that name times or n place the columns. n may come first, or stand in
    a name as ``(n = 20)``; mean and spread may stand in one cell or in two. All or nothing.

    Raises
    ------
    PasteError
        If rows or columns do not fit, a name could be none or several of the arms, a table could
        be read in two ways, or a cell is no number.
    """
    block = take_apart(text, arms)
    if not block.rows:
        raise PasteError("expected rows with numbers, found none")
    told = by_two_headings(block, outcome, arms)
    if told is not None:
        order = [arm for arm in arms if any(key.startswith(f"{arm.key}|") for key in told.cells)]
        return _pasted(told.cells, told.sizes, arms, order, told.said)
    refuse_other_spreads(block, outcome)
    if all(_says_when(row.label, arms) for row in block.rows):
        return _times_down(block, outcome, arms)
    if len(block.rows) > len(arms):
        raise PasteError(
            f"expected at most {len(arms)} rows, one per arm, found {len(block.rows):,}: {NOTHING}"
        )
    order, why = _order(block.rows, arms)
    filled = fitted(block.rows, order, outcome, headed(block, outcome))
    return _pasted(filled.cells, filled.sizes, arms, order, why)


def _says_when(label: str, arms: Sequence[ArmForm]) -> bool:
    """Whether a row's name is a time or n, and no arm's name."""
    if not label or any(same_name(label, arm) for arm in arms if arm.label.strip()):
        return False
    return time_of(label) is not None or is_size(label)


def _order(rows: Sequence[Row], arms: Sequence[ArmForm]) -> tuple[list[ArmForm], str]:
    """Which arm each row is, and how that was told where not by the arms' own names."""
    in_order = list(arms[: len(rows)])
    labels = [row.label for row in rows]
    if not any(labels):
        return in_order, "No names stood before the rows, so they went in the order of the arms."
    if not all(labels):
        raise PasteError(f"expected a name before every row, or before none: {NOTHING}")
    if len(arms) == len(rows) == 1:
        return in_order, ""
    when = [label for label in labels if _says_when(label, arms)]
    if when:
        raise PasteError(
            f"expected names of arms before the rows, found the time {brief(when[0])} among them: "
            f"{NOTHING}"
        )
    if not any(arm.label.strip() for arm in arms):
        if len(set(labels)) < len(labels):
            raise PasteError(f"two rows are called {brief(labels[0])}: {NOTHING}")
        return in_order, "The arms have no names yet, so the rows went in the order of the arms."
    found = [arm_of(label, arms) for label in labels]
    lost = [label for label, arm in zip(labels, found, strict=True) if arm is None]
    if lost:
        names = ", ".join(brief(arm.label.strip()) for arm in arms if arm.label.strip())
        raise PasteError(
            f"cannot tell which arm is meant by {' and '.join(map(brief, lost[:3]))}: the arms "
            f"here are {names}. Call the rows so, or take the names away to have them go in the "
            f"order of the arms; {NOTHING}"
        )
    if len({arm.key for arm in found}) < len(found):
        raise PasteError(
            f"two rows could be the same arm ({', '.join(map(brief, labels))}): {NOTHING}"
        )
    taken = [
        f"{brief(label)} was taken for {brief(arm.label.strip())}"
        for label, arm in zip(labels, found, strict=True)
        if not same_name(label, arm)
    ]
    return found, f"{', '.join(taken)}." if taken else ""


def _times_down(block: Block, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> Pasted:
    """A table with a row per time and a column per arm, turned round."""
    order, sizes = _arms_across(block.heads, arms)
    columns: list[str] = []
    cells: dict[str, str] = {}
    for row in block.rows:
        if is_size(row.label):
            found = [cell for cell in row.cells if cell]
            if len(found) != len(order):
                raise PasteError(f"expected one n per arm, found {len(found)}: {NOTHING}")
            sizes |= {arm.key: n for arm, n in zip(order, found, strict=True)}
            continue
        column = column_of(time_of(row.label), outcome.columns())
        if not column or column in columns:
            raise PasteError(
                f"cannot tell which column of the grid the row {brief(row.label)} is: {NOTHING}"
            )
        columns.append(column)
        cells |= {
            f"{arm.key}|{column}": text
            for arm, text in zip(order, _per_arm(row, column, outcome, len(order)), strict=True)
        }
    if not columns:
        raise PasteError(f"expected a row of means, found n alone: {NOTHING}")
    cells = {place: text for place, text in cells.items() if text}
    sizes = {arm: n for arm, n in sizes.items() if not is_blank(n)}
    refuse_unreadable(cells, sizes, outcome)
    return _pasted(cells, sizes, arms, order, "The rows are times and the columns arms.")


def _arms_across(
    heads: Sequence[Row], arms: Sequence[ArmForm]
) -> tuple[list[ArmForm], dict[str, str]]:
    """The arms that the columns are, by the line of names above them, and n where it names it."""
    for head in reversed(heads):
        corner = "" if is_corner(head.label) else head.label
        names = [cell for cell in (corner, *head.cells) if cell]
        found = [arm_of(name, arms) for name in names]
        if not head.parted:
            found = arms_in_line(head.label, arms)
            names = [arm.label for arm in found]
        if found and None not in found and len({arm.key for arm in found}) == len(found):
            pairs = zip(found, names, strict=True)
            return found, {arm.key: n for arm, name in pairs if (n := named_n(name))}
    raise PasteError(
        "the rows are times, so the columns are arms: paste the line with the arms' names as "
        f"well, called as here; {NOTHING}"
    )


def _per_arm(row: Row, column: str, outcome: OutcomeForm, arms: int) -> list[str]:
    cells = list(row.cells)
    while len(cells) > arms and not cells[-1]:
        cells.pop()
    if len(cells) == arms:
        return cells
    if len(cells) == 2 * arms:
        pairs = zip(cells[::2], cells[1::2], strict=True)
        return [joined_up(mean, spread, outcome.style(column)) for mean, spread in pairs]
    raise PasteError(
        f"expected {arms} or {2 * arms} numbers in the row {brief(row.label)}, one or two per arm, "
        f"found {len(cells)}: {NOTHING}"
    )


def _pasted(
    cells: Mapping[str, str],
    sizes: Mapping[str, str],
    arms: Sequence[ArmForm],
    order: Sequence[ArmForm],
    why: str,
) -> Pasted:
    names = ", ".join(arm.label.strip() or f"arm {arms.index(arm) + 1}" for arm in order)
    also = " and n" if sizes else ""
    said = f"Filled in {len(cells)} cells{also} for {names}. {why}".strip()
    return Pasted(dict(cells), dict(sizes), said)
