"""One writer at a time: a lock that the system frees when its holder dies."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from steelyard.errors import UsageError

LOCK_FILE = ".lock"
PATIENCE_S = 20.0
_PAUSE_S = 0.02


@contextmanager
def writing_lock(folder: str | Path, *, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Hold the library for writing; another process waits its turn.

    Parameters
    ----------
    folder : str or Path
        The library.
    patience_s : float
        How long to wait for another writer; seconds.

    Raises
    ------
    UsageError
        If another process still writes after that time, or the folder takes no file.
    """
    path = Path(folder) / LOCK_FILE
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        raise UsageError(f"the library cannot be written to: {error.strerror}") from error
    try:
        give_up = time.monotonic() + patience_s
        while not _take(handle):
            if time.monotonic() > give_up:
                raise UsageError(
                    f"another program has been writing to the library for {patience_s:g} s; "
                    "nothing was changed, try again"
                )
            time.sleep(_PAUSE_S)
        yield
    finally:
        # Closing frees the lock; the file stays, since taking it away would let in two writers.
        os.close(handle)


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
