"""What differs between two versions of a record, place by place."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from steelyard.records.printed import brief
from steelyard.records.writing import toml_value

ABSENT = object()
_PLAIN_KEY = re.compile(r"[A-Za-z0-9_-]+")
# By what an entry of each list is known again when others come or go.
_KNOWN_BY = {
    "arm": ("id",),
    "outcome": ("id",),
    "result": ("outcome", "arm", "week"),
    "comparison": ("outcome", "intervention", "comparator", "week"),
    "appraisal_overruling": ("domain", "outcome", "date"),
    "construct": ("id",),
    "site": ("id",),
    "tag": ("id",),
}


@dataclass(frozen=True, slots=True)
class Difference:
    """One place where two versions of a record differ.

    Attributes
    ----------
    place : str
        As findings name it, but entries by what they are:
        ``result[peak, added, week 12].pre.sd``.
    one, other : str
        The values as a record writes them; empty where there is none.
    """

    place: str
    one: str
    other: str


def differences(one: Mapping[str, Any], other: Mapping[str, Any]) -> tuple[Difference, ...]:
    """Every place where two records, as plain values, differ; order of entries does not count."""
    return tuple(_differ("", one, other))


def changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, Any]:
    """What to hand to `edited` so that a record with the values `before` comes to say `after`.

    Entries keep their order; new ones come last in their list, those gone are taken out.
    """
    found: dict[str, Any] = {}
    for key in [*before, *(key for key in after if key not in before)]:
        old, new = before.get(key, ABSENT), after.get(key, ABSENT)
        if key in _KNOWN_BY and _listed(old) and _listed(new) and _distinct(key, old, new):
            found |= _list_changes(key, old, new)
        else:
            found |= _value_changes(key, old, new)
    return found


def same(one: Any, other: Any) -> bool:
    """Whether two values say the same; ``3.40`` and ``3.4`` do not, ``12`` and ``12`` do."""
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(same, one, other))
    if _number(one) and _number(other):
        return str(one) == str(other)
    return type(one) is type(other) and one == other


def _value_changes(path: str, old: Any, new: Any) -> dict[str, Any]:
    if new is ABSENT:
        return {path: None}
    if old is ABSENT:
        return {path: new}
    if same(old, new):
        return {}
    if isinstance(old, Mapping) and isinstance(new, Mapping) and old and new:
        keys = [*old, *(key for key in new if key not in old)]
        if all(_PLAIN_KEY.fullmatch(key) for key in keys):
            parts: dict[str, Any] = {}
            for key in keys:
                parts |= _value_changes(f"{path}.{key}", old.get(key, ABSENT), new.get(key, ABSENT))
            return parts
    return {path: new}


def _list_changes(key: str, old: Sequence, new: Sequence) -> dict[str, Any]:
    wanted = {_name(key, entry): entry for entry in new}
    found: dict[str, Any] = {}
    for index, entry in enumerate(old, 1):
        match = wanted.get(_name(key, entry))
        if match is not None:
            found |= _value_changes(f"{key}[{index}]", entry, match)
    known = {_name(key, entry) for entry in old}
    gone = [n for n, entry in enumerate(old, 1) if _name(key, entry) not in wanted]
    coming = [entry for name, entry in wanted.items() if name not in known]
    if len(gone) == len(old):
        return {key: list(new)} if new else {key: None}
    # What comes is put last before anything is taken out, so that places still hold.
    for index, entry in enumerate(coming, len(old) + 1):
        found[f"{key}[{index}]"] = entry
    for index in reversed(gone):
        found[f"{key}[{index}]"] = None
    return found


def _differ(path: str, one: Any, other: Any, *, key: str = "") -> Iterator[Difference]:
    if same(one, other):
        return
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        for name in [*one, *(name for name in other if name not in one)]:
            inner = f"{path}.{name}" if path else name
            yield from _differ(
                inner, one.get(name, ABSENT), other.get(name, ABSENT), key="" if path else name
            )
    elif key in _KNOWN_BY and (_listed(one) or _listed(other)) and _distinct(key, one, other):
        mine = {_name(key, entry): entry for entry in (one if _listed(one) else ())}
        theirs = {_name(key, entry): entry for entry in (other if _listed(other) else ())}
        for name in [*mine, *(name for name in theirs if name not in mine)]:
            yield from _differ(
                f"{key}[{_said(key, name)}]", mine.get(name, ABSENT), theirs.get(name, ABSENT)
            )
    else:
        yield Difference(path, _text(one), _text(other))


def _listed(value: Any) -> bool:
    return isinstance(value, list | tuple) and all(isinstance(part, Mapping) for part in value)


def _distinct(key: str, *lists: Any) -> bool:
    """Whether every entry of each list can be told from the others."""
    for each in lists:
        if _listed(each):
            names = [_name(key, entry) for entry in each]
            if len(set(names)) < len(names):
                return False
    return True


def _name(key: str, entry: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(_plain(entry.get(part)) for part in _KNOWN_BY[key])


def _plain(value: Any) -> str:
    if _number(value):
        number = Decimal(str(value)).normalize()
        return f"{number:f}" if abs(number.adjusted()) < 30 else str(number)
    return str(value)


def _said(key: str, name: tuple[str, ...]) -> str:
    words = [f"week {part}" if known == "week" else part
             for known, part in zip(_KNOWN_BY[key], name, strict=True)]  # fmt: skip
    return ", ".join(words)


def _number(value: Any) -> bool:
    return isinstance(value, int | float | Decimal) and not isinstance(value, bool)


def _text(value: Any) -> str:
    if value is ABSENT:
        return ""
    return value if isinstance(value, str) else brief_value(value)


def brief_value(value: Any) -> str:
    """A value as a record writes it, cut to a readable length."""
    text = toml_value(value)
    return text if len(text) <= 200 else brief(text)
