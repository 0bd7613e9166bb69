"""Characters that no printed paper has: a terminal or a file would act on them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

# All control characters but tab and the two that end a line.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
RULE = "control-character"

Loc = tuple[str | int, ...]


def control_character(text: str) -> str:
    """What is wrong with a text that holds a control character; empty where it holds none."""
    found = _CONTROL.search(text)
    if found is None:
        return ""
    return (
        f"expected text without control characters, found U+{ord(found[0]):04X} at character "
        f"{found.start() + 1}"
    )


def control_characters(values: Any, loc: Loc = ()) -> Iterator[tuple[Loc, str]]:
    """Every text in plain values that holds one: where it stands, and what to say of it."""
    if not loc and not _any(values):
        return
    if isinstance(values, str):
        if said := control_character(values):
            yield loc, said
    elif isinstance(values, dict):
        for key, value in values.items():
            if isinstance(key, str) and (said := control_character(key)):
                yield loc, f"in the name of a key: {said}"
            else:
                yield from control_characters(value, (*loc, key))
    elif isinstance(values, list | tuple):
        for index, value in enumerate(values):
            yield from control_characters(value, (*loc, index))


def _any(values: Any) -> bool:
    """Whether there is one at all: quickly, since there hardly ever is."""
    if isinstance(values, str):
        return _CONTROL.search(values) is not None
    if isinstance(values, dict):
        return _any(list(values)) or _any(list(values.values()))
    return isinstance(values, list | tuple) and any(map(_any, values))
