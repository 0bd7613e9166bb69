"""A second person reads the paper blind: asked for, kept, and what was settled afterwards."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal

from pydantic import Field

from steelyard.errors import UsageError
from steelyard.records.locking import writing_lock
from steelyard.records.model import Identifier, Record, Words
from steelyard.records.printed import Week
from steelyard.records.reading import read_record, validate
from steelyard.records.saving import study_path
from steelyard.records.staging import place_files
from steelyard.records.study import Comparison, Result, Study
from steelyard.records.writing import record_to_toml, set_values

READINGS_FOLDER = "second-readings"


class Settled(Record):
    """How one disagreement was settled; `against` is the second arm of a comparison."""

    outcome: Identifier
    arm: Identifier
    against: Identifier | None = None
    week: Week
    cell: Words
    first: str = ""
    second: str = ""
    keep: Literal["first", "second"]
    note: Words
    by: Words | None = None
    on: dt.date | None = None

    @property
    def key(self) -> tuple[str, str, str, Decimal]:
        """Outcome, arm, the arm it is held against (empty for a result), week."""
        return self.outcome, self.arm, self.against or "", self.week


class SecondReading(Record):
    """One study read again by another person, who has not seen the first one's numbers.

    A comparison that the second reader was shown stands here even where they found nothing for
    it, then with its arms, outcome and week only; one that is not here was not shown to them.
    """

    schema_version: Literal[1] = Field(1, alias="schema")
    id: Identifier
    asked: dt.date
    asked_by: Words | None = None
    read: dt.date | None = None
    read_by: Words | None = None
    results: tuple[Result, ...] = Field((), alias="result")
    comparisons: tuple[Comparison, ...] = Field((), alias="comparison")
    settled: tuple[Settled, ...] = Field((), alias="settled")


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
    file = f"{READINGS_FOLDER}/{path.name}"
    return read_record(path, SecondReading, file=file) if path.exists() else None


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
    folder: str | Path,
    study: Study,
    results: Iterable[Mapping[str, Any]],
    *,
    comparisons: Iterable[Mapping[str, Any]] = (),
    by: str,
) -> SecondReading:
    """Keep what the second person read; the study itself is not touched.

    Parameters
    ----------
    folder : str or Path
        The library.
    study : Study
    results : iterable of mapping
        As a study's file has them.
    comparisons : iterable of mapping
        Every comparison the reader was shown or found; one left empty has its arms, outcome and
        week only.
    by : str
        The second reader's name.

    Raises
    ------
    UsageError
        If nobody asked for it, it is done already, no name is given, it is that of the first
        reader's asking, or a comparison is there twice.
    RecordError
        If the numbers are no sound results or comparisons.
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
        values |= {"comparison": list(comparisons)}
        reading = validate(values, SecondReading, file=f"{READINGS_FOLDER}/{study.id}.toml")
        _refuse_repeated(reading)
        _write(folder, reading, replace=True)
        return reading


def _refuse_repeated(reading: SecondReading) -> None:
    seen = set()
    for each in reading.comparisons:
        key = (each.outcome, frozenset((each.intervention, each.comparator)), each.week)
        if key in seen:
            raise UsageError(
                f"expected one comparison of {each.intervention!r} with {each.comparator!r} for "
                f"{each.outcome!r} at week {each.week}, found two"
            )
        seen.add(key)


def _write(folder: Path, reading: SecondReading, *, replace: bool) -> None:
    path = reading_path(folder, reading.id)
    content = record_to_toml(reading).encode("utf-8")
    place_files({path: content}, replace=(path,) if replace else ())
