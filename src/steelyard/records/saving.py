"""Saving studies: never over what someone else changed, and nothing deleted is gone."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from steelyard.errors import Finding, RecordError, UsageError
from steelyard.records.consistency import study_findings
from steelyard.records.difference import Difference, changes, differences
from steelyard.records.editing import edited
from steelyard.records.journal import KEPT_FOLDER
from steelyard.records.locking import settle_unfinished, writing_lock
from steelyard.records.reading import (
    LARGEST_RECORD_BYTES,
    look_at_values,
    parse,
    read_record,
    read_text,
    validate,
)
from steelyard.records.record_set import VOCABULARY_FILE
from steelyard.records.regular_file import FileRefused, read_regular
from steelyard.records.staging import place_files
from steelyard.records.study import Study
from steelyard.records.tables.reading import TableWord
from steelyard.records.vocabulary import Vocabulary
from steelyard.records.vocabulary_words import with_words
from steelyard.records.writing import record_to_toml

REMOVED_FOLDER = ".removed"


@dataclass(frozen=True, slots=True)
class Opened:
    """A study's file as it was when it was opened.

    Attributes
    ----------
    values : dict
        Plain values, numbers as printed.
    mark : str
        Hash of the file's bytes; empty for a study that has no file yet.
    """

    values: dict[str, Any]
    mark: str


@dataclass(frozen=True, slots=True)
class Saved:
    """What became of an attempt to save.

    Attributes
    ----------
    outcome : str
        ``saved``; ``unchanged``, where the file said the same; ``changed-on-disk``, where the
        file is another than was opened: it was left alone.
    mark : str
        Of the file as it now is.
    differences : tuple of Difference
        Where the file on disk (``one``) and what was to be saved (``other``) differ.
    kept : str
        Where what was to be saved is kept instead, relative to the library.
    """

    outcome: Literal["saved", "unchanged", "changed-on-disk"]
    mark: str
    differences: tuple[Difference, ...] = ()
    kept: str = ""


def open_study(folder: str | Path, study_id: str) -> Opened:
    """Read one study for changing.

    Raises
    ------
    UsageError
        If there is none by that id.
    RecordError
        If it is no sound record.
    """
    path = study_path(folder, study_id)
    settle_unfinished(folder)
    if not path.exists():
        raise UsageError(f"the library has no study {study_id!r}")
    raw = _bytes(path)
    values = parse(read_text(path, file=path.name), file=path.name)
    validate(values, Study, file=f"studies/{path.name}")
    return Opened(values, mark_of(raw))


def save_study(
    folder: str | Path,
    values: Mapping[str, Any],
    *,
    opened: str = "",
    new_words: Sequence[TableWord] = (),
) -> Saved:
    """Save a study: a new file, or changes where the old one lies.

    Comments and order of a file that is changed stay. Two processes take turns.

    Parameters
    ----------
    folder : str or Path
        The library.
    values : mapping
        A study's plain values.
    opened : str
        `Opened.mark` of the file that was opened; empty for a new study.
    new_words : sequence of TableWord
        Words for the vocabulary, put there together with the study.

    Raises
    ------
    RecordError
        If the values are no sound study; every fault at once, nothing written.
    UsageError
        If the disk refuses; nothing has changed then.
    """
    folder = Path(folder)
    looked = look_at_values(dict(values), Study, file="study")
    study = looked.record
    if looked.faults:
        vocabulary, _ = _vocabulary(folder, new_words)
        raise RecordError([*looked.faults, *_faults(study, vocabulary, "study")])
    path, name = study_path(folder, study.id), f"studies/{study.id}.toml"
    with writing_lock(folder):
        vocabulary, files = _vocabulary(folder, new_words)
        if faults := _faults(study, vocabulary, name):
            raise RecordError(faults)
        raw = _bytes(path)
        mark = mark_of(raw) if raw is not None else ""
        if mark != opened:
            return _kept_apart(folder, study, raw, mark)
        if raw is None:
            text = record_to_toml(study)
        else:
            before = read_text(path, file=name)
            wanted = changes(parse(before, file=name), dict(values))
            if not wanted and not files:
                return Saved("unchanged", mark)
            text = edited(before, wanted, file=name) if wanted else before
            validate(parse(text, file=name), Study, file=name)
        files[path] = text.encode("utf-8")
        may_replace = (*files,) if raw is not None else (folder / VOCABULARY_FILE,)
        place_files(files, library=folder, replace=may_replace)
        return Saved("saved", mark_of(files[path]))


def replace_study(folder: str | Path, values: Mapping[str, Any], *, seen: str) -> Saved:
    """Put a study in the place of the file on disk, once a person has seen how they differ.

    The file on disk goes to the folder of removed studies first.

    Parameters
    ----------
    seen : str
        Mark of the file as it was when the difference was shown; if it has changed again,
        nothing is written.
    """
    study_id = str(values["id"])
    with writing_lock(Path(folder)):
        raw = _bytes(study_path(folder, study_id))
        if raw is not None and mark_of(raw) == seen:
            place_files({_removed_path(folder, study_id): raw})
        return save_study(folder, values, opened=seen)


def remove_study(folder: str | Path, study_id: str) -> str:
    """Take a study out of the library; a copy stays and can be brought back.

    Returns
    -------
    str
        Name of the copy, for `bring_back`.

    Raises
    ------
    UsageError
        If there is no such study, or the disk refuses.
    """
    folder, path = Path(folder), study_path(folder, study_id)
    with writing_lock(folder):
        raw = _bytes(path)
        if raw is None:
            raise UsageError(f"the library has no study {study_id!r}")
        copy = _removed_path(folder, study_id)
        place_files({copy: raw})
        try:
            path.unlink()
        except OSError as error:
            raise UsageError(f"{path.name!r} cannot be removed: {error.strerror}") from error
        return copy.name


def removed_studies(folder: str | Path) -> tuple[str, ...]:
    """Names of the copies of removed studies, the latest first."""
    place = Path(folder) / REMOVED_FOLDER
    names = (path.name for path in place.glob("*.toml")) if place.is_dir() else ()
    return tuple(sorted(names, key=lambda name: name.rpartition("--")[2], reverse=True))


def bring_back(folder: str | Path, name: str) -> str:
    """Put a removed study back, byte for byte.

    Returns
    -------
    str
        The study's id.

    Raises
    ------
    UsageError
        If there is no such copy, or the library has a study by that id again.
    """
    folder = Path(folder)
    if name not in removed_studies(folder):
        raise UsageError(f"there is no removed study {name!r}")
    study_id = name.rpartition("--")[0]
    with writing_lock(folder):
        copy = folder / REMOVED_FOLDER / name
        place_files({study_path(folder, study_id): _bytes(copy) or b""})
        copy.unlink()
    return study_id


def study_path(folder: str | Path, study_id: str) -> Path:
    """Where a study of that id lies; an id is never a path."""
    if not study_id or any(not (c.isascii() and (c.isalnum() or c == "-")) for c in study_id):
        raise UsageError(
            f"expected an id of lower-case letters, digits, hyphens; found {study_id!r}"
        )
    return Path(folder) / "studies" / f"{study_id}.toml"


def mark_of(raw: bytes) -> str:
    """Hash by which a file is known to be the one that was opened."""
    return hashlib.sha256(raw).hexdigest()


def _faults(study: Study, vocabulary: Vocabulary | None, file: str) -> list[Finding]:
    found = study_findings(study, vocabulary, file=file)
    return [finding for finding in found if finding.severity == "fault"]


def _bytes(path: Path) -> bytes | None:
    try:
        return read_regular(path, most=LARGEST_RECORD_BYTES, what="record")
    except FileRefused as refused:
        if not path.exists():
            return None
        raise UsageError(f"{path.name!r}: {refused}") from refused


def _removed_path(folder: str | Path, study_id: str) -> Path:
    stamp = dt.datetime.now(dt.UTC).strftime("%Y%m%dt%H%M%S%f")
    return Path(folder) / REMOVED_FOLDER / f"{study_id}--{stamp}.toml"


def _vocabulary(
    folder: Path, new_words: Sequence[TableWord]
) -> tuple[Vocabulary | None, dict[Path, bytes]]:
    """The vocabulary with the new words, and its file if they change it."""
    path = folder / VOCABULARY_FILE
    if not path.exists():
        return None, {}
    vocabulary = read_record(path, Vocabulary)
    new = [word for word in new_words if word.id not in vocabulary.words(word.kind)]
    if not new:
        return vocabulary, {}
    text = with_words(read_text(path, file=VOCABULARY_FILE), new)
    grown = validate(parse(text, file=VOCABULARY_FILE), Vocabulary, file=VOCABULARY_FILE)
    return grown, {path: text.encode("utf-8")}


def _kept_apart(folder: Path, study: Study, raw: bytes | None, mark: str) -> Saved:
    """Leave the file on disk and keep the other version beside the drafts."""
    mine = record_to_toml(study).encode("utf-8")
    kept = folder / KEPT_FOLDER / f"{study.id}--{mark_of(mine)[:12]}.toml"
    if not kept.exists():
        place_files({kept: mine})
    found: tuple[Difference, ...] = ()
    if raw is not None:
        try:
            on_disk = parse(raw.decode("utf-8-sig", "replace"), file=study.id)
        except RecordError:
            found = (Difference("", "a file that is no record", "the study as typed"),)
        else:
            found = differences(on_disk, parse(mine.decode("utf-8"), file=study.id))
    else:
        found = (Difference("", "", "the study as typed; its file is gone"),)
    return Saved("changed-on-disk", mark, found, kept.relative_to(folder).as_posix())
