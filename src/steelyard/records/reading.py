"""Reading one record file: text to validated model, with every fault at once."""

from __future__ import annotations

import difflib
from decimal import Decimal
from pathlib import Path
from typing import Any

import tomli
from pydantic import ValidationError

from steelyard.errors import Finding, RecordError
from steelyard.records.control_characters import RULE, control_characters
from steelyard.records.keys import unknown_key
from steelyard.records.model import Record
from steelyard.records.printed import brief
from steelyard.records.regular_file import FileRefused, read_regular

LARGEST_RECORD_BYTES = 2_000_000


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
    return validate(parse(read_text(path, file=name), file=name), model, file=name)


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


def parse(text: str, *, file: str) -> dict[str, Any]:
    """TOML text to plain values; numbers with a point become exact decimals."""
    text = text.replace("\r\n", "\n")
    try:
        return tomli.loads(text, parse_float=Decimal)
    except tomli.TOMLDecodeError as error:
        lines = text.split("\n")[: error.lineno]
        at = next((at for at in range(len(lines), 0, -1) if lines[at - 1].strip()), 1)
        message = f"not valid TOML: {brief_line(str(error))}; the line reads {brief(lines[at - 1])}"
        raise fault(file, f"line {at}", "not-toml", message) from error
    except (RecursionError, ValueError, ArithmeticError) as error:
        said = str(error) or "nested too deeply"
        raise fault(file, "", "not-toml", f"not valid TOML: {brief_line(said)}") from error


def validate(values: dict[str, Any], model: type[Record], *, file: str) -> Record:
    """Plain values to a model, with every fault at once."""
    odd = [
        Finding(file, place(loc), "fault", RULE, message)
        for loc, message in control_characters(values)
    ]
    try:
        record = model.model_validate(values)
    except ValidationError as error:
        items = error.errors(include_url=False)
        inside = {item["loc"][:depth] for item in items for depth in range(1, len(item["loc"]))}
        raise RecordError(
            [
                Finding(
                    file,
                    place(item["loc"]),
                    "fault",
                    item["type"].replace("_", "-"),
                    sentence(item, model),
                )
                for item in items
                if not (item["type"] == "too_short" and item["loc"] in inside)
            ]
            + odd
        ) from error
    if odd:
        raise RecordError(odd)
    return record


def fault(file: str, path: str, rule: str, message: str) -> RecordError:
    """A record error with a single fault."""
    return RecordError([Finding(file, path, "fault", rule, message)])


def place(loc: tuple[str | int, ...]) -> str:
    """Where in a file: ``("result", 1, "pre", "sd")`` is ``result[2].pre.sd``, counted from 1."""
    text = ""
    for part in loc:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        elif part.startswith("function-") or part in ("list[any]", "decimal", "str", "Weeks"):
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


def brief_line(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 200 else line[:197] + "…"
