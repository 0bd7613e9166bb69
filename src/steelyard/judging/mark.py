"""Marking a recommendation as reviewed: who looked, what they say, and the new told."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from steelyard.errors import UsageError
from steelyard.records.editing import edit_record
from steelyard.records.locking import writing_lock
from steelyard.records.reading import read_record
from steelyard.records.recommendation import Recommendation, Told


def mark_reviewed(
    folder: str | Path,
    recommendation: str,
    *,
    by: str,
    note: str,
    told: Mapping[str, Told],
    today: dt.date | None = None,
) -> None:
    """Write a review into a recommendation's file; its comments and order survive.

    Parameters
    ----------
    folder : str or Path
        The library.
    recommendation : str
        Its id.
    by, note : str
        Who reviewed it, and what they found; neither may be empty.
    told : mapping of str to Told
        The numbers it carries from now on, by question; what was told of any other is taken out.
    today : date, optional
        Of the review.

    Raises
    ------
    UsageError
        Without a name or a note, with a date in the future, if there is no such file, or if
        nothing is told of the first question it rests on.
    RecordError
        If the file is not a recommendation.
    """
    now = dt.date.today()
    today = today or now
    for name, text in (("name (by)", by), ("note", note)):
        if not text or not text.strip():
            raise UsageError(f"marking {recommendation!r} as reviewed needs a {name}; found none")
    if today > now:
        raise UsageError(f"a review cannot be dated in the future: found {today}, today is {now}")
    path = Path(folder) / "recommendations" / f"{recommendation}.toml"
    if not path.is_file():
        raise UsageError(f"no recommendation {recommendation!r} in the library")
    changes = {"reviewed": today, "reviewed_by": by.strip(), "review_note": note.strip()}
    with writing_lock(folder):
        present = read_record(path, Recommendation, file=f"recommendations/{path.name}")
        edit_record(path, changes | told_changes(present, told))


def told_changes(present: Recommendation, told: Mapping[str, Told]) -> dict[str, Any]:
    """Changes for `edit_record` that make a recommendation carry these numbers.

    Key by key where the record already has a place for a question, so that comments survive.

    Raises
    ------
    UsageError
        If nothing is told of the first question.
    """
    first, *others = present.questions
    if first not in told:
        raise UsageError(f"{present.id!r} needs numbers of its first question, {first!r}")
    changes = _values("told", present.told, told[first], question=first if others else None)
    kept = [each.question for each in present.also_told]
    further = [each for each in others if each in told]
    if kept and not further:
        return changes | {"also_told": None}
    for at, question in enumerate(kept, 1):
        if question in further:
            before = present.also_told[at - 1]
            changes |= _values(f"also_told[{at}]", before, told[question], question=question)
    new = [each for each in further if each not in kept]
    for at, question in enumerate(new, len(kept) + 1):
        block = _values("", None, told[question], question=question)
        changes[f"also_told[{at}]"] = {name.removeprefix("."): each for name, each in block.items()}
    # From the last to the first, so that no place moves before its turn.
    for at in range(len(kept), 0, -1):
        if kept[at - 1] not in further:
            changes[f"also_told[{at}]"] = None
    return changes


def _values(place: str, before: Told | None, told: Told, *, question: str | None) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name in Told.model_fields:
        value = question if name == "question" else getattr(told, name)
        if value is not None or getattr(before, name, None) is not None:
            found[f"{place}.{name}"] = value
    return found
