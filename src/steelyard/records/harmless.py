"""Text for a spreadsheet that must not be run there as a formula, and back."""

from __future__ import annotations

import re

_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")
_RUNS = "=+-@\t\r"


def guarded(text: str) -> str:
    """Text with an apostrophe before it where a spreadsheet would run it; numbers stay."""
    if _NUMBER.fullmatch(text):
        return text
    return f"'{text}" if (text[:1] and text[0] in _RUNS) or _looks_guarded(text) else text


def unguarded(text: str) -> str:
    """What `guarded` was given."""
    return text[1:] if _looks_guarded(text) else text


def _looks_guarded(text: str) -> bool:
    return text[:1] == "'" and text[1:2] != "" and text[1] in _RUNS + "'"
