"""A pasted table with headings: every number by what stands above and before it.

Every number must come out with one arm, one time and one measure, each told by a heading above it
or by the name before its row. What is left open or told twice is refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from steelyard.notebook.entry.cell import PAIRS, QUANTILES, STYLES, read_cell
from steelyard.notebook.entry.pasted_cells import (
    Filled,
    joined_up,
    refuse_larger_spread,
    refuse_unreadable,
)
from steelyard.notebook.entry.pasted_headings import Headings
from steelyard.notebook.entry.pasted_names import Names
from steelyard.notebook.entry.pasted_rows import NOTHING, Block, PasteError
from steelyard.notebook.entry.pasted_told import Told
from steelyard.notebook.entry.state import ONE_NUMBER, ArmForm, OutcomeForm
from steelyard.records.cells import CellError, decimal_marks, is_blank
from steelyard.records.printed import brief

_OWN_SPREAD = re.compile(r"[0-9]\s?(?:±|\+/[-−]|[(\[]|[A-Za-z;])")
_MEAN_FIRST = re.compile(r"[-−–+]?[0-9][0-9.,]*\s?(?:±|\+/[-−]|[(\[])")


@dataclass(frozen=True, slots=True)
class Number:
    """One number of the table, what is told of it, and whether only its neighbour's heading is."""

    text: str
    told: Told
    alone: bool


def placed(
    block: Block, headings: Headings, names: Names, outcome: OutcomeForm, arms: Sequence[ArmForm]
) -> tuple[Filled, str]:
    """Put every number in its place; also what was taken for granted, as a sentence.

    Raises
    ------
    PasteError
        If a number is told twice or not wholly, stands under no heading, or is no number; if a
        spread has no mean, or another name than the grid's.
    """
    numbers: dict[tuple[str, str], list[Number]] = {}
    filled = Filled()
    for row, of_row in zip(block.rows, names.rows, strict=True):
        if of_row.arm and of_row.named:
            _one_n(filled.sizes, of_row.arm, of_row.named)
        wide = max(len(headings.columns), len(row.cells))
        for at in range(wide):
            text = row.cells[at] if at < len(row.cells) else ""
            known, alone = _known(at, of_row, headings)
            if known is None:
                raise PasteError(f"two names say what {brief(text)} is, and differ: {NOTHING}")
            if headings.columns and known == of_row.and_(headings.overall):
                if is_blank(text):
                    continue
                raise PasteError(
                    f"no heading stands above {brief(text)}, number {at + 1} of its row: name "
                    f"the column, or leave it out; {NOTHING}"
                )
            if known.n:
                if not known.arm:
                    raise PasteError(f"cannot tell whose n {brief(text)} is: {NOTHING}")
                _one_n(filled.sizes, known.arm, text)
                continue
            place = _place(known, text, outcome)
            numbers.setdefault(place, []).append(Number(text, known, alone))
    for of_column in headings.columns:
        if of_column.arm and of_column.named:
            _one_n(filled.sizes, of_column.arm, of_column.named)
    _refuse_uneven(headings)
    doubles = _doubles(numbers)
    if doubles:
        _refuse_half_headed(numbers, headings, outcome, arms)
        for first, second in numbers.values():
            refuse_larger_spread(first.text, second.text)
    for (arm, column), found in numbers.items():
        text = _text(found, outcome, column)
        if not is_blank(text):
            filled.cells[f"{arm}|{column}"] = text
    if not filled.cells:
        raise PasteError(f"expected a row of means, found n alone: {NOTHING}")
    refuse_unreadable(filled.cells, filled.sizes, outcome)
    return filled, _said(headings, names, doubles)


def refuse_other_spread(overall: Told, outcome: OutcomeForm) -> None:
    """Refuse a line that says how all numbers are printed where the grid says otherwise.

    Raises
    ------
    PasteError
    """
    for column in outcome.columns():
        _refuse_other_style(overall, outcome.style(column))
        if overall.centre == "median" and outcome.style(column) not in QUANTILES:
            raise PasteError(
                "the headings say median, the grid is set to means: choose how it prints spread "
                f"first; {NOTHING}"
            )


def _known(at: int, of_row: Told, headings: Headings) -> tuple[Told | None, bool]:
    column, alone = Told(), False
    if at < len(headings.columns):
        column, alone = headings.columns[at], headings.alone[at]
    known = of_row.and_(column)
    if known is not None and not (known.n or known.centre or known.spread):
        known = known.and_(headings.overall)
    return known, alone


def _place(known: Told, text: str, outcome: OutcomeForm) -> tuple[str, str]:
    columns = outcome.columns()
    column = known.column or (columns[0] if len(columns) == 1 else "")
    if not column:
        raise PasteError(
            f"neither heading nor name says at which time {brief(text)} was measured: put the "
            f"times above the numbers; {NOTHING}"
        )
    if not known.arm:
        raise PasteError(
            f"neither heading nor name says which arm {brief(text)} is: the rows are times, so "
            "the columns are arms: paste the line with the arms' names as well, called as here; "
            f"{NOTHING}"
        )
    return known.arm, column


def _refuse_uneven(headings: Headings) -> None:
    """Columns of one table tell the same kinds of thing, or a heading was lost."""
    kinds = {
        frozenset(told.facets() - {"measure"})
        for told in headings.columns
        if not told.n and not told.empty
    }
    if len(kinds) > 1:
        raise PasteError(
            "some columns have a time or an arm above them and others have none: name each "
            f"column, or leave out what is something else; {NOTHING}"
        )


def _doubles(numbers: dict[tuple[str, str], list[Number]]) -> bool:
    """Whether a second number stands under a heading that reaches over it."""
    return any(len(found) == 2 and found[1].alone for found in numbers.values())


def _refuse_half_headed(
    numbers: dict[tuple[str, str], list[Number]],
    headings: Headings,
    outcome: OutcomeForm,
    arms: Sequence[ArmForm],
) -> None:
    """Two numbers under one heading are mean and spread only where a whole table is so."""
    above = headings.columns
    whole = all(len(found) == 2 and found[1].alone for found in numbers.values())
    if any(told.column for told in above):
        whole = whole and {told.column for told in above} >= set(outcome.columns())
    if any(told.arm for told in above):
        whole = whole and {told.arm for told in above} >= {arm.key for arm in arms}
    if not whole:
        raise PasteError(
            "some numbers stand under a blank heading, and cannot be told from a column whose "
            f"heading was lost: put a heading above each; {NOTHING}"
        )


def _text(found: Sequence[Number], outcome: OutcomeForm, column: str) -> str:
    """The cell's text of the numbers that are at one place."""
    style = outcome.style(column)
    first = found[0]
    if len(found) == 1:
        return _single(first, outcome, column)
    second = found[1]
    if len(found) == 2 and second.alone and first.told == second.told:
        told = first.told
        if bool(told.centre) != bool(told.spread) or style == "none":
            raise PasteError(f"the headings tell a number twice: {brief(second.text)}; {NOTHING}")
        _refuse_other_style(told, style)
        return _paired(first.text, second.text, style, "mean and its spread")
    spreads = [each for each in found if each.told.spread and not each.told.centre]
    centres = [each for each in found if not each.told.spread]
    if len(spreads) == len(centres) == 1 and len(found) == 2:
        if not centres[0].told.centre:
            raise PasteError(
                f"expected one mean with one spread for each arm and time: {brief(centres[0].text)}"
                f" is not headed as the mean; {NOTHING}"
            )
        return _joined(centres[0], spreads[0], outcome, column)
    measures = {(each.told.centre, each.told.spread) for each in found}
    if measures == {("", "")}:
        raise PasteError(
            f"the headings name a time twice: paste the columns of one outcome alone; {NOTHING}"
        )
    if len(measures) < len(found):
        raise PasteError(f"the headings tell a number twice: {brief(second.text)}; {NOTHING}")
    raise PasteError(
        f"expected one mean with one spread for each arm and time, found {len(found)} numbers; "
        f"{NOTHING}"
    )


def _single(one: Number, outcome: OutcomeForm, column: str) -> str:
    told, text, style = one.told, one.text, outcome.style(column)
    if is_blank(text):
        return ""
    own = bool(_OWN_SPREAD.search(text))
    if told.spread and not told.centre and not _MEAN_FIRST.match(text):
        raise PasteError(
            f"expected a mean beside {brief(text)}, the {STYLES[told.spread]}, found none; "
            f"{NOTHING}"
        )
    _refuse_other_style(told, style)
    if column.partition("@")[0] in ONE_NUMBER:
        return text
    _refuse_spread_named_otherwise(told, text, style)
    if told.centre:
        wanted = "median" if style in QUANTILES else "mean"
        if told.centre != wanted and (own or told.centre == "median"):
            raise PasteError(
                f"the headings say {told.centre}, the column of the grid is set to "
                f"{STYLES[style]}: choose how it prints spread first; {NOTHING}"
            )
    return text


def _refuse_spread_named_otherwise(told: Told, text: str, style: str) -> None:
    """A cell may name its spread, as ``200 (SE 5)`` does, where the heading does not."""
    try:
        value = read_cell(text, style, marks=decimal_marks([text])) or {}
    except CellError:
        return
    if told.spread and any(value.get(each) is not None for each in STYLES if each != told.spread):
        raise PasteError(
            f"the heading says {STYLES[told.spread]}, {brief(text)} says another spread; {NOTHING}"
        )


def _refuse_other_style(told: Told, style: str) -> None:
    if told.spread and told.spread != style:
        raise PasteError(
            f"the headings say {STYLES[told.spread]}, the column of the grid is set to "
            f"{STYLES[style]}: choose it above the column first; {NOTHING}"
        )


def _joined(mean: Number, spread: Number, outcome: OutcomeForm, column: str) -> str:
    kind, style = spread.told.spread, outcome.style(column)
    if is_blank(spread.text):
        return _single(mean, outcome, column)
    if column.partition("@")[0] in ONE_NUMBER:
        raise PasteError(f"expected one number for each {column.partition('@')[0]}; {NOTHING}")
    if is_blank(mean.text):
        raise PasteError(f"expected a mean beside {brief(spread.text)}, found none; {NOTHING}")
    if (mean.told.centre == "median") != (kind in QUANTILES):
        raise PasteError(f"expected no {STYLES[kind]} beside a {mean.told.centre}; {NOTHING}")
    if kind == style:
        return _paired(mean.text, spread.text, style, STYLES[kind])
    if _OWN_SPREAD.search(mean.text):
        raise PasteError(f"expected a mean alone, found {brief(mean.text)}; {NOTHING}")
    inside = spread.text.strip().strip("()[]±").strip()
    if kind in PAIRS or not inside.startswith(STYLES[kind]):
        inside = f"{STYLES[kind]} {inside}"
    return f"{mean.text} ({inside})"


def _paired(mean: str, spread: str, style: str, what: str) -> str:
    if is_blank(mean) and not is_blank(spread):
        raise PasteError(f"expected a mean beside {brief(spread)}, found none; {NOTHING}")
    if not is_blank(spread) and _OWN_SPREAD.search(mean):
        raise PasteError(
            f"expected {what} in two cells, found {brief(mean)} beside {brief(spread)}; {NOTHING}"
        )
    return joined_up(mean, spread, style)


def _one_n(sizes: dict[str, str], arm: str, n: str) -> None:
    if is_blank(n):
        return
    if sizes.setdefault(arm, n) != n:
        raise PasteError(
            f"expected one n for each arm, found {brief(sizes[arm])} and {brief(n)}: leave the "
            f"columns of n out and type them below the grid; {NOTHING}"
        )


def _said(headings: Headings, names: Names, doubles: bool) -> str:
    return " ".join(_sentences(headings, names, doubles))


def _sentences(headings: Headings, names: Names, doubles: bool) -> Iterator[str]:
    if headings.lines > 1:
        yield f"Read by its {_LINES.get(headings.lines, headings.lines)} lines of headings."
    if any(one.column for one in names.rows) and any(one.arm for one in headings.columns):
        yield "The rows are times and the columns arms."
    if doubles:
        yield "Of two numbers under one heading the first was taken for the mean."
    if names.said:
        yield names.said


_LINES = {2: "two", 3: "three"}
