"""A table whose header line is lost, so that its keys run on below the table above it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

KEY = r"""(?:[A-Za-z0-9_-]+|"[^"\n\\]*"|'[^'\n]*')"""
STATEMENT = re.compile(rf"\s*({KEY}(?:\s*\.\s*{KEY})*)\s*=")
HEADER = re.compile(rf"\s*\[\[?\s*({KEY}(?:\s*\.\s*{KEY})*)\s*\]\]?\s*(?:#.*)?")
# Where no header stands above.
TOP = ""


@dataclass(frozen=True, slots=True)
class Table:
    """What a table at the top of a record may hold.

    Attributes
    ----------
    keys, required : frozenset of str
        Without any, it may hold whatever keys.
    many : bool
        Whether there may be several of it.
    named : bool
        Whether there may be several, each by a name of its own.
    """

    keys: frozenset[str]
    required: frozenset[str]
    many: bool = False
    named: bool = False


@dataclass(frozen=True, slots=True)
class Lost:
    """A header that is missing above a line.

    Attributes
    ----------
    line : int
        Number of the first line that belongs below it.
    key : str
        What that line gives.
    header : str
        Such as ``[[arm]]``, or any of several; empty where it cannot be told which.
    stand_in : str
        The same as it may be put in, with a name where one is missing in it.
    """

    line: int
    key: str
    header: str
    stand_in: str = ""


@dataclass(frozen=True, slots=True)
class _Section:
    name: str
    following: str
    keys: tuple[tuple[int, str], ...]


def lost_before_repeated(lines: Sequence[str], at: int, tables: Mapping[str, Table]) -> Lost | None:
    """The header that is lost where a line gives keys again; None where only one key is.

    Parameters
    ----------
    lines : sequence of str
    at : int
        Number of the line that cannot be read since its key has a value.
    tables : mapping of str to Table
        By name; at `TOP` what stands above every table.
    """
    sections = list(_sections(lines))
    there = {each.name for each in sections}
    section = next((each for each in sections if (at in dict(each.keys))), None)
    if section is None:
        return None
    before = {key for n, key in section.keys if n < at}
    rest = [key for n, key in section.keys if n >= at]
    if rest[0] not in before:
        return None
    own = tables.get(section.name.split(".")[0])
    repeated = [key for key in rest if key in before]
    foreign = [key for key in rest if own and own.keys and key not in own.keys]
    if len(repeated) < 2 and not foreign:
        return None
    if names := _meant(rest, section, there, tables):
        return _lost(at, rest[0], names, tables)
    begins = any(rest[0] in table.required for table in tables.values() if table.many)
    return Lost(at, rest[0], "") if begins and len(repeated) > 1 else None


def lost_before_foreign(lines: Sequence[str], tables: Mapping[str, Table]) -> Lost | None:
    """The first header that is lost where several keys are of another table."""
    sections = list(_sections(lines))
    there = {each.name for each in sections}
    for section in sections:
        own = tables.get(section.name.split(".")[0])
        if own is None or not own.keys or ("." in section.name and not own.named):
            continue
        first = next((i for i, (_, key) in enumerate(section.keys) if key not in own.keys), None)
        if first is None:
            continue
        rest = [key for _, key in section.keys[first:]]
        foreign = [key for key in rest if key not in own.keys]
        names = _meant(rest, section, there, tables) if len(foreign) > 1 else []
        if names and set(foreign) <= tables[names[0]].keys:
            line, key = section.keys[first]
            return _lost(line, key, names, tables)
    return None


def _sections(lines: Sequence[str]) -> Iterator[_Section]:
    name, keys = TOP, []
    for n, line in enumerate(lines, 1):
        if header := HEADER.fullmatch(line):
            yield _Section(name, header[1], tuple(keys))
            name, keys = header[1], []
        elif statement := STATEMENT.match(line):
            keys.append((n, statement[1].split(".")[0].strip(" \"'")))
    yield _Section(name, "", tuple(keys))


def _meant(
    rest: Sequence[str], section: _Section, there: set[str], tables: Mapping[str, Table]
) -> list[str]:
    """The tables that some keys may be of equally well, the likeliest first."""
    known = {
        name: len(table.keys & set(rest))
        for name, table in tables.items()
        if name != TOP
        and (table.many or table.named or name not in there)
        and rest[0] in table.keys
        and table.required <= set(rest)
    }
    known = {name: count for name, count in known.items() if count > 1}
    best = [name for name, count in known.items() if count == max(known.values())]
    own, following = section.name.split(".")[0], section.following.split(".")[0]
    return sorted(best, key=lambda name: (name != own, name != following))


def _lost(line: int, key: str, names: Sequence[str], tables: Mapping[str, Table]) -> Lost:
    shown = " or ".join(_header(name, tables, "…") for name in names)
    return Lost(line, key, shown, _header(names[0], tables, "unnamed"))


def _header(name: str, tables: Mapping[str, Table], own_name: str) -> str:
    if tables[name].named:
        return f"[{name}.{own_name}]"
    return f"[[{name}]]" if tables[name].many else f"[{name}]"
