"""Doing something once typing pauses, so that it never waits for a redraw."""

from __future__ import annotations

import asyncio
from collections.abc import Callable


class Later:
    """Runs a call once no further one has been asked for in a while.

    Parameters
    ----------
    call : callable
    pause_s : float
        How long to wait; seconds.
    longest_s : float or None
        How long it may be put off by being asked for again; None for as long as that goes on.
    """

    def __init__(
        self, call: Callable[[], None], *, pause_s: float, longest_s: float | None = None
    ) -> None:
        self._call, self._pause_s, self._longest_s = call, pause_s, longest_s
        self._waiting: asyncio.TimerHandle | None = None
        self._at_latest = 0.0

    def ask(self) -> None:
        """Run soon; at once where no event loop runs that could wait."""
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._call()
            return
        when = loop.time() + self._pause_s
        if self._longest_s is not None:
            if self._waiting is None:
                self._at_latest = loop.time() + self._longest_s
            when = min(when, self._at_latest)
        if self._waiting is not None:
            self._waiting.cancel()
        self._waiting = loop.call_at(when, self.now)

    def now(self) -> None:
        """Run at once if it was asked for, or whenever called directly."""
        self.stop()
        self._call()

    def stop(self) -> None:
        """Do not run what was asked for."""
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None
