"""Changing a record where it lies: a person's comments, order and spacing survive."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Item, Table

from steelyard.errors import UsageError
from steelyard.records.locking import library_of, writing_lock
from steelyard.records.model import Record
from steelyard.records.question import Question
from steelyard.records.reading import fault, parse, read_text, validate
from steelyard.records.recommendation import Recommendation
from steelyard.records.staging import place_files
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.records.writing import set_values, toml_value

_STEP = re.compile(r"([A-Za-z0-9_-]+)(?:\[([0-9]+)\])?")
_MODELS = {"studies": Study, "questions": Question, "recommendations": Recommendation}


def edit_record(path: str | Path, changes: Mapping[str, Any]) -> None:
    """Change values in a record file and leave the rest of its text as it is.

    Two processes take turns: each changes what the other left.

    Parameters
    ----------
    path : str or Path
        The file; its folder (``studies``, ``questions``, ``recommendations``) says what it
        holds, ``vocabulary.toml`` is a vocabulary, anything else is taken for a study.
    changes : mapping of str to value
        Places as findings name them, counted from 1 (``"result[2].pre.sd"``), with the new
        value; None takes the key out; an index one past the last appends.

    Raises
    ------
    RecordError
        If the file is not a record, or would not be one after the change; it stays as it was.
    UsageError
        If a place is not there, or the file cannot be written.
    """
    path = Path(path)
    with writing_lock(library_of(path)):
        text = edited(read_text(path, file=path.name), changes, file=path.name)
        validate(parse(text, file=path.name), model_for(path), file=path.name)
        place_files({path: text.encode("utf-8")}, replace=(path,))


def edited(text: str, changes: Mapping[str, Any], *, file: str) -> str:
    """The text with the changes made; see `edit_record`."""
    wanted = copy.deepcopy(parse(text, file=file))
    try:
        document = tomlkit.parse(text)
        for place, value in changes.items():
            value = _plain(value)
            _set(wanted, _steps(place), value, place, styled=False)
            _set(document, _steps(place), value, place, styled=True)
        new_text = tomlkit.dumps(document)
    except TOMLKitError as error:
        raise fault(file, "", "cannot-edit", f"cannot be changed in place: {error}") from error
    # The writer's word is not taken for it: what a reader will see must be what was asked.
    if parse(new_text, file=file) != wanted:
        raise fault(file, "", "cannot-edit", "cannot be changed in place; edit it by hand")
    return new_text


def model_for(path: Path) -> type[Record]:
    """What kind of record a file holds, by its name and folder."""
    if path.name == "vocabulary.toml":
        return Vocabulary
    return _MODELS.get(path.resolve().parent.name, Study)


def _steps(place: str) -> list[str | int]:
    steps: list[str | int] = []
    for part in place.split("."):
        match = _STEP.fullmatch(part)
        if match is None or match[2] == "0":
            raise UsageError(f'expected a place such as "result[2].pre.sd", found {place!r}')
        steps.append(match[1])
        if match[2]:
            steps.append(int(match[2]) - 1)
    return steps


def _set(target: Any, steps: list[str | int], value: Any, place: str, *, styled: bool) -> None:
    for depth, step in enumerate(steps[:-1]):
        if isinstance(step, str) and hasattr(target, "keys") and step not in target:
            follows = steps[depth + 1]
            with _before_trailing_comments(target):
                target[step] = _new([] if isinstance(follows, int) else {}, depth, styled)
        target = _step_into(target, step, place)
    last = steps[-1]
    if isinstance(target, list):
        _set_in_list(target, last, value, place, styled)
    elif not hasattr(target, "keys") or isinstance(last, int):
        raise UsageError(f"there is no {place!r} in this record")
    elif value is not None:
        with _before_trailing_comments(target if last not in target else None):
            target[last] = _new(value, len(steps) - 1, styled)
    elif last in target:
        del target[last]
    else:
        raise UsageError(f"there is no {place!r} in this record")


@contextmanager
def _before_trailing_comments(table: Any, follower: Any = None) -> Iterator[None]:
    """Keep what ends a styled table, such as a comment on the next heading, at its end."""
    trailing = []
    if isinstance(table, Table):
        body = table.value.body
        while body and body[-1][0] is None:
            trailing.append(body.pop())
    if isinstance(follower, Table) and isinstance(table, Table):
        table.add(tomlkit.nl())
    yield
    end = follower if isinstance(follower, Table) else table
    if trailing:
        end.value.body.extend(reversed(trailing))


def _step_into(target: Any, step: str | int, place: str) -> Any:
    try:
        return target[step]
    except (LookupError, TypeError) as error:
        raise UsageError(f"there is no {place!r} in this record") from error


def _set_in_list(target: Any, index: str | int, value: Any, place: str, styled: bool) -> None:
    if not isinstance(index, int) or index > len(target) - (value is None):
        raise UsageError(f"there is no {place!r} in this record")
    if value is None:
        del target[index]
        return
    item = _new(value, 0 if isinstance(target, AoT) else 1, styled)
    if index == len(target):
        with _before_trailing_comments(target[-1] if target else None, item):
            target.append(item)
    else:
        target[index] = item


def _new(value: Any, depth: int, styled: bool) -> Any:
    """The value as it is, or as a piece of styled text: headings at the top, else one line."""
    if not styled:
        return value
    if depth == 0 and isinstance(value, dict):
        return _table(value)
    if depth == 0 and isinstance(value, list) and all(isinstance(v, dict) for v in value):
        items = tomlkit.aot()
        for part in value:
            items.append(_table(part))
        return items
    return tomlkit.value(toml_value(value))


def _table(values: dict[str, Any]) -> Item:
    table = tomlkit.table()
    for key, part in values.items():
        table.append(key, tomlkit.value(toml_value(part)))
    return table


def _plain(value: Any) -> Any:
    if isinstance(value, Record):
        return {key: _plain(part) for key, part in set_values(value)}
    if isinstance(value, Mapping):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    return value
