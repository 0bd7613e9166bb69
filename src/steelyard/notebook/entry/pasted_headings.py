"""The headings above the numbers of a pasted block: what each column of numbers is told to be."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from steelyard.notebook.entry.cell import STYLES
from steelyard.notebook.entry.pasted_rows import NOTHING, Block, PasteError, Row
from steelyard.notebook.entry.pasted_told import NotUnderstood, Told, told
from steelyard.notebook.entry.pasted_words import (
    KIND_WORDS,
    SIZE_WORDS,
    WEEK_WORDS,
    is_corner,
)
from steelyard.notebook.entry.state import ArmForm, OutcomeForm
from steelyard.records.printed import brief

_WORD = re.compile(r"[^\W\d_]+|[0-9]+(?:[.,][0-9]+)?")
_NOTHING_TOLD = Told()


@dataclass(frozen=True, slots=True)
class Headings:
    """What the lines above the numbers say of them.

    Attributes
    ----------
    columns : tuple of Told
        For each column of numbers; empty where no line says anything of single columns.
    alone : tuple of bool
        Whether a column has no heading of its own in any line, only what reaches over it.
    overall : Told
        What a line or corner says of all numbers, such as ``Mean ± SD``.
    lines : int
        How many lines tell something of single columns.
    """

    columns: tuple[Told, ...] = ()
    alone: tuple[bool, ...] = ()
    overall: Told = _NOTHING_TOLD
    lines: int = 0


def headed(block: Block, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> Headings:
    """Read the headings above the rows.

    Raises
    ------
    PasteError
        If one of them is not understood to its last word, or two say the same of one number.
    """
    named = bool(block.rows[0].label)
    wide = max(_filled(row.cells) for row in block.rows)
    overall, lines = Told(), []
    for head in block.heads:
        told_of_all, cells = _aligned(head, wide, outcome, arms, named=named)
        both = overall.and_(told_of_all)
        if both is None:
            raise PasteError(f"the headings say twice how the numbers are printed: {NOTHING}")
        overall = both
        if any(cells):
            lines.append(cells)
    if not lines:
        return Headings(overall=overall)
    alone = tuple(not any(line[at] for line in lines) for at in range(wide))
    columns = [Told()] * wide
    for line in lines:
        found = [_understood(cell, outcome, arms) for cell in line]
        for at, own in enumerate(_reaching(line, found, last=line is lines[-1], alone=alone)):
            together = columns[at].and_(own)
            if together is None:
                raise PasteError(
                    f"the headings say the same of column {at + 1} twice"
                    f"{_shown(line[at])}: {NOTHING}"
                )
            columns[at] = together
    return Headings(tuple(columns), alone, overall, len(lines))


def _reaching(
    line: Sequence[str], found: Sequence[Told], *, last: bool, alone: Sequence[bool]
) -> list[Told]:
    """A heading reaches over the blank ones after it, as merged cells are pasted.

    In the last line it does so only where nothing else stands above the number; n never does.
    """
    reached: list[Told] = []
    before = Told()
    for text, own, blank in zip(line, found, alone, strict=True):
        if text:
            before = own
            reached.append(own)
        else:
            reached.append(before if (blank or not last) and not before.n else Told())
    return reached


def _aligned(
    head: Row, wide: int, outcome: OutcomeForm, arms: Sequence[ArmForm], *, named: bool
) -> tuple[Told, list[str]]:
    """What a line says of all numbers, and its cells above each of them."""
    if not head.parted:
        return _parted(head.label, wide, outcome, arms)
    every = [head.label, *head.cells]
    if _filled(every) <= 1 and head.label and (wide > 1 or named) and not is_corner(head.label):
        own = _understood(head.label, outcome, arms)
        if own.arm or own.column or own.n:
            raise _lost(head.label, "no number stands below it")
        return own, [""] * wide
    beside = named and (not head.label or is_corner(head.label))
    if beside and _filled(head.cells) <= wide:
        return Told(), _cut(head.cells, wide)
    if named and not beside and _filled(every) <= wide <= len(every):
        # Headings without a corner; one longer, and the first would head the names.
        return Told(), _cut(every, wide)
    if named and not beside and _filled(head.cells) <= wide:
        own = _understood(head.label, outcome, arms)
        if own.arm or own.column or own.n:
            raise _lost(head.label, "it stands above the names of the rows")
        return own, _cut(head.cells, wide)
    if not named and _filled(every) <= wide:
        return Told(), _cut(every, wide)
    if not named and (not head.label or is_corner(head.label)) and _filled(head.cells) <= wide:
        return Told(), _cut(head.cells, wide)
    raise PasteError(
        f"expected one heading above each number, found {_filled(every)} headings over rows of "
        f"{wide} numbers: {NOTHING}"
    )


def _parted(
    line: str, wide: int, outcome: OutcomeForm, arms: Sequence[ArmForm]
) -> tuple[Told, list[str]]:
    """A line of headings that only spaces part: a new one begins at each time, arm and n."""
    starts = _starts(line, arms)
    corner = line[: starts[0]] if starts else line
    own = Told() if is_corner(corner) else _understood(corner, outcome, arms)
    if not starts:
        return own, [""] * wide
    if not own.empty:
        raise _lost(line, "put tabs between the headings")
    cells = [
        line[start:end].strip() for start, end in zip(starts, [*starts[1:], None], strict=True)
    ]
    sizes = [_understood(cell, outcome, arms).n for cell in cells]
    if len(cells) != wide and 2 * len(cells) - sum(sizes) == wide:
        pairs = zip(cells, sizes, strict=True)
        cells = [part for cell, n in pairs for part in ((cell,) if n else (cell, ""))]
    if len(cells) != wide:
        raise _lost(
            line, f"it has {len(cells)} headings for {wide} numbers: put tabs between the columns"
        )
    return Told(), cells


def _starts(line: str, arms: Sequence[ArmForm]) -> list[int]:
    """Where each heading of a line begins."""
    taken = list(line.casefold())
    starts: list[int] = []
    for arm in sorted(arms, key=lambda each: -len(each.label)):
        name = " ".join(arm.label.casefold().split())
        at = "".join(taken).find(name) if name else -1
        if at >= 0 and len(taken) == len(line):
            starts.append(at)
            taken[at : at + len(name)] = "\0" * len(name)
    kind, week = "", ""
    words = list(_WORD.finditer(line))
    for place, match in enumerate(words):
        if "\0" in taken[match.start() : match.end()]:
            kind = week = ""
            continue
        word = match.group().casefold()
        near = (at for at in (place - 1, place + 1) if 0 <= at < len(words))
        beside = {words[at].group().casefold() for at in near}
        if word in SIZE_WORDS:
            starts.append(match.start())
            kind = week = ""
        elif word in KIND_WORDS:
            starts.append(match.start())
            week = ""
            kind = KIND_WORDS[word]
        elif word[0].isdecimal() and beside & WEEK_WORDS:
            before = place and words[place - 1].group().casefold() in WEEK_WORDS
            fits = kind and not week and (word.strip("0.,") == "") == (kind == "pre")
            if not fits:
                starts.append(words[place - 1].start() if before else match.start())
                kind = ""
            week = "0" if not word.strip("0.,") else word
    return sorted(set(starts))


def _understood(text: str, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> Told:
    try:
        return told(text, outcome, arms)
    except NotUnderstood as error:
        named = [brief(arm.label.strip()) for arm in arms if arm.label.strip()]
        known = f"an arm's name ({', '.join(named[:3])}), " if named else "an arm's name, "
        raise _lost(
            text,
            f"{error}. Understood are {known}a time such as Pre, Post or Week 12 that the grid "
            f"has, mean, {', '.join(list(STYLES.values())[:4])}, n, and the outcome's own name and "
            "unit: call it so, or leave this column out",
        ) from error


def _lost(text: str, why: str) -> PasteError:
    return PasteError(f"the heading {brief(text)} was not understood: {why}; {NOTHING}")


def _cut(cells: Sequence[str], wide: int) -> list[str]:
    return (list(cells) + [""] * wide)[:wide]


def _filled(cells: Sequence[str]) -> int:
    return max((at for at, cell in enumerate(cells, 1) if cell), default=0)


def _shown(text: str) -> str:
    return f" ({brief(text)})" if text else ""
