"""What a command is doing, told on standard error once it takes long."""

from __future__ import annotations

import shutil
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

SECONDS_OF_SILENCE = 1.0
SECONDS_BETWEEN = 0.25
_CLEAR = "\r\x1b[K"


class Progress:
    """A line that says what is being done and for how long.

    Nothing is said in the first second. On a terminal the line is then renewed in its place,
    and gone when all is done; elsewhere each step that is under way gets a line of its own.
    """

    def __init__(self, doing: str) -> None:
        self._doing, self._share = doing, ""
        self._began = time.monotonic()
        self._said = ""
        self._done, self._turn = threading.Event(), threading.Lock()
        self._thread: threading.Thread | None = None

    def step(self, doing: str) -> None:
        """Something else is being done now."""
        self._doing, self._share = doing, ""

    def count(self, done: int, total: int) -> None:
        """So much of what is being done is done."""
        self._share = f" {done:,} of {total:,}"

    def say(self, line: str) -> None:
        """A line of its own on standard error, without the one that is renewed."""
        with self._turn:
            if self._said and sys.stderr.isatty():
                self._write(_CLEAR)
            self._write(f"{line}\n")

    def __enter__(self) -> Progress:
        self._thread = threading.Thread(target=self._tell, daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._done.set()
        self._thread.join()
        if self._said and sys.stderr.isatty():
            self._write(_CLEAR)

    def _tell(self) -> None:
        wait = SECONDS_OF_SILENCE
        while not self._done.wait(wait):
            wait = SECONDS_BETWEEN
            seconds = int(time.monotonic() - self._began)
            with self._turn:
                self._renew(seconds)

    def _renew(self, seconds: int) -> None:
        if sys.stderr.isatty():
            line = f"{self._doing}{self._share}, {seconds} s"
            self._said = line[: shutil.get_terminal_size().columns - 1]
            self._write(f"{_CLEAR}{self._said}")
        elif self._said != self._doing:
            self._said = self._doing
            self._write(f"{self._doing} …\n")

    def _write(self, text: str) -> None:
        try:
            sys.stderr.write(text)
            sys.stderr.flush()
        except (OSError, ValueError):  # nobody reads it any more
            self._done.set()


@contextmanager
def counted(doing: str) -> Iterator[Callable[[int, int], None]]:
    """A callable for (done, total) of one long step."""
    with Progress(doing) as progress:
        yield progress.count


@contextmanager
def at_work(library, doing: str) -> Iterator[Progress]:
    """Tell what a library is working out; meanwhile only `Progress.say` may print."""
    with Progress(doing) as progress:
        library.on_step = progress.step
        try:
            yield progress
        finally:
            library.on_step = None
