"""A weekly plan read from a table: exercise, sets, reps, load, sessions."""

from __future__ import annotations

import csv
import difflib
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from steelyard.errors import SteelyardError
from steelyard.explaining.wording.catalogue import Catalogue, catalogue, languages
from steelyard.records.tables.sheets import read_sheet

NEEDED = ("exercise", "sets", "sessions")
KNOWN = (*NEEDED, "reps", "load_percent_1rm", "rest_s", "lowering_s", "site", "tag")
# Other ways to head a column; those of every language's catalogue are understood besides.
SAME = {
    **{
        "exercises": "exercise",
        "set": "sets",
        "sets a session": "sets",
        "sets per session": "sets",
    },
    **{"session": "sessions", "sessions per week": "sessions", "sessions a week": "sessions"},
    **{"rep": "reps", "repetitions": "reps", "repetition": "reps"},
    **{"load %": "load_percent_1rm", "load percent": "load_percent_1rm"},
    **{"load percent 1rm": "load_percent_1rm", "rest s": "rest_s", "lowering s": "lowering_s"},
    **{"sätze pro einheit": "sets", "einheiten pro woche": "sessions", "wdh": "reps"},
}
# The German word for a day.
NOT_MEANT = {"de": ("tag",)}
NUMBERS = ("sets", "sessions", "reps", "load_percent_1rm", "rest_s", "lowering_s")
_SPAN = re.compile(r"^(\d+(?:[.,]\d+)?)(?:\s*(?:-|–|to|bis)\s*(\d+(?:[.,]\d+)?))?\s*(%|s)?$")
# Which unit may stand behind a number; kilograms are no percent of anybody's heaviest lift.
UNITS = {"load_percent_1rm": "%", "rest_s": "s", "lowering_s": "s"}
ABOVE_ZERO = ("sets", "sessions", "reps")
# How alike a heading is to a known one before it counts as misspelt: one letter in four.
ALIKE = 0.75


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


@dataclass(frozen=True, slots=True)
class Plan:
    """A week's exercises.

    Attributes
    ----------
    rows : tuple of PlanRow
    unread : tuple of str
        Headings of columns that no check knows, as the plan writes them.
    """

    rows: tuple[PlanRow, ...]
    unread: tuple[str, ...] = ()


class PlanError(SteelyardError):
    """A plan that cannot be read; the message lists everything that is wrong."""


def plan_of(text: str, *, words: Catalogue | None = None) -> Plan:
    """A plan typed as lines with commas or semicolons, the first naming the columns.

    Raises
    ------
    PlanError
        As `read_plan`.
    """
    words = words or catalogue()
    lines = [
        (number, tuple(cell.strip() for cell in cells))
        for number, cells in enumerate(csv.reader(text.strip().splitlines()), 1)
        if any(cell.strip() for cell in cells)
    ]
    if not lines:
        raise PlanError(words.say("plan_fault.empty", needed=_names(NEEDED, words)))
    return _plan(*_parted(lines[0][1], lines[1:]), words=words)


def read_plan(path: str | Path, *, words: Catalogue | None = None) -> Plan:
    """Read a plan, csv or xlsx.

    Parameters
    ----------
    path : str or Path
        Columns exercise, sets (a session), sessions (a week); and, where known, reps,
        load_percent_1rm, rest_s, lowering_s, site, tag. Cells may hold ``8`` or ``6-8``.
    words : Catalogue, optional
        Language of messages; English if not given.

    Raises
    ------
    PlanError
        With every missing, doubled or misspelt column and every cell that is not understood.
    """
    sheet = read_sheet(Path(path))
    return _plan(*_parted(sheet.headers, sheet.rows), words=words or catalogue())


def column_names(words: Catalogue) -> str:
    """Headings that are read, as a list in words."""
    return _names(KNOWN, words)


def _plan(headers, rows, *, words: Catalogue) -> Plan:
    given = [_text(cell) for cell in headers]
    other = NOT_MEANT.get(words.tag, ())
    heads = ["" if _plain(h) in other else _aliases().get(_plain(h), "") for h in given]
    faults = _heading_faults(given, heads, words)
    missing = [name for name in NEEDED if name not in heads]
    if missing and not faults:
        raise PlanError(
            words.say(
                "plan_fault.missing",
                missing=_names(missing, words),
                needed=_names(NEEDED, words),
                found=", ".join(filter(None, given)) or words.say("plan_fault.nothing"),
            )
        )
    found = []
    for number, cells in rows if not missing else ():
        texts = [_text(cell) for cell in cells]
        beyond = [text for text in texts[len(heads) :] if text]
        if beyond:
            said = {"row": number, "count": len(heads), "found": repr(beyond[0])}
            faults.append(words.say("plan_fault.too_many", **said))
            continue
        cut = dict(zip(heads, texts, strict=False))
        shown = dict(zip(heads, given, strict=False))
        values = _values(cut, number, faults, shown=shown, words=words)
        if values is not None:
            found.append(PlanRow(row=number, **values))
    if faults:
        raise PlanError("\n".join((words.say("plan_fault.not_understood"), *faults)))
    if not found:
        raise PlanError(words.say("plan_fault.no_rows"))
    return Plan(tuple(found), _unread(given, heads, rows, words))


def _heading_faults(given: list[str], heads: list[str], words: Catalogue) -> list[str]:
    """Headings that are misspelt, and two that hold the same thing."""
    faults = []
    for at, (head, name) in enumerate(zip(given, heads, strict=True)):
        if name and name in heads[:at]:
            said = {"column": given[heads.index(name)], "other": head}
            faults.append(words.say("plan_fault.twice", **said))
        if name or not head or _plain(head) in NOT_MEANT.get(words.tag, ()):
            continue
        near = difflib.get_close_matches(_plain(head), _spelt(), n=3, cutoff=ALIKE)
        meant = [name for name in dict.fromkeys(map(_aliases().get, near)) if name not in heads]
        if meant:
            said = {"column": repr(head), "near": _names(meant, words)}
            faults.append(words.say("plan_fault.misspelt", **said))
    return faults


def _unread(given, heads, rows, words: Catalogue) -> tuple[str, ...]:
    """Columns that hold something and are not known."""
    found = []
    for at, (head, name) in enumerate(zip(given, heads, strict=True)):
        if name:
            continue
        if head:
            found.append(head)
        elif any(_text(cells[at]) for _, cells in rows if at < len(cells)):
            found.append(words.say("plan.no_heading", n=at + 1))
    return tuple(found)


def _parted(headers, rows):
    """Cells of a table with semicolons, where these were not taken for separators."""
    # A comma inside a heading or a decimal comma may have cut such a line into cells.
    whole = ",".join(map(_text, headers))
    if ";" not in whole:
        return headers, rows
    return [head.strip() for head in whole.split(";")], [
        (number, [cell.strip() for cell in ",".join(map(_text, cells)).split(";")])
        for number, cells in rows
    ]


def _values(
    texts: dict[str, str],
    number: int,
    faults: list[str],
    *,
    shown: dict[str, str],
    words: Catalogue,
) -> dict | None:
    values: dict = {name: texts.get(name, "") for name in ("exercise", "site", "tag")}
    nothing = words.say("plan_fault.nothing")
    sound = bool(values["exercise"])
    if not sound:
        said = {"row": number, "column": shown["exercise"], "found": nothing}
        faults.append(words.say("plan_fault.cell", wanted=words.say("plan_fault.name"), **said))
    for name in NUMBERS:
        text = texts.get(name, "")
        if not text and name not in NEEDED:
            continue
        span = _span(text, unit=UNITS.get(name, ""))
        if span is not None and name in ABOVE_ZERO and span[0] <= 0:
            span = None
        if span is None:
            said = {"row": number, "column": shown[name], "found": repr(text) if text else nothing}
            faults.append(words.say("plan_fault.cell", wanted=_wanted(name, words), **said))
            sound = False
        else:
            values[name] = span
    return values if sound else None


def _wanted(name: str, words: Catalogue) -> str:
    kinds = {"load_percent_1rm": ("percent", "70", "70-75"), "rest_s": ("seconds", "90", "60-90")}
    kinds["lowering_s"] = ("seconds", "3", "3-4")
    kind, one, two = kinds.get(name, ("number", "8", "6-8"))
    return words.say(f"plan_fault.{kind}", one=one, two=two)


def _span(text: str, *, unit: str) -> tuple[float, float] | None:
    found = _SPAN.match(text)
    if found is None or found[3] not in (None, unit):
        return None
    low = float(found[1].replace(",", "."))
    high = float(found[2].replace(",", ".")) if found[2] else low
    return (low, high) if low <= high else None


@lru_cache(maxsize=1)
def _aliases() -> dict[str, str]:
    """Every heading that is understood, plainly written, to its column."""
    headings = {_plain(name): name for name in KNOWN}
    for tag in languages():
        headings |= {_plain(catalogue(tag).say(f"plan_column.{name}")): name for name in KNOWN}
    return headings | {_plain(head): name for head, name in SAME.items()}


@lru_cache(maxsize=1)
def _spelt() -> tuple[str, ...]:
    """Headings that another may be a slip of; a column of kilograms is none of percent."""
    return tuple(sorted(head for head in _aliases() if "%" not in head))


def _names(columns, words: Catalogue) -> str:
    return ", ".join(words.say(f"plan_column.{name}") for name in columns)


def _plain(head: str) -> str:
    return " ".join(head.lower().replace("_", " ").split())


def _text(cell: object) -> str:
    return "" if cell is None else " ".join(str(cell).split())
