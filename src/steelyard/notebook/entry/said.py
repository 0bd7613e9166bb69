"""Values of a record as a person types them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any


def said(value: Any) -> str:
    """A value of a record as a person types it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return " to ".join(str(part) for part in value)
    return str(value)


def texts(values: Mapping[str, Any], names: Iterable[str]) -> dict[str, str]:
    """Those of the named values that are there, as text."""
    return {name: said(values[name]) for name in names if values.get(name) is not None}


def known_as(entries: Sequence[Mapping[str, Any]], parts: Iterable[str]) -> list[str]:
    """What each entry of a list is known again by: some of its values, and which of those alike."""
    names, seen = list(parts), Counter()
    found = []
    for entry in entries:
        name = "|".join(said(entry.get(part)) for part in names)
        seen[name] += 1
        found.append(name if seen[name] == 1 else f"{name}|{seen[name]}")
    return found
