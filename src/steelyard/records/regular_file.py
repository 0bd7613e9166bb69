"""Only regular files are read, and no more of one than it may hold."""

from __future__ import annotations

import stat
from pathlib import Path

from steelyard.errors import SteelyardError

_KINDS = (
    (stat.S_ISDIR, "a directory"),
    (stat.S_ISFIFO, "a named pipe"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISSOCK, "a socket"),
)


class FileRefused(SteelyardError):
    """A file that is not read; `rule` is a short stable name of the reason."""

    def __init__(self, rule: str, message: str) -> None:
        self.rule = rule
        super().__init__(message)


def read_regular(path: Path, *, most: int, what: str = "file") -> bytes:
    """The bytes of a regular file, or of one that a link leads to.

    Parameters
    ----------
    path : Path
    most : int
        Bytes it may have; no more than that is ever read.
    what : str
        What it should be, for the message.

    Raises
    ------
    FileRefused
        If it is of another kind (reading a pipe or a device might never end), too large, or
        cannot be read; the message says what was expected.
    """
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise FileRefused("not-a-file", f"expected a file, found {_kind(status.st_mode)}")
        size = status.st_size
        if size <= most:
            # A file may grow while it is read.
            with open(path, "rb") as stream:
                raw = stream.read(most + 1)
            size = len(raw)
    except OSError as error:
        raise FileRefused("unreadable", f"cannot be read: {error.strerror}") from error
    if size > most:
        message = f"expected a {what} of at most {most:,} bytes, found {size:,}"
        raise FileRefused("too-large", message)
    return raw


def _kind(mode: int) -> str:
    return next((words for is_kind, words in _KINDS if is_kind(mode)), "something else")
