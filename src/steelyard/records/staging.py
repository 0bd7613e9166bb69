"""Putting files in their place: all of them or none, never half a file."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Collection, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from steelyard.errors import UsageError
from steelyard.records.journal import (
    Move,
    carry_out,
    drop_journal,
    flush_folder,
    hash_of,
    is_unfinished,
    put_in_place,
    temporary_for,
    write_journal,
)


def place_files(
    files: Mapping[Path, bytes],
    *,
    library: Path | None = None,
    replace: Collection[Path] = (),
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Write several files: all of them or none, and no single one is ever half-written.

    Each file is written under a temporary name in its own folder, flushed to the disk and
    renamed. If anything fails before the last rename, what was done is undone. Missing folders
    are made. With `library`, a kill or a power cut between two renames, or while one is undone,
    is made good too: a list of what is on its way is kept there meanwhile (see `journal`).

    Parameters
    ----------
    files : mapping of Path to bytes
        What to write where, renamed in this order.
    library : Path, optional
        The library they belong to, which the caller holds for writing.
    replace : collection of Path
        Those of `files` that may take the place of a file already there.
    progress : callable, optional
        Called with (files on the disk, files in all), before any of them is in its place.

    Raises
    ------
    UsageError
        If a file is there already and may not be replaced, or the disk refuses; nothing has
        changed then. If the disk refuses the undoing too, the message says so: whoever next
        opens the library carries out the list that is left, all of it.
    """
    placing = _Placing()
    targets = {Path(os.path.realpath(path)): content for path, content in files.items()}
    may_replace = {Path(os.path.realpath(path)) for path in replace}
    for path in targets:
        if path not in may_replace and os.path.lexists(path):
            raise UsageError(f"{path.name!r} is already there: nothing was written")
    try:
        for path, content in targets.items():
            placing.stage(path, content)
        placing.flush(progress)
        if library is not None and len(targets) > 1:
            placing.announce(library)
        for path in targets:
            placing.rename(path)
        for folder in {path.parent for path in targets}:
            flush_folder(folder)
    except OSError as error:
        what = f"{Path(error.filename or '').name or 'the file'!r} cannot be written"
        raise UsageError(f"{what}: {error.strerror}; {placing.undo()}") from error
    except BaseException:
        placing.undo()
        raise
    if placing.announced is not None:
        # What is left of the list after a kill here finds nothing more to do.
        with contextlib.suppress(OSError):
            drop_journal(placing.announced)


class _Placing:
    def __init__(self) -> None:
        self.made_folders: list[Path] = []
        self.staged: dict[Path, Path] = {}
        self.renamed: dict[Path, bytes | None] = {}
        self.announced: Path | None = None

    def stage(self, path: Path, content: bytes) -> None:
        self._make_folder(path.parent)
        temporary = temporary_for(path)
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        self.staged[path] = temporary
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)

    def flush(self, progress: Callable[[int, int], None] | None = None) -> None:
        # Side by side, so that the disk can take many small files in one go.
        with ThreadPoolExecutor(max_workers=16) as pool:
            for done, _ in enumerate(pool.map(_flush, self.staged.values()), 1):
                if progress is not None:
                    progress(done, len(self.staged))

    def announce(self, library: Path) -> None:
        for folder in {path.parent for path in self.staged}:
            flush_folder(folder)
        moves = [Move(part, path, hash_of(path)) for path, part in self.staged.items()]
        self.announced = library
        write_journal(Path(os.path.realpath(library)), moves)

    def rename(self, path: Path) -> None:
        before = path.read_bytes() if path.exists() else None
        put_in_place(self.staged[path], path)
        del self.staged[path]
        self.renamed[path] = before

    def undo(self) -> str:
        """Put everything back; how that went, in words."""
        library = self.announced
        left = "not everything could be put back"
        try:
            if library is not None and (not self.renamed or not is_unfinished(library)):
                drop_journal(library)
                library = None
            if library is not None:
                left = "the change is finished when the library is next opened"
            back = self._way_back()
            if library is not None:
                # One list takes the place of the other: a kill leaves the one or the other whole.
                write_journal(library, back)
                left = "the change is undone when the library is next opened"
            for move in back:
                carry_out(move)
            if library is not None:
                drop_journal(library)
        except OSError:
            return left
        for folder in reversed(self.made_folders):
            # Somebody else may have put something there meanwhile.
            with contextlib.suppress(OSError):
                folder.rmdir()
        return "nothing was changed"

    def _way_back(self) -> list[Move]:
        """What undoes all that was done so far; what is to come back lies on the disk already."""
        back = []
        for path, before in reversed(self.renamed.items()):
            temporary = None
            if before is not None:
                temporary = temporary_for(path)
                temporary.write_bytes(before)
                _flush(temporary)
            back.append(Move(temporary, path, hash_of(path)))
        staged = self.staged.values()
        return back + [Move(None, temporary, hash_of(temporary)) for temporary in staged]

    def _make_folder(self, folder: Path) -> None:
        missing = []
        while not folder.exists():
            missing.append(folder)
            folder = folder.parent
        for folder in reversed(missing):
            folder.mkdir()
            self.made_folders.append(folder)


def _flush(path: Path) -> None:
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
