"""Settling what two people read differently; where the second is right, the study changes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from steelyard.errors import Finding, RecordError, UsageError
from steelyard.records.consistency import study_findings
from steelyard.records.difference import same
from steelyard.records.disagreement import (
    COMPARISON_VALUES,
    RESULT_VALUES,
    Disagreement,
    ReadTwice,
    cells_of,
    disagreements,
    side_by_side,
)
from steelyard.records.editing import edited
from steelyard.records.locking import writing_lock
from steelyard.records.reading import parse, read_record, read_text, validate
from steelyard.records.saving import study_path
from steelyard.records.second_reading import SecondReading, Settled, find_reading, reading_path
from steelyard.records.staging import place_files
from steelyard.records.study import Study
from steelyard.records.writing import record_to_toml, set_values


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

    Where the cell cannot change alone (an interval beside another mean, the only number of a
    comparison), what stands with it changes too, as far as it was not settled for the first
    reader; each such cell is settled with the same note.

    Raises
    ------
    UsageError
        If there is no note, or no such disagreement is open.
    RecordError
        If the study would not be sound with it, or nothing would be left of it, which says what
        to do instead; nothing has changed then.
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
        told = {"keep": keep, "note": note.strip(), "by": by.strip() or None}
        grown = _with_settled(reading, disagreement, told)
        files = {}
        if keep == "second":
            text = _with_second(path, study, reading, disagreement)
            files[path] = text.encode("utf-8")
            after = validate(parse(text, file=path.name), Study, file=path.name)
            still = disagreements(after, grown)
            for cell in disagreements(study, grown):
                if cell not in still and cell != disagreement:
                    grown = _with_settled(grown, cell, told)
        files[reading_path(folder, study_id)] = record_to_toml(grown).encode("utf-8")
        place_files(files, library=folder, replace=tuple(files))
        return grown


def _with_settled(
    reading: SecondReading, cell: Disagreement, told: dict[str, Any]
) -> SecondReading:
    entry = Settled(
        outcome=cell.outcome,
        arm=cell.arm,
        against=cell.against or None,
        week=cell.week,
        cell=cell.cell,
        first=cell.first,
        second=cell.second,
        on=dt.date.today(),
        **told,
    )
    return reading.model_copy(update={"settled": (*reading.settled, entry)})


def _with_second(path: Path, study: Study, reading: SecondReading, cell: Disagreement) -> str:
    """The study's text with one cell as the second reader has it, and no more than must follow."""
    text = read_text(path, file=path.name)
    faults_before = {(fault.rule, fault.message) for fault in _faults(study, path.name)}
    refused: RecordError | None = None
    # Where none is sound, the widest says what stands in the way in the end.
    for changes in _ways(study, reading, cell):
        try:
            new = edited(text, changes, file=path.name)
            after = validate(parse(new, file=path.name), Study, file=path.name)
            found = [
                fault
                for fault in _faults(after, path.name)
                if (fault.rule, fault.message) not in faults_before
            ]
            if not found:
                return new
            raise RecordError(found)
        except RecordError as error:
            refused = error
    raise RecordError([_told(finding, study) for finding in refused.findings])


def _told(finding: Finding, study: Study) -> Finding:
    """A fault that stands in the way; where nothing would be left, with what to do instead."""
    if finding.rule != "no-results":
        return finding
    return replace(
        finding,
        message=(
            f"{finding.message}: this is all that {study.id} has left, and a study needs numbers. "
            "Nothing has changed. If the paper prints no numbers of use, remove the study "
            f'(enter_study("{study.id}"), “Remove this study”; a copy stays and can be brought '
            "back). If it prints others, enter those there first, and then settle this."
        ),
    )


def _faults(study: Study, file: str) -> list[Finding]:
    return [
        finding for finding in study_findings(study, None, file=file) if finding.severity == "fault"
    ]


def _ways(study: Study, reading: SecondReading, cell: Disagreement) -> Iterator[dict[str, Any]]:
    """Changes by place, from the smallest on: the cell, its group of numbers, the whole entry."""
    pair = next(each for each in side_by_side(study, reading) if each.key == cell.key)
    kind = "comparison" if cell.against else "result"
    entries = study.comparisons if cell.against else study.results
    kept = {s.cell for s in reading.settled if s.key == cell.key and s.keep == "first"}
    wanted = _Wanted(pair, kept - {cell.cell})
    if pair.first is None:
        yield {f"{kind}[{len(entries) + 1}]": wanted.entry()}
        return
    place = f"{kind}[{entries.index(pair.first) + 1}]"
    group = cell.cell.partition(".")[0]
    yield {f"{place}.{cell.cell}": wanted.cell(cell.cell)}
    if "." in cell.cell:
        yield {f"{place}.{group}": wanted.group(group)}
    values = COMPARISON_VALUES if cell.against else RESULT_VALUES
    if any(wanted.group(name) is not None for name in values):
        yield {f"{place}.{name}": wanted.group(name) for name in wanted.changing()}
    elif len(entries) > 1:
        yield {place: None}
    else:
        yield {kind: None}


class _Wanted:
    """An entry as it would be by the second reader, but for what was settled for the first."""

    def __init__(self, pair: ReadTwice, kept: set[str]) -> None:
        self.first, self.second = cells_of(pair.first), cells_of(pair.second)
        self.pair, self.kept = pair, kept

    def cell(self, name: str) -> Any:
        return (self.first if name in self.kept else self.second).get(name)

    def group(self, name: str) -> Any:
        """The value of a key of the entry; None where there is none."""
        cells = dict.fromkeys((*self.first, *self.second))
        if name in cells:
            return self.cell(name)
        inner = {cell: self.cell(cell) for cell in cells if cell.startswith(f"{name}.")}
        found = {
            cell.partition(".")[2]: value for cell, value in inner.items() if value is not None
        }
        return found or None

    def changing(self) -> list[str]:
        """Keys of the entry that would not stay as they are."""
        cells = dict.fromkeys((*self.first, *self.second))
        apart = [cell for cell in cells if not same(self.cell(cell), self.first.get(cell))]
        return list(dict.fromkeys(cell.partition(".")[0] for cell in apart))

    def entry(self) -> dict[str, Any]:
        """The second reader's entry, for a study that has none."""
        made = {}
        cells = {cell.partition(".")[0] for cell in self.second}
        for name, value in set_values(self.pair.second):
            value = self.group(name) if name in cells else value
            if value is not None:
                made[name] = value
        return made
