"""Studies taken out of the library, each with a button that brings it back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from pathlib import Path

import ipywidgets as widgets

from steelyard.errors import RecordError, UsageError
from steelyard.notebook.entry.field import button, row, words
from steelyard.records.reading import parse, read_text
from steelyard.records.saving import REMOVED_FOLDER, removed_studies, study_path

MOST_REMOVED = 12


@dataclass(frozen=True, slots=True)
class Removed:
    """A study that the library had.

    Attributes
    ----------
    study : str
        Its id.
    copy : str
        Name of the copy, for `bring_back`.
    """

    study: str
    copy: str

    @property
    def when(self) -> str:
        """When it was removed, in words."""
        try:
            moment = dt.datetime.strptime(self.copy[len(self.study) + 2 : -5], "%Y%m%dt%H%M%S%f")
        except ValueError:
            return "some time ago"
        local = moment.replace(tzinfo=dt.UTC).astimezone()
        return f"on {local.day} {local:%B %Y, %H:%M}"


def still_removed(folder: str | Path) -> tuple[Removed, ...]:
    """The latest copy of each removed study that the library does not have again."""
    latest: dict[str, Removed] = {}
    for name in removed_studies(folder):
        study_id = name.rpartition("--")[0]
        try:
            gone = not study_path(folder, study_id).exists()
        except UsageError:  # a file that is no copy of ours
            continue
        if gone:
            latest.setdefault(study_id, Removed(study_id, name))
    return tuple(latest.values())


def removed_part(folder: str | Path, bring: Callable[[Removed], None]) -> widgets.Widget | None:
    """What was removed, the latest first; None where nothing was.

    Parameters
    ----------
    folder : str or Path
        The library.
    bring : callable
        Called with what a person wants back.
    """
    found = still_removed(folder)
    if not found:
        return None
    lines = [_line(folder, removed, bring) for removed in found[:MOST_REMOVED]]
    more = len(found) - MOST_REMOVED
    if more > 0:
        lines.append(words(f"<p>and {more} more in the folder {REMOVED_FOLDER}</p>"))
    box = widgets.VBox([words("<h4>Removed from the library</h4>"), *lines])
    box.add_class("sy-note")
    return box


def _line(folder: str | Path, removed: Removed, bring: Callable[[Removed], None]) -> widgets.Widget:
    title = _title(Path(folder) / REMOVED_FOLDER / removed.copy)
    said = f"<p>{escape(title[:120])} <br>{escape(removed.study)}, removed {removed.when}</p>"
    return row(words(said), button(f"Bring back {removed.study}", lambda: bring(removed)))


def _title(path: Path) -> str:
    try:
        source = parse(read_text(path, file=path.name), file=path.name).get("source")
    except (RecordError, UsageError):
        return "a file that is no record"
    title = source.get("title") if isinstance(source, dict) else None
    return title if isinstance(title, str) else "without a title"
