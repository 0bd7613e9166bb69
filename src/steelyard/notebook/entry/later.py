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
    """

    def __init__(self, call: Callable[[], None], *, pause_s: float) -> None:
        self._call, self._pause_s = call, pause_s
        self._waiting: asyncio.TimerHandle | None = None

    def ask(self) -> None:
        """Run soon; at once where no event loop runs that could wait."""
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._call()
            return
        if self._waiting is not None:
            self._waiting.cancel()
        self._waiting = loop.call_later(self._pause_s, self.now)

    def now(self) -> None:
        """Run at once if it was asked for, or whenever called directly."""
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None
        self._call()
