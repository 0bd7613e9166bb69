"""In a notebook, an error raised on purpose is one message and not a stack of code."""

from __future__ import annotations

import sys

from steelyard.errors import SteelyardError


def tell_plainly() -> None:
    """Ask a running notebook to show Steelyard's own errors as their message; else do nothing."""
    if "IPython" not in sys.modules:
        return
    from IPython import get_ipython

    shell = get_ipython()
    if shell is not None and SteelyardError not in (shell.custom_exceptions or ()):
        shell.set_custom_exc((SteelyardError,), _tell)


def _tell(shell, kind, error, trace, tb_offset=None) -> list[str]:
    lines = [f"{kind.__name__}: {error}"]
    shell._showtraceback(kind, error, lines)
    return lines
