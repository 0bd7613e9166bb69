"""What is being typed, kept from the first keystroke until it is saved or thrown away."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import os
import re
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steelyard.errors import UsageError
from steelyard.records.regular_file import FileRefused, read_regular

DRAFTS_FOLDER = ".drafts"
READING_DRAFTS_FOLDER = ".drafts/second-readings"
"""Where what a second reader types is kept, apart from drafts of studies."""

LARGEST_DRAFT_BYTES = 20_000_000
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,120}")


@dataclass(frozen=True, slots=True)
class Draft:
    """An entry not yet saved as a study.

    Attributes
    ----------
    id : str
        Its own, unlike any study's.
    study : str
        Id of the study it changes; empty for a new one.
    title : str
        By which a person knows it again.
    changed : str
        When last typed in, ISO 8601 with time zone.
    form : dict
        Everything typed, as the form keeps it.
    """

    id: str
    study: str
    title: str
    changed: str
    form: dict[str, Any]


def new_draft_id(study: str = "") -> str:
    """An id that no other draft has."""
    return f"{study or 'new'}-{secrets.token_hex(4)}"[-100:].lstrip("-")


def keep_draft(
    folder: str | Path,
    draft_id: str,
    form: Mapping[str, Any],
    *,
    study: str = "",
    title: str = "",
    place: str = DRAFTS_FOLDER,
) -> Draft:
    """Keep what is typed; a reader sees the draft as it was before, or as it is now.

    Parameters
    ----------
    folder : str or Path
        The library.
    draft_id : str
        From `new_draft_id`.
    form : mapping
        Everything typed.
    study, title : str
        As in `Draft`.
    place : str
        Which folder of drafts, here as in all that follows.

    Raises
    ------
    UsageError
        If the disk refuses; the draft kept before is still whole.
    """
    draft = _as_of_now(draft_id, form, study, title)
    path = _path(folder, draft_id, place)
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(temporary, "wb") as stream:
            stream.write(_content(draft))
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(temporary, path)
    except OSError as error:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise UsageError(f"the draft cannot be kept: {error.strerror}") from error
    return draft


def draft_file(folder: str | Path, form: Mapping[str, Any], *, title: str) -> tuple[Path, bytes]:
    """Where a new draft would be kept, and its content, for `place_files`."""
    draft = _as_of_now(new_draft_id(), form, "", title)
    return _path(folder, draft.id, DRAFTS_FOLDER), _content(draft)


def drafts(folder: str | Path, *, place: str = DRAFTS_FOLDER) -> tuple[Draft, ...]:
    """Every draft of a library, the latest first; what is no draft is passed over."""
    try:
        paths = [path for path in (Path(folder) / place).iterdir() if path.suffix == ".json"]
    except OSError:  # none there, or something other than a folder that can be read
        return ()
    found = [draft for path in paths if (draft := _read(path)) is not None]
    return tuple(sorted(found, key=lambda draft: (draft.changed, draft.id), reverse=True))


def read_draft(folder: str | Path, draft_id: str, *, place: str = DRAFTS_FOLDER) -> Draft:
    """One draft.

    Raises
    ------
    UsageError
        If there is none by that id that can be read.
    """
    draft = _read(_path(folder, draft_id, place))
    if draft is None:
        raise UsageError(f"there is no draft {draft_id!r} that can be read")
    return draft


def drop_draft(folder: str | Path, draft_id: str, *, place: str = DRAFTS_FOLDER) -> None:
    """Throw a draft away; one that is gone already, or is no file, is no error."""
    with contextlib.suppress(OSError):
        _path(folder, draft_id, place).unlink()


def _as_of_now(draft_id: str, form: Mapping[str, Any], study: str, title: str) -> Draft:
    changed = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
    return Draft(draft_id, study, title, changed, dict(form))


def _content(draft: Draft) -> bytes:
    values = {name: getattr(draft, name) for name in Draft.__slots__}
    return json.dumps(values, ensure_ascii=True).encode("ascii")


def _path(folder: str | Path, draft_id: str, place: str) -> Path:
    if not _NAME.fullmatch(draft_id):
        raise UsageError(f"expected a draft's id, found {draft_id!r}")
    return Path(folder) / place / f"{draft_id}.json"


def _read(path: Path) -> Draft | None:
    try:
        values = json.loads(read_regular(path, most=LARGEST_DRAFT_BYTES).decode("utf-8"))
        draft = Draft(**values)
    except (FileRefused, ValueError, TypeError, RecursionError):
        return None
    texts = (draft.id, draft.study, draft.title, draft.changed)
    sound = all(isinstance(text, str) for text in texts) and isinstance(draft.form, dict)
    return draft if sound and draft.id == path.stem else None
