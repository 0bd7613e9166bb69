"""A list of files on their way into a library, so that a kill half way through is made good.

Several files cannot be renamed in one step. Once all of them are on the disk under temporary
names, the list is written; from then on the change counts as made, and whoever next opens the
library or writes to it renames what is still left. If the disk refuses half way, a list of what
undoes it takes the place of the first in one step, and is carried out in the same way.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from steelyard.errors import UsageError

JOURNAL_FILE = ".placing"
# Where a version goes that may not take the place of what is there.
KEPT_FOLDER = ".drafts/versions"
RECORD_FOLDERS = ("studies", "questions", "recommendations", "second-readings")
_PART = re.compile(r"\.(.+)\.[0-9a-f]{12}\.part")


@dataclass(frozen=True, slots=True)
class Move:
    """One file on its way.

    Attributes
    ----------
    temporary : Path or None
        Where it lies; None for a target that is to go.
    target : Path
        Where it belongs; in the same folder.
    was : str
        Hash of what lay at the target when the list was made; empty for nothing.
    """

    temporary: Path | None
    target: Path
    was: str


def temporary_for(target: Path) -> Path:
    """A free name beside a file, which no reader takes for a record."""
    return target.with_name(f".{target.name[:100]}.{secrets.token_hex(6)}.part")


def hash_of(path: Path) -> str:
    """Hash of a file's bytes; empty where there is none."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return ""


def put_in_place(temporary: Path, target: Path) -> None:
    """Rename a file; what it replaces hands on its permissions."""
    if target.exists():
        os.chmod(temporary, target.stat().st_mode & 0o7777)
    os.replace(temporary, target)


def carry_out(move: Move) -> None:
    """Put a file where it belongs, or take it away, whatever is there."""
    if move.temporary is None:
        move.target.unlink(missing_ok=True)
    else:
        put_in_place(move.temporary, move.target)


def write_journal(library: Path, moves: Iterable[Move]) -> None:
    """Say what is on its way, in place of any earlier list; from here on it counts as done."""
    entries = [
        {
            "from": _near(move.temporary, library) if move.temporary is not None else "",
            "to": _near(move.target, library),
            "was": move.was,
        }
        for move in moves
    ]
    path = library / JOURNAL_FILE
    temporary = temporary_for(path)
    try:
        with open(temporary, "x", encoding="utf-8", newline="\n") as stream:
            json.dump({"schema": 1, "moves": entries}, stream)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(temporary, path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    flush_folder(library)


def drop_journal(library: Path) -> None:
    """Everything is in its place, or nothing is to be."""
    (library / JOURNAL_FILE).unlink(missing_ok=True)
    # Should the list come back after a power cut, it finds nothing left to rename.
    with contextlib.suppress(OSError):
        flush_folder(library)


def is_unfinished(library: Path) -> bool:
    """Whether files are on their way into a library: now, or since a kill."""
    return os.path.lexists(library / JOURNAL_FILE)


def finish(library: Path) -> None:
    """Make good what a kill left half done; only for who holds the library for writing.

    A target that somebody has changed by hand since is left alone: the version on its way is
    then kept among the drafts. What was given up before it counted as made is cleared away.

    Raises
    ------
    UsageError
        If the list is not one that `write_journal` wrote, or the disk refuses.
    """
    try:
        if is_unfinished(library):
            moves = list(_read(library))
            for move in moves:
                _settle(library, move)
            for folder in {move.target.parent for move in moves}:
                if folder.is_dir():
                    flush_folder(folder)
            drop_journal(library)
        for folder in (library, *(library / name for name in RECORD_FOLDERS)):
            for path in folder.glob(".*.part") if folder.is_dir() else ():
                if _PART.fullmatch(path.name):
                    path.unlink(missing_ok=True)
    except OSError as error:
        raise UsageError(
            "a change to the library was broken off and cannot be finished: "
            f"{Path(error.filename or '').name or 'a file'!r}: {error.strerror}"
        ) from error


def flush_folder(folder: Path) -> None:
    """Have the disk keep the names in a folder."""
    # Windows cannot open a folder; there the rename itself is all there is.
    if os.name != "nt":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _settle(library: Path, move: Move) -> None:
    if move.temporary is not None and not move.temporary.exists():
        return
    if hash_of(move.target) == move.was:
        carry_out(move)
        return
    if move.temporary is None:
        return
    mark = hash_of(move.temporary)[:12]
    kept = library / KEPT_FOLDER / f"{move.target.stem}--{mark}{move.target.suffix}"
    kept.parent.mkdir(parents=True, exist_ok=True)
    os.replace(move.temporary, kept)


def _read(library: Path) -> Iterator[Move]:
    try:
        if not (library / JOURNAL_FILE).is_file():
            raise ValueError  # a pipe would keep its reader waiting
        values = json.loads((library / JOURNAL_FILE).read_text(encoding="utf-8"))
        for entry in values["moves"]:
            temporary = library / entry["from"] if entry["from"] else None
            move = Move(temporary, library / entry["to"], str(entry["was"]))
            # A library from elsewhere may bring such a list: it can touch nothing else.
            if not (_may_go(library, move.target) if temporary is None else _may_move(move)):
                raise ValueError
            yield move
    except (ValueError, TypeError, KeyError, RecursionError) as error:
        raise UsageError(
            f"expected {JOURNAL_FILE!r} in the library to be the list of a change that was "
            "broken off, found something else: take it away, then run steelyard check"
        ) from error


def _may_move(move: Move) -> bool:
    named = _PART.fullmatch(move.temporary.name)
    return (
        named is not None
        and named[1] == move.target.name[:100]
        and move.temporary.parent == move.target.parent
    )


def _may_go(library: Path, target: Path) -> bool:
    """Records, notebooks beside the library, and what lay under a temporary name."""
    named = target.suffix in (".toml", ".ipynb") or _PART.fullmatch(target.name) is not None
    place = Path(os.path.abspath(target))
    return named and place.is_relative_to(Path(os.path.abspath(library)).parent)


def _near(path: Path, library: Path) -> str:
    try:
        return Path(os.path.relpath(path, library)).as_posix()
    except ValueError:  # another drive
        return path.as_posix()
