"""The other end of ``saving_at_once.py``: a process that saves on command, and how to kill it."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).with_name("saving_at_once.py")


class Worker:
    """The saving process; see its file. It serves one test after another."""

    def __init__(self) -> None:
        self.child: int | None = None
        self.is_out_of_step = False
        self.process = subprocess.Popen(
            [sys.executable, str(SCRIPT)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def start(self, command: str) -> int:
        """Start a command; the number of the process that runs it."""
        (self.child,) = self._started(command)
        return self.child

    def _started(self, command: str) -> list[int]:
        self.is_out_of_step = True
        self.process.stdin.write(command + "\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        assert line, self.process.stderr.read()
        return [int(word) for word in line.split()]

    def ended(self) -> int:
        """Wait for the command's end; its exit status."""
        status = int(self.process.stdout.readline())
        self.child, self.is_out_of_step = None, False
        return status

    def run(self, command: str) -> int:
        """Start a command and wait for its end; its exit status."""
        self.start(command)
        return self.ended()

    def race(self, *commands: str) -> list[int]:
        """Run commands at once, each in a process of its own; their exit statuses."""
        self._started(" | ".join(commands))
        statuses = [int(word) for word in self.process.stdout.readline().split()]
        self.is_out_of_step = False
        return statuses

    def kill(self) -> None:
        """Kill the command's process at once, if it still runs."""
        if self.child is not None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.child, signal.SIGKILL)

    def close(self) -> None:
        self.kill()
        self.process.stdin.close()
        self.process.wait(30)
        self.process.stdout.close()
        self.process.stderr.close()
