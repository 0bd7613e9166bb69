"""TOML text to plain values; past a line that is none, as far as that can be done.

A TOML reader stops at the first line it cannot read. What is wrong beyond that line would be told
only once the line is mended. So the line is taken out, an `Unread` is put in the place of its
value, and the rest is read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import tomli

from steelyard.errors import Finding, RecordError
from steelyard.records.lost_headers import (
    HEADER,
    STATEMENT,
    TOP,
    Lost,
    Table,
    lost_before_foreign,
    lost_before_repeated,
)
from steelyard.records.printed import brief

# Text with more broken lines than this is something other than a record.
_MOST_BROKEN = 12
_LONGEST_MENDED = 200_000
_MOST_LINES_BACK = 60
_MARK = "\ue000unread\ue001"
_FIRST_WORD = re.compile(r"\s*([A-Za-z0-9_-]+)")
_TORN_HEADER = re.compile(
    r"\s*[\[({<]*\s*([A-Za-z0-9_-]+)((?:\.[A-Za-z0-9_-]+)*)[\s\])}>]*(?:#.*)?"
)
_ITEM = re.compile(r"""\s*(?:["'{\[].*,|["'{\[].*[\]}"']|\],?)\s*(?:#.*)?""")
_BRACKETS = frozenset("[](){}<>")
_NOTHING: Mapping[str, Table] = {}


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
    before : dict
        Where there are no values, those of the tables that end before the broken line.
    """

    values: dict[str, Any] | None
    faults: tuple[Finding, ...] = ()
    before: dict[str, Any] = field(default_factory=dict)


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


def parse_past_faults(
    text: str, *, file: str, known: Mapping[str, Table] = _NOTHING, all_headers: bool = False
) -> Parsed:
    """The same, past broken lines.

    Parameters
    ----------
    text : str
    file : str
    known : mapping of str to Table
        Tables of the record, by which a broken or lost header is known again.
    all_headers : bool
        Whether to put back also a header whose loss leaves every line readable.
    """
    lines = text.replace("\r\n", "\n").split("\n")
    if len(text) > _LONGEST_MENDED:
        known = _NOTHING
    faults: list[Finding] = []
    # Numbers of lines that are put in.
    added: list[int] = []
    while True:
        try:
            values = _loads(lines)
            break
        except tomli.TOMLDecodeError as error:
            at = next((n for n in range(error.lineno, 0, -1) if lines[n - 1].strip()), 1)
            lost = _lost(lines, at, error, known)
            faults.append(_said(lines, at, error, added, lost, file=file))
            if lost is not None and lost.header:
                mended = _put_in(lines, lost, added)
            else:
                mended = lost is None and _mend(lines, at, error, known)
            if len(text) > _LONGEST_MENDED or not mended:
                return Parsed(None, tuple(faults), _values_before(lines, at))
        except (RecursionError, ValueError, ArithmeticError) as error:
            said = str(error) or "nested too deeply"
            message = f"not valid TOML: {brief_line(said)}"
            faults.append(Finding(file, "", "fault", "not-toml", message))
            return Parsed(None, tuple(faults))
        if len(faults) > _MOST_BROKEN:
            return Parsed(None, (faults[0],))
    while all_headers and len(faults) <= _MOST_BROKEN:
        lost = lost_before_foreign(lines, known)
        if lost is None:
            break
        at = _number(lost.line, added)
        message = (
            f"expected a line {lost.header} above this one, found none: {lost.key} and what "
            f"follows belong there; the line reads {brief(lines[lost.line - 1])}"
        )
        if not _put_in(lines, lost, added) or not _parses(lines):
            break
        faults.append(Finding(file, f"line {at}", "fault", "lost-header", message))
        values = _loads(lines)
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


def _number(at: int, added: list[int]) -> int:
    """A line's number in the text as it came."""
    return at - sum(each < at for each in added)


def _said(
    lines: list[str],
    at: int,
    error: tomli.TOMLDecodeError,
    added: list[int],
    lost: Lost | None,
    *,
    file: str,
) -> Finding:
    """What is wrong with a line that cannot be read."""
    number = _number(at, added)
    shown = brief(lines[at - 1])
    said = brief_line(str(error).replace(f"line {error.lineno},", f"line {number},"))
    message = f"not valid TOML: {said}; the line reads {shown}"
    if lost is not None:
        header = f"a line {lost.header}" if lost.header else "the first line of a table"
        message = (
            f"not valid TOML: {lost.key} has a value already; {header} seems to be missing "
            f"above this one, which reads {shown}"
        )
    return Finding(file, f"line {number}", "fault", "not-toml", message)


def _lost(
    lines: list[str], at: int, error: tomli.TOMLDecodeError, known: Mapping[str, Table]
) -> Lost | None:
    if not known or "Cannot overwrite" not in str(error):
        return None
    return lost_before_repeated(lines, at, known)


def _put_in(lines: list[str], lost: Lost, added: list[int]) -> bool:
    """Put a lost header in its place; whether what stands above can be read."""
    lines.insert(lost.line - 1, lost.stand_in)
    added[:] = [each + (each >= lost.line) for each in added] + [lost.line]
    return _parses(lines[: lost.line])


def _values_before(lines: list[str], at: int) -> dict[str, Any]:
    """Plain values of all tables that end before a line."""
    last = next((n for n in range(at - 1, 0, -1) if HEADER.fullmatch(lines[n - 1])), 1)
    before = lines[: last - 1]
    return _unmarked(_loads(before)) if _parses(before) else {}


def _mend(
    lines: list[str], at: int, error: tomli.TOMLDecodeError, known: Mapping[str, Table]
) -> bool:
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
    elif r"'\n'" in str(error):
        end = _end_of_text(lines, at)
    else:
        end = _end_of_list(lines, at)
    first, before = lines[start - 1], lines[: start - 1]
    choices = [*_instead(first, before, known)]
    if end < len(lines) and _key(lines[end]) and _key(lines[end]) == _key(first):
        # The first line of a value that follows whole.
        choices.insert(0, "")
    for instead in choices:
        if _parses([*before, instead]):
            lines[start - 1 : end] = [instead, *[""] * (end - start)]
            return True
    return False


def _end_of_text(lines: list[str], at: int) -> int:
    """Number of the line where a text ends that is broken over several lines."""
    for n in range(at + 1, len(lines) + 1):
        line = lines[n - 1]
        if not line.strip() or _begins(line):
            break
        if '"' in line or "'" in line:
            return n
    return at


def _end_of_list(lines: list[str], at: int) -> int:
    """Number of the line where a list ends of which a broken line is, or may be, the first."""
    end = at
    if not lines[at - 1].rstrip().endswith(("[", "=")) and not _FIRST_WORD.fullmatch(lines[at - 1]):
        return at
    while end < len(lines) and _ITEM.fullmatch(lines[end]):
        end += 1
    return end


def _start(lines: list[str], at: int) -> int | None:
    """Number of the line where the statement begins that is broken in a line."""
    for n in range(at, max(0, at - _MOST_LINES_BACK), -1):
        if (n == at or _begins(lines[n - 1])) and _parses(lines[: n - 1]):
            return n
    return None


def _key(line: str) -> str:
    statement = STATEMENT.match(line)
    return statement[1] if statement else ""


def _begins(line: str) -> bool:
    return bool(STATEMENT.match(line) or HEADER.fullmatch(line))


def _may_be_header(line: str, word: str, before: list[str], known: Mapping[str, Table]) -> bool:
    """Whether one word in a line is that of a table and no key of the table above it."""
    if _BRACKETS & set(line):
        return True
    above = next((found[1] for each in reversed(before) if (found := HEADER.fullmatch(each))), TOP)
    if word not in known or above not in known or above == TOP:
        return False
    keys = known[above].keys
    return bool(keys) and word not in keys


def _instead(line: str, before: list[str], known: Mapping[str, Table]) -> Iterator[str]:
    """What may stand in the place of a broken line, the likeliest first."""
    torn = _TORN_HEADER.fullmatch(line)
    if line.lstrip().startswith("[") or (torn and _may_be_header(line, torn[1], before, known)):
        if torn and torn[1] in known:
            several = any(each.replace(" ", "").startswith(f"[[{torn[1]}]]") for each in before)
            if known[torn[1]].many or several or line.lstrip().startswith("[["):
                yield f"[[{torn[1]}]]"
            else:
                yield f"[{torn[1]}{torn[2]}]"
        return
    key = STATEMENT.match(line) or _FIRST_WORD.match(line)
    if key:
        yield f'{key[1]} = "{_MARK}"'
    else:
        # A name of its own, since there may be more of them.
        yield f'"{_MARK}{len(before)}" = "{_MARK}"'
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
