"""TOML text to plain values; past a line that is none, as far as that can be done.

A TOML reader stops at the first line it cannot read. What is wrong beyond that line would be told
only once the line is mended. So the line is taken out, an `Unread` is put in the place of its
value, and the rest is read.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import tomli

from steelyard.errors import Finding, RecordError
from steelyard.records.printed import brief

# Text with more broken lines than this is something other than a record.
_MOST_BROKEN = 12
_LONGEST_MENDED = 200_000
_MOST_LINES_BACK = 60
_MARK = "\ue000unread\ue001"
_KEY = r"""(?:[A-Za-z0-9_-]+|"[^"\n\\]*"|'[^'\n]*')"""
_STATEMENT = re.compile(rf"\s*({_KEY}(?:\s*\.\s*{_KEY})*)\s*=")
_HEADER = re.compile(rf"\s*\[\[?\s*{_KEY}(?:\s*\.\s*{_KEY})*\s*\]\]?\s*(?:#.*)?")
_FIRST_WORD = re.compile(r"\s*([A-Za-z0-9_-]+)")
_TORN_HEADER = re.compile(r"\s*\[+\s*([A-Za-z0-9_-]+)[\s\]]*(?:#.*)?")


class Unread:
    """Stands in plain values for one that was told as a broken line."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Parsed:
    """What a text holds.

    Attributes
    ----------
    values : dict or None
        Plain values, with an `Unread` where a line is broken; None where the rest cannot be
        trusted.
    faults : tuple of Finding
        A fault per broken line.
    """

    values: dict[str, Any] | None
    faults: tuple[Finding, ...] = ()


def parse(text: str, *, file: str) -> dict[str, Any]:
    """TOML text to plain values; numbers with a point become exact decimals.

    Raises
    ------
    RecordError
        If it is no TOML, with every line that is none.
    """
    parsed = parse_past_faults(text, file=file)
    if parsed.values is None or parsed.faults:
        raise RecordError(parsed.faults)
    return parsed.values


def parse_past_faults(text: str, *, file: str, known: Collection[str] = ()) -> Parsed:
    """The same, past broken lines.

    Parameters
    ----------
    text : str
    file : str
    known : collection of str
        Keys at the top of a record, by which a broken header is known again.
    """
    lines = text.replace("\r\n", "\n").split("\n")
    faults: list[Finding] = []
    while True:
        try:
            values = _loads(lines)
            break
        except tomli.TOMLDecodeError as error:
            at = next((n for n in range(error.lineno, 0, -1) if lines[n - 1].strip()), 1)
            shown = brief(lines[at - 1])
            message = f"not valid TOML: {brief_line(str(error))}; the line reads {shown}"
            faults.append(Finding(file, f"line {at}", "fault", "not-toml", message))
            if len(text) > _LONGEST_MENDED or not _mend(lines, at, known):
                return Parsed(None, tuple(faults))
        except (RecursionError, ValueError, ArithmeticError) as error:
            said = str(error) or "nested too deeply"
            message = f"not valid TOML: {brief_line(said)}"
            faults.append(Finding(file, "", "fault", "not-toml", message))
            return Parsed(None, tuple(faults))
        if len(faults) > _MOST_BROKEN:
            return Parsed(None, (faults[0],))
    if faults:
        values = _unmarked(values)
        if all(isinstance(value, Unread) for value in values.values()):
            # Nothing else is there to be judged.
            values = None
    return Parsed(values, tuple(faults))


def brief_line(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 200 else line[:197] + "…"


def _loads(lines: list[str]) -> dict[str, Any]:
    return tomli.loads("\n".join(lines), parse_float=Decimal)


def _mend(lines: list[str], at: int, known: Collection[str]) -> bool:
    """Take a broken statement out of the lines, in place; whether the rest can be read on."""
    start = _start(lines, at)
    if start is None:
        return False
    end = at
    if start < at:
        # Over several lines: to the next line that looks like a beginning.
        later = range(max(at, start + 1), len(lines) + 1)
        end = next((n - 1 for n in later if _begins(lines[n - 1])), len(lines))
        end = max(end, start)
    first, before = lines[start - 1], lines[: start - 1]
    for instead in _instead(first, before, known):
        if _parses([*before, instead]):
            lines[start - 1 : end] = [instead, *[""] * (end - start)]
            return True
    return False


def _start(lines: list[str], at: int) -> int | None:
    """Number of the line where the statement begins that is broken in a line."""
    for n in range(at, max(0, at - _MOST_LINES_BACK), -1):
        if (n == at or _begins(lines[n - 1])) and _parses(lines[: n - 1]):
            return n
    return None


def _begins(line: str) -> bool:
    return bool(_STATEMENT.match(line) or _HEADER.fullmatch(line))


def _instead(line: str, before: list[str], known: Collection[str]) -> Iterator[str]:
    """What may stand in the place of a broken line, the likeliest first."""
    if line.lstrip().startswith("["):
        torn = _TORN_HEADER.fullmatch(line)
        if torn and torn[1] in known:
            several = any(each.replace(" ", "").startswith(f"[[{torn[1]}]]") for each in before)
            if several or line.lstrip().startswith("[["):
                yield f"[[{torn[1]}]]"
            else:
                yield f"[{torn[1]}]"
        return
    key = _STATEMENT.match(line) or _FIRST_WORD.match(line)
    if key:
        yield f'{key[1]} = "{_MARK}"'
    yield ""


def _parses(lines: list[str]) -> bool:
    try:
        _loads(lines)
    except (RecursionError, ValueError, ArithmeticError):
        return False
    return True


def _unmarked(values: Any) -> Any:
    if isinstance(values, dict):
        return {key: _unmarked(value) for key, value in values.items()}
    if isinstance(values, list):
        return [_unmarked(value) for value in values]
    return Unread() if values == _MARK else values
