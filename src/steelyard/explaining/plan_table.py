"""A weekly plan read from a table: exercise, sets, reps, load, sessions."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path

from steelyard.errors import SteelyardError
from steelyard.records.tables.sheets import read_sheet

NEEDED = ("exercise", "sets", "sessions")
KNOWN = (*NEEDED, "reps", "load_percent_1rm", "rest_s", "lowering_s", "site", "tag")
SAME = {
    "load": "load_percent_1rm",
    "load %": "load_percent_1rm",
    "load_percent": "load_percent_1rm",
    "sessions_per_week": "sessions",
    "rest": "rest_s",
    "lowering": "lowering_s",
    "repetitions": "reps",
    "muscle": "site",
    "tags": "tag",
}
NUMBERS = ("sets", "sessions", "reps", "load_percent_1rm", "rest_s", "lowering_s")
_SPAN = re.compile(r"^(\d+(?:[.,]\d+)?)(?:\s*(?:-|–|to)\s*(\d+(?:[.,]\d+)?))?\s*(%|s)?$")
# Which unit may stand behind a number; kilograms are no percent of anybody's heaviest lift.
UNITS = {"load_percent_1rm": "%", "rest_s": "s", "lowering_s": "s"}
ABOVE_ZERO = ("sets", "sessions", "reps")


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One exercise of a week; numbers as (low, high), None where the plan does not say.

    ``sets`` is per session, ``sessions`` per week.
    """

    row: int
    exercise: str
    sets: tuple[float, float]
    sessions: tuple[float, float]
    reps: tuple[float, float] | None = None
    load_percent_1rm: tuple[float, float] | None = None
    rest_s: tuple[float, float] | None = None
    lowering_s: tuple[float, float] | None = None
    site: str = ""
    tag: str = ""

    @property
    def sets_per_week(self) -> tuple[float, float]:
        return self.sets[0] * self.sessions[0], self.sets[1] * self.sessions[1]


class PlanError(SteelyardError):
    """A plan that cannot be read; the message lists every cell that is wrong."""


def plan_of(text: str) -> tuple[PlanRow, ...]:
    """A plan typed as lines with commas, the first naming the columns.

    Raises
    ------
    PlanError
        As `read_plan`.
    """
    lines = [
        (number, tuple(cell.strip() for cell in cells))
        for number, cells in enumerate(csv.reader(text.strip().splitlines()), 1)
        if any(cell.strip() for cell in cells)
    ]
    if not lines:
        raise PlanError("the plan is empty: expected a first line with exercise, sets, sessions")
    return _plan(lines[0][1], lines[1:])


def read_plan(path: str | Path) -> tuple[PlanRow, ...]:
    """Read a plan, csv or xlsx.

    Parameters
    ----------
    path : str or Path
        Columns exercise, sets (a session), sessions (a week); and, where known, reps,
        load_percent_1rm, rest_s, lowering_s, site, tag. Cells may hold ``8`` or ``6-8``.

    Raises
    ------
    PlanError
        With every missing column and every cell that is not understood.
    """
    sheet = read_sheet(Path(path))
    return _plan(*_parted(sheet.headers, sheet.rows))


def _plan(headers, rows) -> tuple[PlanRow, ...]:
    heads = [_name(_text(cell)) for cell in headers]
    missing = [name for name in NEEDED if name not in heads]
    if missing:
        raise PlanError(
            f"the plan has no column {', '.join(missing)}; expected exercise, sets (a session) "
            f"and sessions (a week), found {', '.join(filter(None, heads)) or 'none'}"
        )
    found, faults = [], []
    for number, cells in rows:
        texts = {
            head: _text(cell) for head, cell in zip(heads, cells, strict=False) if head in KNOWN
        }
        values = _values(texts, number, faults)
        if values is not None:
            found.append(PlanRow(row=number, **values))
    if faults:
        raise PlanError("the plan is not understood:\n" + "\n".join(faults))
    if not found:
        raise PlanError("the plan names no exercise")
    return tuple(found)


def _parted(headers, rows):
    """Cells of a table with semicolons, where these were not taken for separators."""
    if len(headers) != 1 or ";" not in _text(headers[0]):
        return headers, rows
    return _text(headers[0]).split(";"), [
        (number, ",".join(map(_text, cells)).split(";")) for number, cells in rows
    ]


def _values(texts: dict[str, str], number: int, faults: list[str]) -> dict | None:
    values: dict = {name: texts.get(name, "") for name in ("exercise", "site", "tag")}
    sound = bool(values["exercise"])
    if not sound:
        faults.append(f"row {number}, exercise: expected a name, found nothing")
    for name in NUMBERS:
        text = texts.get(name, "")
        if not text and name not in NEEDED:
            continue
        span = _span(text, unit=UNITS.get(name, ""))
        if span is not None and name in ABOVE_ZERO and span[0] <= 0:
            span = None
        if span is None:
            shown = repr(text) if text else "nothing"
            faults.append(f"row {number}, {name}: expected {_wanted(name)}, found {shown}")
            sound = False
        else:
            values[name] = span
    return values if sound else None


def _wanted(name: str) -> str:
    if name == "load_percent_1rm":
        return "percent of the heaviest single lift such as 70, or 70-75"
    return "a number such as 8, or 6-8"


def _span(text: str, *, unit: str) -> tuple[float, float] | None:
    found = _SPAN.match(text)
    if found is None or found[3] not in (None, unit):
        return None
    low = float(found[1].replace(",", "."))
    high = float(found[2].replace(",", ".")) if found[2] else low
    return (low, high) if low <= high else None


def _name(head: str) -> str:
    plain = " ".join(head.lower().replace("_", " ").split())
    return SAME.get(plain, SAME.get(plain.replace(" ", "_"), plain.replace(" ", "_")))


def _text(cell: object) -> str:
    return "" if cell is None else " ".join(str(cell).split())
