"""A block pasted from a spreadsheet or a PDF table into one outcome's grid."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from steelyard.notebook.entry.pasted_cells import fitted
from steelyard.notebook.entry.pasted_headings import Headings, headed
from steelyard.notebook.entry.pasted_names import by_names
from steelyard.notebook.entry.pasted_placed import placed, refuse_other_spread
from steelyard.notebook.entry.pasted_rows import Block, PasteError, take_apart
from steelyard.notebook.entry.pasted_told import Told
from steelyard.notebook.entry.pasted_words import time_of
from steelyard.notebook.entry.state import ArmForm, OutcomeForm

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

    Rows and columns go by the names before and above them, each understood to its last word. A
    block without names goes in the order of the arms, one without headings in the order of the
    grid's columns, which the message says. n may come first, or stand in a name as ``(n = 20)``;
    mean and spread may stand in one cell or in two. All or nothing.

    Raises
    ------
    PasteError
        If rows or columns do not fit, a heading or name holds a word that is not understood, a
        table could be read in two ways, or a cell is no number.
    """
    block = take_apart(text, arms)
    if not block.rows:
        raise PasteError("expected rows with numbers, found none")
    headings = _headings(block, outcome, arms)
    arms_above = any(each.arm for each in headings.columns)
    names = by_names(block.rows, outcome, arms, arms_above=arms_above)
    if headings.columns or not all(_arm_alone(one) for one in names.rows):
        filled, said = placed(block, headings, names, outcome, arms)
        keys = {place.partition("|")[0] for place in filled.cells}
        order = [arm for arm in arms if arm.key in keys]
        return _pasted(filled.cells, filled.sizes, arms, order, said)
    by_key = {arm.key: arm for arm in arms}
    order = [by_key[one.arm] for one in names.rows]
    refuse_other_spread(headings.overall, outcome)
    filled = fitted(block.rows, order, outcome)
    first = "The first number of a row was taken for n." if filled.n_first else ""
    said = " ".join(part for part in (names.said, _in_order(outcome), first) if part)
    return _pasted(filled.cells, filled.sizes, arms, order, said)


def _headings(block: Block, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> Headings:
    try:
        return headed(block, outcome, arms)
    except PasteError as error:
        if all(time_of(row.label) is not None for row in block.rows):
            raise PasteError(
                "the rows are times, so the columns are arms: paste the line with the arms' names "
                f"as well, called as here. {error}"
            ) from error
        raise


def _arm_alone(told: Told) -> bool:
    return told.facets() == {"arm"}


def _in_order(outcome: OutcomeForm) -> str:
    if len(outcome.columns()) < 2:
        return ""
    return "No headings stood above the numbers, so they were taken as the grid's columns stand."


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
