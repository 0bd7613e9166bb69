"""One writer at a time: a lock that the system frees when its holder dies."""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from steelyard.errors import UsageError
from steelyard.records.journal import RECORD_FOLDERS, finish, is_unfinished

LOCK_FILE = ".lock"
PATIENCE_S = 20.0
_PAUSE_S = 0.02


class _Holdings(threading.local):
    """The libraries this thread of this process holds."""

    def __init__(self) -> None:
        self.process, self.folders = os.getpid(), set()


_HOLDINGS = _Holdings()


@contextmanager
def writing_lock(
    folder: str | Path, *, make: bool = False, patience_s: float = PATIENCE_S
) -> Iterator[None]:
    """Hold the library for writing; another process or thread waits its turn.

    Who holds it already goes on at once: the outermost hold counts. A change that a kill
    broke off is finished first.

    Parameters
    ----------
    folder : str or Path
        The library.
    make : bool
        Whether to make the folder where there is none; it goes again if nothing is put there.
    patience_s : float
        How long to wait for another writer; seconds.

    Raises
    ------
    UsageError
        If another process still writes after that time, or the folder takes no file.
    """
    library = Path(os.path.realpath(folder))
    held = _held()
    if library in held:
        yield
        return
    made: list[Path] = []
    try:
        handle = _hold(library, made if make else None, patience_s)
    except OSError as error:
        _take_away(made)
        raise UsageError(f"the library cannot be written to: {error.strerror}") from error
    held.add(library)
    try:
        finish(library)
        yield
    finally:
        held.discard(library)
        if made and os.listdir(library) == [LOCK_FILE]:
            with contextlib.suppress(OSError):
                (library / LOCK_FILE).unlink()
            _take_away(made)
        # Closing frees the lock.
        os.close(handle)


def settle_unfinished(folder: str | Path) -> None:
    """Wait for a change that is being made, and finish one that was broken off.

    Raises
    ------
    UsageError
        If that cannot be done.
    """
    if is_unfinished(Path(folder)):
        with writing_lock(folder):
            pass


def library_of(path: str | Path) -> Path:
    """The library that a record's file belongs to."""
    folder = Path(os.path.abspath(path)).parent
    return folder.parent if folder.name in RECORD_FOLDERS else folder


def _held() -> set[Path]:
    # A forked child has the memory of its parent, but not its turn.
    if _HOLDINGS.process != os.getpid():
        _HOLDINGS.process, _HOLDINGS.folders = os.getpid(), set()
    return _HOLDINGS.folders


def _hold(library: Path, made: list[Path] | None, patience_s: float) -> int:
    """An open lock file that is ours, and still the one that others would open."""
    path = library / LOCK_FILE
    give_up = time.monotonic() + patience_s
    while True:
        if made is not None:
            _make(library, made)
        try:
            handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        except FileNotFoundError:
            if made is None or time.monotonic() > give_up:
                raise
            continue
        try:
            while not _take(handle):
                if time.monotonic() > give_up:
                    raise UsageError(
                        f"another program has been writing to the library for {patience_s:g} s; "
                        "nothing was changed, try again"
                    )
                time.sleep(_PAUSE_S)
            if _is_at(path, handle):
                return handle
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)


def _is_at(path: Path, handle: int) -> bool:
    """Whether the open file is still the one by that name, not one that was taken away."""
    try:
        return os.path.samestat(os.stat(path), os.fstat(handle))
    except FileNotFoundError:
        return False


def _make(folder: Path, made: list[Path]) -> None:
    missing = []
    while not folder.exists():
        missing.append(folder)
        folder = folder.parent
    for each in reversed(missing):
        with contextlib.suppress(FileExistsError):
            each.mkdir()
            made.append(each)


def _take_away(made: list[Path]) -> None:
    for folder in reversed(made):
        # Somebody else may have put something there meanwhile.
        with contextlib.suppress(OSError):
            folder.rmdir()


def _take(handle: int) -> bool:
    try:
        if os.name == "nt":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
