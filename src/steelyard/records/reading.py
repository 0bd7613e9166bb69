"""Reading one record file: text to validated model, with every fault at once."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from steelyard.errors import Finding, RecordError
from steelyard.records.control_characters import RULE, control_characters
from steelyard.records.keys import tables_of, unknown_key
from steelyard.records.model import Record
from steelyard.records.printed import brief
from steelyard.records.regular_file import FileRefused, read_regular
from steelyard.records.sound_parts import Loc, broken_rules, is_stray, sound_part
from steelyard.records.toml_text import Parsed, Unread, brief_line, parse, parse_past_faults

__all__ = [
    "LARGEST_RECORD_BYTES",
    "Looked",
    "brief_line",
    "fault",
    "faults_of",
    "look_at",
    "look_at_values",
    "parse",
    "place",
    "read_record",
    "read_text",
    "sentence",
    "suggestion",
    "validate",
]

LARGEST_RECORD_BYTES = 2_000_000
Said = tuple[Loc, str, str]
# What a validator calls the kinds that one value may have.
_ALTERNATIVES = frozenset({"list[any]", "decimal", "str", "int", "Weeks"})
_BELOW = frozenset({"missing", "too-short"})


@dataclass(frozen=True, slots=True)
class Looked:
    """What a record's text or values say.

    Attributes
    ----------
    record : Record or None
        Sound where there are no faults; else with an `Unsound` for whatever cannot be used.
        None where nothing can be made of the text.
    faults : tuple of Finding
        All that can be seen in the record alone.
    """

    record: Any
    faults: tuple[Finding, ...] = ()


def read_record(path: Path, model: type[Record], *, file: str | None = None) -> Record:
    """Read one TOML record.

    Parameters
    ----------
    path : Path
        The file.
    model : type
        `Study`, `Question`, `Recommendation` or `Vocabulary`.
    file : str, optional
        Name to use in findings; the file's own name by default.

    Raises
    ------
    RecordError
        With every fault in the file.
    """
    name = file or path.name
    looked = look_at(read_text(path, file=name), model, file=name)
    if looked.faults:
        raise RecordError(looked.faults)
    return looked.record


def read_text(path: Path, *, file: str) -> str:
    """Read a record's text, refusing what cannot be a record."""
    try:
        raw = read_regular(path, most=LARGEST_RECORD_BYTES, what="record")
    except FileRefused as refused:
        raise fault(file, "", refused.rule, str(refused)) from refused
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        message = f"expected UTF-8 text, found byte 0x{raw[error.start]:02x} at {error.start:,}"
        raise fault(file, "", "not-text", message) from error


def look_at(text: str, model: type[Record], *, file: str) -> Looked:
    """All that can be said of a record's text."""
    tables = tables_of(model)
    parsed = parse_past_faults(text, file=file, known=tables)
    looked = _looked_at(parsed, model, file)
    if sum(each.rule == "extra-forbidden" for each in looked.faults) < 2:
        return looked
    mended = parse_past_faults(text, file=file, known=tables, all_headers=True)
    if len(mended.faults) == len(parsed.faults):
        return looked
    return min(looked, _looked_at(mended, model, file), key=lambda each: len(each.faults))


def _looked_at(parsed: Parsed, model: type[Record], file: str) -> Looked:
    if parsed.values is not None:
        looked = look_at_values(parsed.values, model, file=file)
        return Looked(looked.record, (*parsed.faults, *looked.faults))
    # Of what stands above the line where reading ended, all but what may follow below it.
    above = look_at_values(parsed.before, model, file=file).faults if parsed.before else ()
    kept = [each for each in above if "." in each.path or each.rule not in _BELOW]
    if sum(each.rule == "extra-forbidden" for each in kept) > 1:
        kept = [each for each in kept if each.rule != "extra-forbidden"]
    return Looked(None, (*parsed.faults, *(each for each in kept if each.path)))


def validate(values: dict[str, Any], model: type[Record], *, file: str) -> Record:
    """Plain values to a model, with every fault at once."""
    looked = look_at_values(values, model, file=file)
    if looked.faults:
        raise RecordError(looked.faults)
    return looked.record


def look_at_values(values: dict[str, Any], model: type[Record], *, file: str) -> Looked:
    """All that can be said of a record's plain values."""
    found = [(loc, RULE, message) for loc, message in control_characters(values)]
    try:
        record = model.model_validate(values)
    except ValidationError as error:
        record = sound_part(values, model)
        told = [place(loc) for loc, _, _ in found]
        others = faults_of(error, record, model)
        found = [*(each for each in others if not _stands_over(place(each[0]), told)), *found]
    return Looked(
        record, tuple(Finding(file, place(loc), "fault", rule, said) for loc, rule, said in found)
    )


def faults_of(error: ValidationError, part: Record, model: type[Record]) -> list[Said]:
    """Every fault of a record that failed validation: its place, the rule, what to say.

    Parameters
    ----------
    error : ValidationError
    part : Record
        From `sound_part`.
    model : type
        Of the record.
    """
    items = error.errors(include_url=False)
    inside = {item["loc"][:depth] for item in items for depth in range(1, len(item["loc"]))}
    found: dict[Any, Said] = {}
    for item in items:
        kind, loc = item["type"], item["loc"]
        if (item.get("ctx") or {}).get("by_rule") or isinstance(item.get("input"), Unread):
            continue
        if kind == "too_short" and loc in inside:
            continue
        if kind == "missing" and is_stray(part, loc):
            continue
        said = loc, kind.replace("_", "-"), sentence(item, model)
        key = (place(loc), brief(item.get("input")))
        # Each kind that a value might have been complains of it by itself.
        found[key] = _joined(found[key], said) if key in found else said
    return [*found.values(), *broken_rules(part)]


def _stands_over(path: str, places: list[str]) -> bool:
    """Whether a place is one of some others, or holds one."""
    return bool(path) and any(
        other == path or other.startswith((f"{path}.", f"{path}[")) for other in places
    )


def _joined(one: Said, other: Said) -> Said:
    loc, rule, message = one
    expected, _, found = message.rpartition(", found ")
    another, _, same = other[2].removeprefix("expected ").rpartition(", found ")
    if expected and found == same:
        message = f"{expected} or {another}, found {found}"
    return loc, rule, message


def fault(file: str, path: str, rule: str, message: str) -> RecordError:
    """A record error with a single fault."""
    return RecordError([Finding(file, path, "fault", rule, message)])


def place(loc: tuple[str | int, ...]) -> str:
    """Where in a file: ``("result", 1, "pre", "sd")`` is ``result[2].pre.sd``, counted from 1."""
    text = ""
    for part in loc:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        elif part.startswith("function-") or part in (
            "list[any]",
            "decimal",
            "str",
            "int",
            "Weeks",
        ):
            continue
        elif part.startswith("literal["):
            continue
        else:
            text += f".{part}" if text else part
    return text


def sentence(item: dict[str, Any], model: type[Record]) -> str:
    """One validation error in our own words: what was expected and what was found."""
    kind, found, context = item["type"], brief(item.get("input")), item.get("ctx") or {}
    if kind == "missing":
        return "expected a value, found none: this key is required"
    if kind == "extra_forbidden":
        return unknown_key(model, item["loc"])
    if kind == "literal_error":
        return f"expected {context['expected']}, found {found}"
    if kind == "string_pattern_mismatch":
        return f"expected lower-case letters, digits and hyphens, found {found}"
    if kind in ("too_short", "string_too_short"):
        return "expected at least one, found none"
    if kind.startswith("bool"):
        return f"expected true or false, found {found}"
    if kind.startswith("string"):
        return f"expected text, found {found}"
    if kind.startswith("int_"):
        return f"expected a whole number, found {found}"
    if kind in ("greater_than_equal", "less_than_equal"):
        bound = context.get("ge", context.get("le"))
        words = "at least" if "ge" in context else "at most"
        return f"expected {words} {bound}, found {found}"
    if kind.startswith(("model", "dict")):
        return f"expected a table of keys, found {found}"
    if kind.startswith(("tuple", "list")):
        return f"expected a list, found {found}"
    if kind.startswith("date"):
        return f"expected a date such as 2026-11-25, found {found}"
    return item["msg"]


def suggestion(word: str, known: set[str]) -> str:
    """``; nearest known: …`` where something near is known."""
    near = difflib.get_close_matches(word, sorted(known), n=1, cutoff=0.6)
    return f"; nearest known: {near[0]}" if near else ""
