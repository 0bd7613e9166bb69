"""What only one person has read, for `check`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from steelyard.errors import Finding
from steelyard.records.disagreement import Key, disagreements, key_of, side_by_side
from steelyard.records.second_reading import READINGS_FOLDER, SecondReading, find_reading
from steelyard.records.study import Study


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
        twice = _read_twice(study, reading) if reading is not None else set()
        parts = [*study.results, *study.comparisons]
        once = [part for part in parts if part.checked_by is None and key_of(part) not in twice]
        if reading is not None:
            found += _reading_findings(study, reading)
        if once:
            what = "all" if len(once) == len(parts) else f"{len(once)} of {len(parts)}"
            how = "ask for a second reading, or give checked_by"
            if reading is not None and reading.read is not None:
                how = "have another person look at what is left, and give checked_by"
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


def _read_twice(study: Study, reading: SecondReading) -> set[Key]:
    """The results and comparisons that the second reading holds."""
    if reading.read is None:
        return set()
    return {each.key for each in side_by_side(study, reading) if each.second is not None}
