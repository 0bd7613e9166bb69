"""The columns of a whole-record table: a row per study, arm, outcome, result or comparison.

Beside them there is a row per line of text of a library's other files.

A column is named by its place in the record (``design_cluster_size``, ``post_iqr_low``,
``dose_rest_s``), or as the shorter layouts name it (``title``, ``post_sd``, ``pre_ci_low``).
A cell holds a number, words, or what TOML would write: ``"12"`` in quotation marks is text.
"""

from __future__ import annotations

import datetime as dt
import functools
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, get_args

import tomli

from steelyard.records.appraisal import Answer, Overruling
from steelyard.records.model import Record
from steelyard.records.study import Arm, Comparison, Outcome, Person, Result, Study, Subgroup
from steelyard.records.tables.columns import KIND_COLUMN, plain_name
from steelyard.records.tables.facts import NotUnderstood, people, tag_words
from steelyard.records.writing import set_values, toml_value

STUDY_COLUMN = "study"
PARTS = {
    "arm": Arm,
    "outcome": Outcome,
    "result": Result,
    "comparison": Comparison,
    "overruling": Overruling,
}
KEY_OF = {kind: kind for kind in PARTS} | {"overruling": "appraisal_overruling"}
LINE = "line"
FILE_COLUMN, TEXT_COLUMN = "file", "text"
KINDS = ("study", *PARTS, LINE)

Path = tuple[str | int, ...]

_PAIRS = frozenset({"ci90", "ci95", "ci99", "iqr", "range", "reps"})
_ENDS = ("low", "high")
_IN_ONE_CELL = (Answer, Person, Subgroup)
_SHORT = {
    ("study", "id"): "study",
    ("study", "source", "title"): "title",
    ("study", "source", "author"): "authors",
    ("study", "source", "issued"): "year",
    ("study", "source", "DOI"): "doi",
    ("study", "design", "kind"): "design",
    ("study", "design", "randomised"): "randomised",
    ("study", "design", "equated"): "equated",
    ("study", "design", "duration_weeks"): "duration_weeks",
    ("study", "population", "training_status"): "training_status",
    ("arm", "id"): "arm",
    ("outcome", "id"): "outcome",
}
_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")

Cell = str | int | Decimal


@functools.cache
def columns_of(kind: str) -> dict[str, Path]:
    """Header to place in the record, for one kind of row, in the order of the schema."""
    if kind == LINE:
        return {FILE_COLUMN: (FILE_COLUMN,), TEXT_COLUMN: (TEXT_COLUMN,)}
    model = Study if kind == "study" else PARTS[kind]
    found: dict[str, Path] = {}
    for path in _paths(model, ()):
        if kind == "study" and path[0] in {"schema", *KEY_OF.values()}:
            continue
        found.setdefault(_header(kind, path), path)
    return found


@functools.cache
def all_columns() -> dict[str, str]:
    """Every header, by its plain name, in the order they are written."""
    headers = [STUDY_COLUMN, KIND_COLUMN, *(h for kind in KINDS for h in columns_of(kind))]
    return {plain_name(header): header for header in headers}


def _header(kind: str, path: Path) -> str:
    short = _SHORT.get((kind, *path))
    if short:
        return short
    names = [_ENDS[part] if isinstance(part, int) else part for part in path]
    names = ["ci" if name == "ci95" else name for name in names]
    return "_".join(names).replace("-", "_")


def _paths(model: type[Record], before: Path) -> Iterator[Path]:
    own: list[Path] = []
    for name, field in model.model_fields.items():
        key = field.alias or name
        inner = _inner(field.annotation)
        if key in _PAIRS:
            yield from ((*before, key, end) for end in range(2))
        elif inner is not None:
            yield from _paths(inner, (*before, key))
            own.append((*before, key))
        else:
            yield (*before, key)
    yield from own


def _inner(annotation: Any) -> type[Record] | None:
    """The record class a field holds one of; None for anything else."""
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return None if issubclass(annotation, _IN_ONE_CELL) else annotation
    if getattr(annotation, "__origin__", None) in (tuple, dict):
        return None
    return next((found for part in get_args(annotation) if (found := _inner(part))), None)


def cells_of(kind: str, record: Record) -> dict[str, Cell]:
    """What a record says, by header; parts with rows of their own are left to those rows."""
    headers = {path: header for header, path in columns_of(kind).items()}
    return {
        headers[path]: _cell(path, value)
        for path, value in _leaves(record, ())
        if not (kind == "study" and path[0] in {"schema", *KEY_OF.values()})
    }


def line_cells(file: str, line: str) -> dict[str, Cell]:
    """One line of a file by header; as it stands, but for what a cell would not keep."""
    plain = line == line.strip() and line.isprintable() and not line.startswith('"')
    return {FILE_COLUMN: file, TEXT_COLUMN: line if plain else toml_value(line)}


def read_line(text: str) -> str:
    """The line a cell holds."""
    value = value_of(text) if text.startswith('"') else text
    return value if isinstance(value, str) else text


def _leaves(record: Record, before: Path) -> Iterator[tuple[Path, Any]]:
    for key, value in set_values(record):
        path = (*before, key)
        if key in _PAIRS:
            yield from (((*path, end), value[end]) for end in range(2))
        elif isinstance(value, Record) and not isinstance(value, _IN_ONE_CELL):
            inner = list(_leaves(value, path))
            yield from inner or [(path, {})]
        else:
            yield path, value


def _cell(path: Path, value: Any) -> Cell:
    if path[-1] == "tags":
        return "; ".join(value)
    if path == ("source", "author"):
        text = "; ".join(", ".join(part for _, part in set_values(person)) for person in value)
        if _said_again(text, value):
            return text
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        return value
    if isinstance(value, str):
        plain = value == " ".join(value.split()) and value.isprintable()
        return value if value and plain and _same(value_of(value), value) else toml_value(value)
    return toml_value(value)


def _said_again(text: str, authors: Any) -> bool:
    try:
        read = people(text)
    except NotUnderstood:
        return False
    plain = text.isprintable() and not text.startswith("[")
    return plain and list(read) == [dict(set_values(person)) for person in authors]


def _same(one: Any, other: Any) -> bool:
    return type(one) is type(other) and one == other


def read_cell(path: Path, text: str) -> Any:
    """One cell that is not blank, as the value that stands at its place in the record."""
    if path[-1] == "tags":
        return tag_words(text)
    if path == ("source", "author") and not text.startswith("["):
        return people(text)
    return value_of(text)


def value_of(text: str) -> Any:
    """Text as the TOML value it is, and as text where it is none."""
    if _NUMBER.fullmatch(text) is None and text[:1] not in "\"'[{+-.0123456789tTfFin":
        return text
    if text.casefold() in ("true", "false"):
        return text.casefold() == "true"
    try:
        values = tomli.loads(f"x = {text}", parse_float=Decimal)
    except (tomli.TOMLDecodeError, RecursionError, ValueError, ArithmeticError):
        return text
    value = values["x"]
    # A comment or a second line in a cell is text, and so is a time of day.
    commented = "#" in text and not isinstance(value, str | list | dict)
    if len(values) > 1 or "\n" in text or commented:
        return text
    is_known = isinstance(value, str | int | Decimal | list | dict)
    return value if is_known or type(value) is dt.date else text
