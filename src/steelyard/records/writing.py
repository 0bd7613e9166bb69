"""Records to TOML, laid out as a person would, numbers exactly as printed."""

from __future__ import annotations

import datetime as dt
import functools
import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import SingleKey

from steelyard.records.locking import library_of, writing_lock
from steelyard.records.model import Record
from steelyard.records.reading import fault, validate
from steelyard.records.staging import place_files
from steelyard.records.study import Study

# At the top of a record a group of keys gets a heading of its own, but for these.
INLINE_AT_THE_TOP = frozenset({"time"})
_PLAIN_TEXT = re.compile(r"[ !#-\[\]-~]*")


def write_record(
    path: str | Path,
    record: Record | Mapping[str, Any],
    *,
    model: type[Record] = Study,
    replace: bool = False,
) -> None:
    """Write one record; a reader sees the old file or the new one, never half of one.

    Parameters
    ----------
    path : str or Path
        Where; the file's name must be the record's id with ``.toml``.
    record : Record or mapping
        A record, or plain values with a record's keys, which are validated first.
    model : type
        What a mapping is validated as: `Study`, `Question`, `Recommendation` or `Vocabulary`.
    replace : bool
        Whether a file already there may be replaced.

    Raises
    ------
    RecordError
        If the values are no such record, or the id is not the file's name.
    UsageError
        If the file is there already, or cannot be written.
    """
    path = Path(path)
    if not isinstance(record, Record):
        record = validate(dict(record), model, file=path.name)
    record_id = getattr(record, "id", None)
    if record_id is not None and path.name != f"{record_id}.toml":
        message = f"expected the file name {record_id}.toml, found {path.name!r}"
        raise fault(path.name, "id", "id-is-file-name", message)
    content = record_to_toml(record).encode("utf-8")
    with writing_lock(library_of(path), make=True):
        place_files({path: content}, replace=(path,) if replace else ())


def record_to_toml(record: Record) -> str:
    """A record as TOML text: what was set is written, what is only a default is not.

    Single values come first, then a heading per group of keys; below a heading, groups stand
    on one line.
    """
    lines: list[str] = []
    blocks: list[list[str]] = []
    for key, value in set_values(record):
        if isinstance(value, Record | dict) and key not in INLINE_AT_THE_TOP:
            blocks.append([f"[{toml_key(key)}]", *_lines(value)])
        elif _is_list_of_groups(value):
            blocks += [[f"[[{toml_key(key)}]]", *_lines(part)] for part in value]
        else:
            lines.append(f"{toml_key(key)} = {toml_value(value)}")
    return "\n\n".join("\n".join(block) for block in [lines, *blocks]) + "\n"


def set_values(record: Record) -> Iterator[tuple[str, Any]]:
    """Keys as in the file with their values; leaves out defaults that nobody set."""
    for name, key, has_default, default in _fields(type(record)):
        value = getattr(record, name)
        if has_default and name != "schema_version" and value == default:
            says_nothing = value is None or value == () or value == {} or _is_bare(value)
            if says_nothing or name not in record.model_fields_set:
                continue
        yield key, value


@functools.cache
def _fields(model: type[Record]) -> tuple[tuple[str, str, bool, Any], ...]:
    """Name, key, whether there is a default, and the default, of every field."""
    return tuple(
        (
            name,
            field.alias or name,
            not field.is_required(),
            None if field.is_required() else field.get_default(call_default_factory=True),
        )
        for name, field in model.model_fields.items()
    )


def toml_value(value: Any) -> str:
    """One value on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | Decimal):
        return str(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, str):
        return f'"{value}"' if _PLAIN_TEXT.fullmatch(value) else tomlkit.string(value).as_string()
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Record | Mapping):
        inner = ", ".join(f"{toml_key(key)} = {toml_value(part)}" for key, part in _items(value))
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(toml_value, value))}]"
    raise TypeError(f"a record holds no {type(value).__name__}")


@functools.lru_cache(maxsize=5_000)
def toml_key(key: str) -> str:
    """A key, quoted where it must be."""
    return SingleKey(key).as_string()


def _lines(value: Record | Mapping[str, Any]) -> list[str]:
    return [f"{toml_key(key)} = {toml_value(part)}" for key, part in _items(value)]


def _items(value: Record | Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    return set_values(value) if isinstance(value, Record) else iter(value.items())


def _is_list_of_groups(value: Any) -> bool:
    return (
        isinstance(value, list | tuple)
        and bool(value)
        and all(isinstance(part, Record | Mapping) for part in value)
    )


def _is_bare(value: Any) -> bool:
    return isinstance(value, Record) and next(set_values(value), None) is None
