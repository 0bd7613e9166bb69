"""Marking a recommendation as reviewed: who looked, what they say, and the new told."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from steelyard.errors import UsageError
from steelyard.records.editing import edit_record
from steelyard.records.reading import read_record
from steelyard.records.recommendation import Recommendation, Told


def mark_reviewed(
    folder: str | Path,
    recommendation: str,
    *,
    by: str,
    note: str,
    told: Told,
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
    told : Told
        The numbers it carries from now on.
    today : date, optional
        Of the review.

    Raises
    ------
    UsageError
        Without a name or a note, with a date in the future, or if there is no such file.
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
    present = read_record(path, Recommendation, file=f"recommendations/{path.name}")
    changes = {"reviewed": today, "reviewed_by": by.strip(), "review_note": note.strip()}
    for name in Told.model_fields:
        value = getattr(told, name)
        was = None if present.told is None else getattr(present.told, name)
        if value is not None:
            changes[f"told.{name}"] = value
        elif was is not None:
            changes[f"told.{name}"] = None
    edit_record(path, changes)
