"""One row of a table to texts, numbers and notes; every cell that is not understood is listed."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from steelyard.errors import Finding
from steelyard.records.cells import (
    CellError,
    CellNumber,
    DecimalMarks,
    decimal_marks,
    is_blank,
    parse_number,
)
from steelyard.records.control_characters import RULE, control_character
from steelyard.records.harmless import unguarded
from steelyard.records.printed import brief
from steelyard.records.tables.columns import (
    EFFECT_COLUMNS,
    NEEDED,
    NUMBER_COLUMNS,
    SPREAD_COLUMNS,
    STAGES,
    Columns,
    plain_name,
)
from steelyard.records.tables.sheets import UNSAVED_FORMULA, Cell, Sheet

_MEANS = frozenset(f"{stage}_mean" for stage in STAGES)


@dataclass(frozen=True, slots=True)
class TableRow:
    """What one row says.

    Attributes
    ----------
    number : int
        Row number as a spreadsheet shows it.
    texts : dict of str to str
        Columns of words that are not blank.
    numbers : dict of str to Decimal
        Columns of numbers that are not blank, with the SD of a ``mean ± SD`` cell.
    notes : dict of str to str
        Cells of unknown columns, as they stand.
    """

    number: int
    texts: dict[str, str]
    numbers: dict[str, Decimal]
    notes: dict[str, str]


class ProblemList:
    """Collects what is wrong with a table, by row and column."""

    def __init__(self, file: str, headers: dict[str, str]) -> None:
        self.file, self.headers = file, headers
        self.findings: list[tuple[int, Finding]] = []
        self.bad_rows: set[int] = set()
        self.bad_cells: set[tuple[int, str]] = set()

    def add(self, row: int, column: str, rule: str, message: str) -> None:
        """Note one problem; row 0 is the whole file, column "" the whole row."""
        parts = [f"row {row}"] if row else []
        parts += [f"column {self.headers.get(column, column)}"] if column else []
        finding = Finding(self.file, ", ".join(parts), "fault", rule, message)
        if (row, finding) not in self.findings[-40:]:
            self.findings.append((row, finding))
        self.bad_rows.add(row)
        self.bad_cells.add((row, column))

    @property
    def misaligned(self) -> bool:
        """Whether some row could not be laid under the header, so that its values are unknown."""
        return any(finding.rule == "too-many-cells" for _, finding in self.findings)

    def in_order(self) -> tuple[Finding, ...]:
        return tuple(finding for _, finding in sorted(self.findings, key=lambda pair: pair[0]))


def read_rows(sheet: Sheet, columns: Columns, problems: ProblemList) -> list[TableRow]:
    """Read every row; a row with a problem is still returned, without the faulty cells."""
    numeric = [position for name, position in columns.known.items() if name in NUMBER_COLUMNS]
    marks = decimal_marks(
        (
            cell
            for _, cells in sheet.rows
            for position in numeric
            if position < len(cells) and isinstance(cell := cells[position], str)
        ),
        semicolons=sheet.semicolons,
    )
    reader = _RowReader(columns, marks, len(sheet.headers), problems)
    return [reader.read(number, cells) for number, cells in sheet.rows]


class _RowReader:
    def __init__(
        self, columns: Columns, marks: DecimalMarks, width: int, problems: ProblemList
    ) -> None:
        self.columns, self.marks, self.width, self.problems = columns, marks, width, problems
        known = columns.known.items()
        self.number_columns = [(name, at) for name, at in known if name in NUMBER_COLUMNS]
        self.text_columns = [(name, at) for name, at in known if name not in NUMBER_COLUMNS]
        # A construct given in one row of an outcome holds for its other rows.
        self.needed = [name for name in NEEDED[columns.layout] if name != "construct"]

    def read(self, number: int, cells: tuple[Cell, ...]) -> TableRow:
        row = TableRow(number, {}, {}, {})
        beyond = [cell for cell in cells[self.width :] if str(cell).strip()]
        if beyond:
            message = (
                f"expected {self.width} cells as in the header, found {len(cells)}: does a "
                "number or a text hold the character that parts the columns?"
            )
            self.problems.add(number, "", "too-many-cells", message)
            return row
        cells = (*cells, *[""] * (self.width - len(cells)))
        for name, position in self.text_columns:
            text = self._text(row, name, cells[position])
            if text is not None:
                row.texts[name] = text
        spreads: dict[str, Decimal] = {}
        for name, position in self.number_columns:
            cell = cells[position]
            if isinstance(cell, Decimal):
                row.numbers[name] = cell
            elif cell and (read := self._number(row, name, cell)) is not None:
                row.numbers[name] = read.value
                if read.spread is not None:
                    spreads[name.removesuffix("_mean")] = read.spread
        for stage, spread in spreads.items():
            self._place_spread(row, stage, spread)
        for name, position in self.columns.kept.items():
            text = self._text(row, name, cells[position])
            if text is not None:
                row.notes[name] = text
        for name in self.needed:
            is_faulty = not is_blank(str(cells[self.columns.known[name]]))
            if name not in row.texts and name not in row.numbers and not is_faulty:
                message = "expected a value, found none: this column may not be blank"
                self.problems.add(number, name, "missing", message)
        return row

    def _text(self, row: TableRow, name: str, cell: Cell) -> str | None:
        if isinstance(cell, Decimal):
            return str(cell)
        if cell == UNSAVED_FORMULA:
            self._refuse(row, name, "a value", "a formula whose value was not saved")
            return None
        if odd := control_character(cell):
            self.problems.add(row.number, name, RULE, odd)
            return None
        return None if is_blank(cell) else " ".join(unguarded(cell).split())

    def _number(self, row: TableRow, name: str, cell: str) -> CellNumber | None:
        if cell == UNSAVED_FORMULA:
            self._refuse(row, name, "a number", "a formula whose value was not saved")
            return None
        try:
            read = parse_number(cell, marks=self.marks)
            if read is None:
                return None
            raw_effect = name in EFFECT_COLUMNS and plain_name(row.texts.get("metric", "")) == "raw"
            if read.percent and name not in SPREAD_COLUMNS and not raw_effect:
                raise CellError("expected a number without a percent sign")
            if read.spread is not None and name not in _MEANS:
                raise CellError("expected one number")
            return read
        except CellError as error:
            self.problems.add(row.number, name, "not-understood", f"{error}, found {brief(cell)}")
            return None

    def _place_spread(self, row: TableRow, stage: str, spread: Decimal) -> None:
        """The second number of a mean's cell is its SD, unless the row says it is its SE."""
        sd, se = f"{stage}_sd", f"{stage}_se"
        if sd not in row.numbers:
            if row.numbers.get(se) != spread:
                row.numbers[sd] = spread
        elif row.numbers[sd] != spread:
            found = f"{row.numbers[sd]} here and {spread} beside the mean"
            self._refuse(row, sd, "one SD", found)

    def _refuse(self, row: TableRow, name: str, expected: str, found: str) -> None:
        self.problems.add(row.number, name, "not-understood", f"expected {expected}, found {found}")
