"""The numbers of a pasted row, told apart: which column each is, and whether one of them is n."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from steelyard.notebook.entry.cell import PAIRS, read_cell
from steelyard.notebook.entry.counts import read_count
from steelyard.notebook.entry.pasted_rows import NOTHING, PasteError, Row
from steelyard.notebook.entry.pasted_words import same_name
from steelyard.notebook.entry.state import ONE_NUMBER, ArmForm, OutcomeForm
from steelyard.records.cells import CellError, decimal_marks, is_blank, parse_number
from steelyard.records.printed import brief

_OWN_SPREAD = re.compile(r"±|\+/[-−]|[(\[]")
_BARE = re.compile(r"[±(\s]*([0-9]{1,12}(?:[.,][0-9]{1,12})?)[)\s]*")
_WHOLE = re.compile(r"[0-9]{1,7}")


@dataclass(frozen=True, slots=True)
class Filled:
    """Text by ``arm key|column``, n by arm key, and whether n was told by standing first alone."""

    cells: dict[str, str] = field(default_factory=dict)
    sizes: dict[str, str] = field(default_factory=dict)
    n_first: bool = False


def fitted(rows: Sequence[Row], arms: Sequence[ArmForm], outcome: OutcomeForm) -> Filled:
    """The cells and sizes of rows, each of which is one arm's.

    Raises
    ------
    PasteError
        If there is no way to read them all, or more than one.
    """
    found: list[Filled] = []
    refused: list[str] = []
    for reading in _readings(outcome):
        if not all(reading.could_be(row) for row in rows):
            continue
        try:
            found.append(reading.filled(rows, arms))
        except PasteError as error:
            refused.append(str(error))
    if len(found) == 1:
        return found[0]
    if found:
        raise PasteError(
            "these numbers can be read in two ways: put ± between a mean and its spread, or paste "
            f"the line of headings as well; {NOTHING}"
        )
    if refused:
        raise PasteError(refused[0])
    raise PasteError(_wrong_count(rows, arms, outcome))


def _readings(outcome: OutcomeForm) -> Iterator[Reading]:
    columns = tuple(outcome.columns())
    for paired in (False, True):
        if paired and all(column.partition("@")[0] in ONE_NUMBER for column in columns):
            continue
        for with_n in (False, True):
            yield Reading(outcome, columns, paired, with_n)


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read rows of numbers.

    Attributes
    ----------
    outcome : OutcomeForm
    columns : tuple of str
    paired : bool
        Whether mean and spread stand in cells of their own.
    with_n : bool
        Whether n stands first.
    """

    outcome: OutcomeForm
    columns: tuple[str, ...]
    paired: bool
    with_n: bool

    @property
    def size(self) -> int:
        """How many cells a row has."""
        return sum(map(self._wide, self.columns)) + self.with_n

    def could_be(self, row: Row) -> bool:
        """Whether a row has so many cells, counting empty ones at its end or not."""
        filled = len(row.cells)
        while filled and not row.cells[filled - 1]:
            filled -= 1
        if self.with_n and not _WHOLE.fullmatch(row.cells[0]):
            return False
        return filled <= self.size <= len(row.cells)

    def filled(self, rows: Sequence[Row], arms: Sequence[ArmForm]) -> Filled:
        """The rows read so.

        Raises
        ------
        PasteError
            If they cannot be.
        """
        filled = Filled(n_first=self.with_n)
        for row, arm in zip(rows, arms, strict=True):
            cells, n = self._row(row, arm)
            if n:
                filled.sizes[arm.key] = n
            filled.cells.update(
                {f"{arm.key}|{column}": text for column, text in cells.items() if text}
            )
        self._like_n(rows)
        refuse_unreadable(filled.cells, filled.sizes, self.outcome)
        return filled

    def _wide(self, column: str) -> int:
        return 2 if self.paired and column.partition("@")[0] not in ONE_NUMBER else 1

    def _row(self, row: Row, arm: ArmForm) -> tuple[dict[str, str], str]:
        cells, n = list(row.cells[: self.size]), ""
        if self.with_n:
            n = cells.pop(0)
            self._refuse_doubtful_n(n, row, arm, cells)
        texts: dict[str, str] = {}
        for column in self.columns:
            kind = column.partition("@")[0]
            taken = [cells.pop(0) for _ in range(self._wide(column))]
            style = self.outcome.style(column)
            if kind in ("pre", "post") and len(taken) == 2:
                refuse_larger_spread(*taken)
            texts[column] = taken[0] if len(taken) == 1 else joined_up(*taken, style)
        if not row.parted and self._mixed(texts):
            raise PasteError(
                f"some numbers of the row {brief(row.label)} have a spread and some have none: put "
                f"tabs between the columns; {NOTHING}"
            )
        n = "" if is_blank(n) else n
        if n and row.n and n != row.n:
            raise PasteError(f"expected one n, found {n} and {row.n}; {NOTHING}")
        return texts, n or row.n

    def _refuse_doubtful_n(self, n: str, row: Row, arm: ArmForm, cells: Sequence[str]) -> None:
        """A whole number is n where nothing else could be meant."""
        if not row.parted and row.label and not same_name(row.label, arm):
            raise PasteError(
                f"cannot tell whether {n} is n or belongs to the name {brief(row.label)}: put a "
                f"tab behind the name; {NOTHING}"
            )
        means = [
            text
            for column, text in zip(self.columns, cells, strict=False)
            if column.partition("@")[0] not in ONE_NUMBER and not is_blank(text)
        ]
        if not self.paired and means and not any(map(_OWN_SPREAD.search, means)):
            raise PasteError(
                f"cannot tell whether {n} is n: put ± between a mean and its spread, or paste the "
                f"line of headings as well; {NOTHING}"
            )

    def _has_spread(self, column: str) -> bool:
        return column.partition("@")[0] not in ONE_NUMBER and self.outcome.style(column) != "none"

    def _mixed(self, texts: dict[str, str]) -> bool:
        """Whether some means have a spread and some have none, as where a space parts thousands."""
        own = {
            bool(_OWN_SPREAD.search(text))
            for column, text in texts.items()
            if self._has_spread(column)
        }
        return len(own) > 1

    def _like_n(self, rows: Sequence[Row]) -> None:
        """Refuse a first column of bare whole numbers before means that all have a spread."""
        if self.paired or self.with_n or len(self.columns) < 2:
            return
        if self.columns[0].partition("@")[0] in ONE_NUMBER:
            return
        for row in rows:
            first, *others = row.cells[: self.size]
            told = [text for text in others if not is_blank(text)]
            if not (_WHOLE.fullmatch(first) and told and all(map(_OWN_SPREAD.search, told))):
                return
        raise PasteError(
            "the first number of every row looks like n, and then a column is missing: paste all "
            f"columns of the grid; {NOTHING}"
        )


def refuse_unreadable(
    cells: Mapping[str, str], sizes: Mapping[str, str], outcome: OutcomeForm
) -> None:
    """Refuse what is no number, and more people with an event than there are.

    Raises
    ------
    PasteError
        Says which and why.
    """
    marks = decimal_marks(cells.values())
    for n in sizes.values():
        if not (_WHOLE.fullmatch(n) and int(n) >= 2):
            raise PasteError(f"expected n of 2 or more, found {brief(n)}; {NOTHING}")
    for place, text in cells.items():
        arm, _, column = place.partition("|")
        kind = column.partition("@")[0]
        try:
            if kind == "events":
                count = read_count(text, marks=marks)
                if count is not None and arm in sizes and count > int(sizes[arm]):
                    raise CellError(f"expected at most {sizes[arm]} people with it")
            elif kind in ONE_NUMBER:
                parse_number(text, marks=marks)
            else:
                read_cell(text, outcome.style(column), marks=marks)
        except CellError as error:
            raise PasteError(f"{brief(text)}: {error}; {NOTHING}") from error


def refuse_larger_spread(mean: str, spread: str) -> None:
    """Refuse two numbers that nothing names where the second, not the first, may be the mean.

    Raises
    ------
    PasteError
    """
    found = [_BARE.fullmatch(text) for text in (mean, spread)]
    if None in found:
        return
    first, second = (float(each[1].replace(",", ".")) for each in found if each is not None)
    if first < second:
        raise PasteError(
            f"cannot tell whether {brief(mean)} or {brief(spread)} is the mean, since the second "
            f"is larger: put headings such as Mean and SD above both, or ± between them; {NOTHING}"
        )


def joined_up(mean: str, spread: str, style: str) -> str:
    """A mean and its spread from two cells as one cell's text."""
    spread = spread.strip().lstrip("±").strip()
    if is_blank(spread):
        return mean
    if is_blank(mean):
        return ""
    if style in PAIRS or spread[:1] in "([":
        return f"{mean} ({spread.strip('()[]')})"
    return f"{mean} ± {spread}"


def _wrong_count(rows: Sequence[Row], arms: Sequence[ArmForm], outcome: OutcomeForm) -> str:
    readings = [each for each in _readings(outcome) if not each.with_n]
    sizes = list(dict.fromkeys(each.size for each in readings))
    row, arm = next(
        (
            (row, arm)
            for row, arm in zip(rows, arms, strict=True)
            if not any(each.could_be(row) for each in readings)
        ),
        (rows[0], arms[0]),
    )
    who = f" for {brief(arm.label)}" if arm.label.strip() else ""
    return (
        f"expected {' or '.join(map(str, sizes))} numbers in a row (with n before them, if it is "
        f"printed){who}, found {len(row.cells)}: {NOTHING}"
    )
