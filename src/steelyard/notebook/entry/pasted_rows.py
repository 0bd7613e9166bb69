"""A pasted block taken apart: the rows with numbers, what stands before each, and the headings."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from steelyard.notebook.entry.pasted_words import (
    WEEK_WORDS,
    measure_of,
    named_n,
    same_whole_name,
    time_of,
)
from steelyard.notebook.entry.state import ArmForm
from steelyard.records.cells import is_blank
from steelyard.records.printed import brief

MOST_CHARACTERS = 200_000
LONGEST_LINE = 5_000
NOTHING = "nothing was filled in"
_NUMBER = (
    r"[-−–+]?[0-9](?:[0-9.,]*[0-9])?(?:[\u2009\u202f'’][0-9]{3}(?![0-9]))*(?:[.,][0-9]+)?\s?%?"
)
_CELL = re.compile(
    rf"{_NUMBER}(?:\s?(?:±|\+/[-−])\s?{_NUMBER}|\s?[(\[][^()\[\]]{{1,60}}[)\]]|\s?/\s?[0-9]+)?"
)
_STARTS = re.compile(rf"[(\[<>~≈]?\s?{_NUMBER}(?![0-9A-Za-zµ°])")
_SPREAD = re.compile(r"[0-9]\s?(?:±|\+/[-−])")
_STARRED = re.compile(r"(?<=[0-9)\]%])\s?[*†‡§¶#]+$")
_BETWEEN = re.compile(r"[\s,;:|*†‡§¶#]*")
_WORD = re.compile(r"[^\W\d_]+")
_NOT_NAMES = frozenset({"sd", "se", "sem", "ci", "iqr", "range", "to", "p", "t", "e"})


class PasteError(ValueError):
    """A block that does not fit the grid; the message says what was expected."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a block.

    Attributes
    ----------
    label : str
        What stands before the numbers; empty where nothing does.
    cells : tuple of str
        Its cells; empty ones at the end are kept where marks part the cells.
    parted : bool
        Whether tabs, lines or wide gaps part the cells, so that a name may hold a number.
    """

    label: str
    cells: tuple[str, ...]
    parted: bool

    @property
    def n(self) -> str:
        """n where the label names it."""
        return named_n(self.label)


@dataclass(frozen=True, slots=True)
class Block:
    """A block as rows with numbers, and the lines that stand above them."""

    rows: tuple[Row, ...]
    heads: tuple[Row, ...]


def take_apart(text: str, arms: Sequence[ArmForm]) -> Block:
    """Take a pasted text apart.

    Parameters
    ----------
    text : str
    arms : sequence of ArmForm
        A name of one of them at the start of a line is no number, whatever it holds.

    Raises
    ------
    PasteError
        If it is too long, or a line's name cannot be told from its numbers.
    """
    if len(text) > MOST_CHARACTERS:
        raise PasteError(
            f"expected a table of at most {MOST_CHARACTERS:,} characters, found {len(text):,}"
        )
    rows: list[Row] = []
    heads: list[Row] = []
    for line in text.splitlines():
        line = line.strip("\r\n")
        if not line.strip(" \t|-–—_="):
            continue
        if len(line) > LONGEST_LINE:
            raise PasteError(
                f"expected rows of at most {LONGEST_LINE:,} characters, found one of "
                f"{len(line):,}: {NOTHING}"
            )
        row = _row(line, arms)
        if not rows and _ends_with_week(row):
            row = Row(line.strip(), (), parted=False)
        if any(_is_data(cell, arms) for cell in row.cells) or _all_blank(row.cells):
            rows.append(row)
            continue
        unclear = _SPREAD.search(line) or (re.search(r"[0-9]", line) and time_of(line) is None)
        if unclear and (
            rows or _SPREAD.search(line) or (not row.parted and line.strip()[0].isdecimal())
        ):
            raise PasteError(
                f"expected a name and then numbers alone, found {brief(line.strip())}: put a tab "
                f"between them, or leave the line out; {NOTHING}"
            )
        if rows:
            raise PasteError(
                f"the line {brief(line.strip())} stands below the first row of numbers and was "
                f"not understood: leave it out; {NOTHING}"
            )
        heads.append(row)
    return Block(tuple(rows), tuple(heads))


def _ends_with_week(row: Row) -> bool:
    """Whether a line of headings that spaces part ends as ``Week 12`` does."""
    ends = row.label.casefold().split()[-1:]
    return not row.parted and len(row.cells) == 1 and bool(ends and WEEK_WORDS.issuperset(ends))


def _all_blank(cells: Sequence[str]) -> bool:
    """Whether a row says in each cell that nothing is reported, with a mark in some."""
    return any(cells) and all(map(is_blank, cells))


def _row(line: str, arms: Sequence[ArmForm]) -> Row:
    for mark in ("\t", "|", r";\s", r"\s{2,}"):
        parts = line.split(mark) if len(mark) == 1 else re.split(mark, line.strip())
        if len(parts) > 1:
            break
    else:
        return _unparted(line.strip(), arms)
    parts = [_STARRED.sub("", _closed_up(part).strip('"').strip()) for part in parts]
    if mark == "|":
        parts = parts[bool(not parts[0]) : len(parts) - bool(not parts[-1])]
    label = "" if not parts or _is_number(parts[0]) else parts.pop(0)
    return Row(label, tuple(parts), parted=True)


def _unparted(line: str, arms: Sequence[ArmForm]) -> Row:
    """A line whose cells nothing but a space parts: its name ends with its last word."""
    end = max((_name_at_start(line, arm.label) for arm in arms), default=0)
    for word in _WORD.finditer(line, end):
        told = word.group().casefold()
        if any(map(str.isalpha, told)) and told not in _NOT_NAMES:
            end = word.end()
    if named := list(re.finditer(r"\bn\s?=\s?[0-9]{1,7}\s?[)\]]?", line, re.IGNORECASE)):
        end = max(end, named[-1].end())
    if end and line[end : end + 1] in (")", "]"):
        end += 1
    rest = line[end:]
    found = list(_CELL.finditer(rest))
    last = 0
    for match in (*found, None):
        gap = rest[last : match.start() if match else len(rest)]
        if not _BETWEEN.fullmatch(gap):
            return Row(line, (), parted=False)
        last = match.end() if match else last
    return Row(line[:end].strip(" :"), tuple(each.group().strip() for each in found), parted=False)


def _name_at_start(line: str, label: str) -> int:
    """Where an arm's name that a line starts with ends; 0 where it does not start with it."""
    name = " ".join(label.split())
    if not name or line[: len(name)].casefold() != name.casefold():
        return 0
    after = line[len(name) : len(name) + 1]
    return 0 if after.isalnum() or after in (".", ",") else len(name)


def _closed_up(text: str) -> str:
    """Runs of spaces closed up; thin ones stay, since they part thousands."""
    return re.sub(r"[ \t\r\n\f\v]+", " ", text).strip()


def _is_data(cell: str, arms: Sequence[ArmForm]) -> bool:
    if not _STARTS.match(cell) or time_of(cell) is not None or measure_of(cell):
        return False
    return not any(same_whole_name(cell, arm) for arm in arms if re.search(r"[^\W\d_]", arm.label))


def _is_number(text: str) -> bool:
    """Whether a line's first cell is a number or a blank, and no name."""
    if not text:
        return False
    if is_blank(text):
        return True
    words = {word.casefold() for word in _WORD.findall(text) if any(map(str.isalpha, word))}
    return bool(_STARTS.match(text)) and words <= _NOT_NAMES
