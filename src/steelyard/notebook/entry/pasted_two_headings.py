"""A pasted table with two lines of headings, such as times over mean and SD, or arms over times.

Every number must come out with one arm, one time and one measure, each told by a heading above it
or by the name before its row. What is left open or told twice is not read here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from steelyard.notebook.entry.cell import PAIRS, QUANTILES, STYLES
from steelyard.notebook.entry.pasted_cells import joined_up, refuse_unreadable
from steelyard.notebook.entry.pasted_rows import NOTHING, Block, PasteError, Row
from steelyard.notebook.entry.pasted_words import (
    arm_of,
    column_of,
    is_corner,
    measure_of,
    named_n,
    same_name,
    time_of,
)
from steelyard.notebook.entry.state import ONE_NUMBER, ArmForm, OutcomeForm
from steelyard.records.cells import is_blank
from steelyard.records.printed import brief

_CENTRES = ("mean", "median")
_ERROR = re.compile(r"\b(?:sem?|s\.e\.m?\.?|standard errors?)(?!\w)", re.IGNORECASE)
Facets = dict[str, str]
"""What is known of a number: its ``arm`` (key), ``column`` of the grid and ``measure``."""


@dataclass(frozen=True, slots=True)
class TwoHeadings:
    """Text by ``arm key|column``, n by arm key, and what was taken for granted."""

    cells: dict[str, str]
    sizes: dict[str, str]
    said: str


def by_two_headings(
    block: Block, outcome: OutcomeForm, arms: Sequence[ArmForm]
) -> TwoHeadings | None:
    """Read a table by two lines of headings; None where it has none that tell every number.

    Raises
    ------
    PasteError
        If they tell a number twice, give two numbers of people for an arm, or a spread without
        its mean.
    """
    columns = _columns(block, outcome, arms)
    rows = _rows(block, outcome, arms) if columns is not None else None
    if columns is None or rows is None:
        return None
    numbers: dict[tuple[str, str, str], str] = {}
    sizes: dict[str, str] = {}
    for row, of_row in zip(block.rows, rows, strict=True):
        for text, of_column in zip(_wide(row, len(columns)), columns, strict=True):
            if set(of_row) & set(of_column):
                return None
            known = of_row | of_column
            if known.get("measure") == "n" and "arm" in known:
                _one_n(sizes, known["arm"], text)
                continue
            if not {"arm", "column"} <= set(known):
                return None
            place = (known["arm"], known["column"], known.get("measure", ""))
            if place in numbers:
                raise PasteError(f"the headings tell a number twice: {brief(text)}; {NOTHING}")
            numbers[place] = text
        if "arm" in of_row and (n := named_n(row.label)):
            _one_n(sizes, of_row["arm"], n)
    cells = dict(_cells(numbers, outcome))
    refuse_unreadable(cells, sizes, outcome)
    return TwoHeadings(cells, sizes, f"Read by its two lines of headings. {_taken(block, rows)}")


def refuse_other_spreads(block: Block, outcome: OutcomeForm) -> None:
    """Refuse headings that say another spread than the grid, or put it before the mean.

    Raises
    ------
    PasteError
    """
    styles = {outcome.style(column) for column in outcome.columns()}
    for head in block.heads:
        measures = [found for cell in (head.label, *head.cells) if (found := measure_of(cell))]
        spreads = [each for each in measures if each in STYLES]
        if spreads and set(_CENTRES) & set(measures):
            first = next(each for each in measures if each != "n")
            if first in STYLES:
                raise PasteError(
                    f"the headings put the {STYLES[first]} before the mean, and cannot be told "
                    f"apart otherwise: paste the mean first; {NOTHING}"
                )
        if _ERROR.search(" ".join((head.label, *head.cells))):
            spreads.append("se")
        other = next((each for each in spreads if each not in styles), None)
        if other is not None:
            raise PasteError(
                f"the headings say {STYLES[other]}, no column of the grid is set to that: choose "
                f"it above the column first; {NOTHING}"
            )


def _columns(block: Block, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> list[Facets] | None:
    """What the last two headings say of each column; None where they do not say all."""
    if len(block.heads) < 2 or not all(each.parted for each in (*block.rows, *block.heads[-2:])):
        return None
    named = bool(block.rows[0].label)
    if any(bool(row.label) != named for row in block.rows):
        return None
    wide = max(_filled(row.cells) for row in block.rows)
    upper, lower = (_above(head, wide, named=named) for head in block.heads[-2:])
    if upper is None or lower is None:
        return None
    # A heading reaches over the blank ones after it, as merged cells are pasted.
    over = [_known(text, outcome, arms) for text in _reaching(upper, lower)]
    below = [_known(text, outcome, arms) for text in lower]
    found = []
    for one, other in zip(over, below, strict=True):
        if one is None or other is None or set(one) & set(other) or not (one or other):
            return None
        found.append(one | other)
    facets = {name for each in found for name in each if each.get("measure") != "n"}
    both = any(one for one in over) and any(other for other in below)
    return found if both and len(facets) > 1 else None


def _above(head: Row, wide: int, *, named: bool) -> list[str] | None:
    """A heading's cells above the numbers; None where they do not fit."""
    cells = list(head.cells) if named else [head.label, *head.cells]
    if named and (not is_corner(head.label) or measure_of(head.label)):
        # Headings without a corner would stand one column beside what they name.
        return None
    if _filled(cells) > wide:
        return None
    return (cells + [""] * wide)[:wide]


def _reaching(upper: Sequence[str], lower: Sequence[str]) -> Iterator[str]:
    """The upper heading of each column; none over an n that stands before the first."""
    last = ""
    for text, below in zip(upper, lower, strict=True):
        last = text or ("" if measure_of(last) == "n" else last)
        yield last if last or measure_of(below) == "n" else ""


def _known(text: str, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> Facets | None:
    """What a heading or name tells; None where it tells something else."""
    if not text:
        return {}
    if (arm := arm_of(text, arms)) is not None and same_name(text, arm):
        return {"arm": arm.key}
    if measure := measure_of(text):
        return {"measure": measure}
    time = time_of(text)
    column = column_of(time, outcome.columns()) if time is not None else ""
    return {"column": column} if column else None


def _rows(block: Block, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> list[Facets] | None:
    """What the name before each row tells; a single row may be called anything."""
    found = [_known(row.label, outcome, arms) for row in block.rows]
    if len(found) == 1:
        return [found[0] or {}]
    if None in found or not all(found) or len({tuple(each.items()) for each in found}) < len(found):
        return None
    return (
        found if len({tuple(each) for each in found if each.get("measure") != "n"}) == 1 else None
    )


def _wide(row: Row, wide: int) -> list[str]:
    return (list(row.cells) + [""] * wide)[:wide]


def _filled(cells: Sequence[str]) -> int:
    return max((at for at, cell in enumerate(cells, 1) if cell), default=0)


def _one_n(sizes: dict[str, str], arm: str, n: str) -> None:
    if is_blank(n):
        return
    if sizes.setdefault(arm, n) != n:
        raise PasteError(
            f"expected one n for each arm, found {brief(sizes[arm])} and {brief(n)}: leave the "
            f"columns of n out and type them below the grid; {NOTHING}"
        )


def _cells(
    numbers: dict[tuple[str, str, str], str], outcome: OutcomeForm
) -> Iterator[tuple[str, str]]:
    """Mean and spread of each place as one text, with the spread's name where the grid differs."""
    for arm, column in dict.fromkeys(place[:2] for place in numbers):
        said = {m: text for (a, c, m), text in numbers.items() if (a, c) == (arm, column)}
        centre = next((each for each in ("", *_CENTRES) if each in said), None)
        spreads = [each for each in said if each in STYLES]
        sound = centre is not None and len(said) == 1 + len(spreads) and len(spreads) < 2
        if not sound or (spreads and not centre):
            raise PasteError(
                f"expected one mean with one spread for each arm and time, found "
                f"{', '.join(each or 'a number' for each in said)}; {NOTHING}"
            )
        text = said[centre]
        if spreads and not is_blank(said[spreads[0]]):
            text = _joined(text, said[spreads[0]], spreads[0], centre, outcome, column)
        if not is_blank(text):
            yield f"{arm}|{column}", text


def _joined(
    mean: str, spread: str, style: str, centre: str, outcome: OutcomeForm, column: str
) -> str:
    if column.partition("@")[0] in ONE_NUMBER:
        raise PasteError(f"expected one number for each {column.partition('@')[0]}; {NOTHING}")
    if is_blank(mean):
        raise PasteError(f"expected a mean beside {brief(spread)}, found none; {NOTHING}")
    if (centre == "median") != (style in QUANTILES) and centre:
        raise PasteError(f"expected no {STYLES[style]} beside a {centre}; {NOTHING}")
    if style == outcome.style(column):
        return joined_up(mean, spread, style)
    inside = spread.strip().strip("()[]±").strip()
    if style in PAIRS or not inside.startswith(STYLES[style]):
        inside = f"{STYLES[style]} {inside}"
    return f"{mean} ({inside})"


def _taken(block: Block, rows: Sequence[Facets]) -> str:
    if len(rows) == 1 and not rows[0] and block.rows[0].label:
        return f"The row {brief(block.rows[0].label)} was taken for this outcome."
    return ""
