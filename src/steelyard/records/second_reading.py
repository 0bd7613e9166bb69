"""A second person reads the paper blind; what the two disagree on is settled with a note."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal

from pydantic import Field

from steelyard.errors import Finding, UsageError
from steelyard.records.difference import same
from steelyard.records.editing import edited
from steelyard.records.locking import writing_lock
from steelyard.records.model import Identifier, Record, Words
from steelyard.records.printed import Week
from steelyard.records.reading import parse, read_record, read_text, validate
from steelyard.records.saving import study_path
from steelyard.records.staging import place_files
from steelyard.records.study import Comparison, Result, Study
from steelyard.records.writing import record_to_toml, set_values, toml_value

READINGS_FOLDER = "second-readings"
# What both must read alike; where it stands and who checked it is no number.
NUMBERS = ("n", "pre", "post", "change", "change_percent", "events", "r", "correlation")


class Settled(Record):
    """How one disagreement was settled."""

    outcome: Identifier
    arm: Identifier
    week: Week
    cell: Words
    first: str = ""
    second: str = ""
    keep: Literal["first", "second"]
    note: Words
    by: Words | None = None
    on: dt.date | None = None


class SecondReading(Record):
    """One study read again by another person, who has not seen the first one's numbers."""

    schema_version: Literal[1] = Field(1, alias="schema")
    id: Identifier
    asked: dt.date
    asked_by: Words | None = None
    read: dt.date | None = None
    read_by: Words | None = None
    results: tuple[Result, ...] = Field((), alias="result")
    settled: tuple[Settled, ...] = Field((), alias="settled")


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One cell that two people read differently.

    Attributes
    ----------
    outcome, arm : str
        Ids.
    week : Decimal
    cell : str
        For example ``pre.sd``.
    first, second : str
        What each wrote, as a record writes it; empty where nothing.
    """

    outcome: str
    arm: str
    week: Decimal
    cell: str
    first: str
    second: str

    @property
    def place(self) -> str:
        return f"{self.outcome}, {self.arm}, week {self.week}, {self.cell}"


def reading_path(folder: str | Path, study_id: str) -> Path:
    """Where the second reading of a study lies."""
    return Path(folder) / READINGS_FOLDER / study_path(folder, study_id).name


def find_reading(folder: str | Path, study_id: str) -> SecondReading | None:
    """The second reading of a study, asked for or done; None where nobody asked.

    Raises
    ------
    RecordError
        If its file is no sound record.
    """
    path = reading_path(folder, study_id)
    return read_record(path, SecondReading) if path.exists() else None


def ask_second_reading(folder: str | Path, study: Study, *, by: str = "") -> SecondReading:
    """Mark a study for a second reader; asking again changes nothing."""
    folder = Path(folder)
    with writing_lock(folder):
        before = find_reading(folder, study.id)
        if before is not None:
            return before
        asked = SecondReading(id=study.id, asked=dt.date.today(), asked_by=by.strip() or None)
        _write(folder, asked, replace=False)
        return asked


def keep_second_reading(
    folder: str | Path, study: Study, results: Iterable[Mapping[str, Any]], *, by: str
) -> SecondReading:
    """Keep what the second person read; the study itself is not touched.

    Raises
    ------
    UsageError
        If nobody asked for it, it is done already, no name is given, or it is that of the first
        reader's asking.
    RecordError
        If the numbers are no sound results.
    """
    folder = Path(folder)
    with writing_lock(folder):
        before = find_reading(folder, study.id)
        if before is None:
            raise UsageError(f"nobody asked for a second reading of {study.id!r}")
        if before.read is not None:
            who = before.read_by or "somebody"
            raise UsageError(f"{who} read {study.id!r} a second time already, on {before.read}")
        if not by.strip():
            raise UsageError("expected the name of the second reader, found none")
        if before.asked_by and before.asked_by.casefold() == by.strip().casefold():
            raise UsageError(f"expected another person than {before.asked_by!r}, who asked for it")
        values = {key: value for key, value in set_values(before) if key not in ("settled",)}
        values |= {"read": dt.date.today(), "read_by": by.strip(), "result": list(results)}
        reading = validate(values, SecondReading, file=f"{READINGS_FOLDER}/{study.id}.toml")
        _write(folder, reading, replace=True)
        return reading


def disagreements(study: Study, reading: SecondReading) -> tuple[Disagreement, ...]:
    """Every cell the two read differently and that nobody has settled yet."""
    if reading.read is None:
        return ()
    done = {(s.outcome, s.arm, s.week, s.cell, s.first, s.second) for s in reading.settled}
    settled_cells = {(s.outcome, s.arm, s.week, s.cell): s for s in reading.settled}
    return tuple(
        cell
        for cell in _cells_apart(study, reading)
        if (cell.outcome, cell.arm, cell.week, cell.cell, cell.first, cell.second) not in done
        and not _kept_second(cell, settled_cells)
    )


def settle(
    folder: str | Path,
    disagreement: Disagreement,
    *,
    study_id: str,
    keep: Literal["first", "second"],
    note: str,
    by: str = "",
) -> SecondReading:
    """Settle one disagreement with a note; where the second reader is right, the study changes.

    Raises
    ------
    UsageError
        If there is no note, or no such disagreement is open.
    """
    folder = Path(folder)
    if not note.strip():
        raise UsageError("expected a note on how the disagreement was settled, found none")
    with writing_lock(folder):
        reading = find_reading(folder, study_id)
        path = study_path(folder, study_id)
        study = read_record(path, Study)
        if reading is None or disagreement not in disagreements(study, reading):
            raise UsageError(f"no disagreement on {disagreement.place!r} is open")
        entry = Settled(
            outcome=disagreement.outcome,
            arm=disagreement.arm,
            week=disagreement.week,
            cell=disagreement.cell,
            first=disagreement.first,
            second=disagreement.second,
            keep=keep,
            note=note.strip(),
            by=by.strip() or None,
            on=dt.date.today(),
        )
        grown = reading.model_copy(update={"settled": (*reading.settled, entry)})
        files = {reading_path(folder, study_id): record_to_toml(grown).encode("utf-8")}
        if keep == "second":
            files[path] = _with_second(path, study, reading, disagreement).encode("utf-8")
        place_files(files, library=folder, replace=tuple(files))
        return grown


def single_read(studies: Mapping[str, Study], *, folder: str | Path | None = None) -> list[Finding]:
    """What only one person has read, as findings for `check`.

    Parameters
    ----------
    studies : mapping of str to Study
    folder : str or Path, optional
        The library; second readings in it are looked at as well.
    """
    found: list[Finding] = []
    for study in studies.values():
        file = f"studies/{study.id}.toml"
        reading = find_reading(folder, study.id) if folder is not None else None
        read_twice = _read_twice(reading) if reading is not None else set()
        parts = [*study.results, *study.comparisons]
        once = [
            part
            for part in parts
            if part.checked_by is None
            and (part.outcome, getattr(part, "arm", ""), part.week) not in read_twice
        ]
        if reading is not None:
            found += _reading_findings(study, reading)
        if once:
            what = "all" if len(once) == len(parts) else f"{len(once)} of {len(parts)}"
            # The blind form holds what arms have, not what a paper prints of two of them.
            how = "ask for a second reading, or give checked_by"
            if all(isinstance(part, Comparison) for part in once):
                how = "have another person look at these comparisons, and give checked_by"
            message = f"only one person has read {what} of its results: {how}"
            found.append(Finding(file, "", "note", "read-once", message))
    return found


def _reading_findings(study: Study, reading: SecondReading) -> Iterator[Finding]:
    file = f"{READINGS_FOLDER}/{study.id}.toml"
    if reading.read is None:
        message = f"a second reading was asked for on {reading.asked} and is not done"
        yield Finding(file, "", "note", "second-reading-waits", message)
    for cell in disagreements(study, reading):
        one, other = cell.first or "nothing", cell.second or "nothing"
        message = f"two people read {cell.place} differently, {one} and {other}: settle it"
        yield Finding(file, "", "warning", "read-differently", message)


def _read_twice(reading: SecondReading) -> set[tuple]:
    return {(r.outcome, r.arm, r.week) for r in reading.results} if reading.read else set()


def _cells_apart(study: Study, reading: SecondReading) -> Iterator[Disagreement]:
    one, other = ({_key(r): r for r in results} for results in (study.results, reading.results))
    for key in [*one, *(key for key in other if key not in one)]:
        first, second = _numbers(one.get(key)), _numbers(other.get(key))
        for cell in [*first, *(cell for cell in second if cell not in first)]:
            values = first.get(cell), second.get(cell)
            if not same(*values):
                texts = ("" if value is None else toml_value(value) for value in values)
                yield Disagreement(*key, cell, *texts)


def _key(result: Result) -> tuple[str, str, Decimal]:
    return result.outcome, result.arm, result.week


def _numbers(result: Result | None) -> dict[str, Any]:
    """Every printed number of a result by its cell, such as ``pre.sd``."""
    cells: dict[str, Any] = {}
    for name, value in set_values(result) if result is not None else ():
        if name not in NUMBERS:
            continue
        if isinstance(value, Record):
            cells |= {f"{name}.{part}": number for part, number in set_values(value)}
        else:
            cells[name] = value
    return cells


def _kept_second(cell: Disagreement, settled: Mapping[tuple, Settled]) -> bool:
    """Whether the study now says what the second reader wrote, in other figures."""
    entry = settled.get((cell.outcome, cell.arm, cell.week, cell.cell))
    return entry is not None and entry.keep == "second" and cell.first == entry.second


def _with_second(path: Path, study: Study, reading: SecondReading, cell: Disagreement) -> str:
    """The study's text with one cell as the second reader has it."""
    text = read_text(path, file=path.name)
    key = (cell.outcome, cell.arm, cell.week)
    second = next((result for result in reading.results if _key(result) == key), None)
    index = next((n for n, r in enumerate(study.results, 1) if _key(r) == key), None)
    if index is None:
        place, value = f"result[{len(study.results) + 1}]", second
    else:
        place, value = f"result[{index}].{cell.cell}", _numbers(second).get(cell.cell)
    new = edited(text, {place: value}, file=path.name)
    validate(parse(new, file=path.name), Study, file=path.name)
    return new


def _write(folder: Path, reading: SecondReading, *, replace: bool) -> None:
    path = reading_path(folder, reading.id)
    content = record_to_toml(reading).encode("utf-8")
    place_files({path: content}, replace=(path,) if replace else ())
