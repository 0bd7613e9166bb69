"""Ids for what a person did not name."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from steelyard.records.slugs import slug


def default_id(values: dict[str, Any]) -> str:
    """First author and year, else the title's first words."""
    source = values.get("source", {})
    people = source.get("author") or [{}]
    name = people[0].get("family") or people[0].get("literal")
    if name:
        return slug(" ".join(filter(None, (name, str(source.get("issued") or "")))), kind="study")
    title = " ".join(str(source.get("title") or "").split()[:6])
    return slug(title, kind="study") if title else ""


def unlike(name: str, taken: Collection[str]) -> str:
    """The name, with a number behind it where it is taken."""
    taken = set(taken)
    if name not in taken:
        return name
    return next(
        f"{name[:76]}-{n}" for n in range(2, len(taken) + 3) if f"{name[:76]}-{n}" not in taken
    )
