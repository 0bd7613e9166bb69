"""As much of a record as can be used, where the whole fails validation."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import copy
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin

from pydantic import TypeAdapter, ValidationError

from steelyard.records.keys import nearest_keys, own_keys
from steelyard.records.model import Record, RuledRecord
from steelyard.records.toml_text import Unread
from steelyard.records.unsound import Unjudged, Unsound

Loc = tuple[str | int, ...]


class _Holds(NamedTuple):
    """What a field is made of, where that can be judged piece by piece."""

    how: Literal["one", "many", "named"]
    record: type[Record] | None


def sound_part(values: Any, model: type[Record]) -> Any:
    """A record in which `Unsound` stands for whatever cannot be used.

    Parameters
    ----------
    values : object
        Plain values, as in a file.
    model : type
        Of the record.

    Returns
    -------
    Record or Unsound
        Of that model in any case that `values` is a table of keys; itself where it is sound.
    """
    if not isinstance(values, Mapping):
        return Unsound(values)
    try:
        return model.model_validate(values)
    except (ValidationError, Unjudged):
        pass
    own, strays = own_keys(model), _stray_keys(values, model)
    more = _listed_elsewhere(values, model)
    parts: dict[str, Any] = {}
    given: set[str] = set()
    for name, field in model.model_fields.items():
        key = field.alias or name
        key = key if key in values or name not in values else name
        if key in values:
            given.add(name)
            parts[name] = _piece(values[key], model, name)
            if key in more and isinstance(parts[name], tuple):
                parts[name] = (*parts[name], Unsound())
            continue
        holds = _holds(field.annotation)
        inside = own_keys(holds.record) if holds is not None and holds.record else set()
        here = values.keys() - own
        if key in strays or here & inside:
            parts[name] = Unsound(stray=True)
        elif field.is_required():
            parts[name] = Unsound()
    return model.model_construct(given, **parts)


def broken_rules(part: Any, loc: Loc = ()) -> Iterator[tuple[Loc, str, str]]:
    """Every rule over several keys that a record, or a part of it at any depth, breaks."""
    if isinstance(part, tuple | list):
        for index, each in enumerate(part):
            yield from broken_rules(each, (*loc, index))
    elif isinstance(part, dict):
        for key, each in part.items():
            yield from broken_rules(each, (*loc, key))
    elif isinstance(part, Record):
        for name, field in type(part).model_fields.items():
            yield from broken_rules(getattr(part, name), (*loc, field.alias or name))
        if isinstance(part, RuledRecord):
            yield from _own_broken_rules(part, loc)


def _own_broken_rules(part: RuledRecord, loc: Loc) -> Iterator[tuple[Loc, str, str]]:
    rules = iter(part.rules())
    while True:
        try:
            found = list(next(rules))
        except StopIteration:
            return
        except Unjudged:
            continue
        yield from (((*loc, *where), rule, message) for where, rule, message in found)


def is_stray(part: Any, loc: Loc) -> bool:
    """Whether a place is empty only because its key is misspelt or stands elsewhere."""
    for step in loc:
        if isinstance(part, Record):
            fields = type(part).model_fields.items()
            name = next((name for name, field in fields if step in (name, field.alias)), None)
            part = getattr(part, name, None) if name else None
        elif isinstance(part, tuple | list) and isinstance(step, int):
            part = part[step] if step < len(part) else None
        elif isinstance(part, dict):
            part = part.get(step)
    return isinstance(part, Unsound) and part.stray


def _piece(value: Any, model: type[Record], name: str) -> Any:
    """One field: whole where it is sound, else piece by piece as far as it has pieces."""
    try:
        return _field(model, name).validate_python(value)
    except (ValidationError, Unjudged):
        pass
    holds = _holds(model.model_fields[name].annotation)
    if holds is None:
        return Unsound(value)
    if holds.how == "many" and isinstance(value, list | tuple) and value:
        return tuple(_each(each, holds, model, name) for each in value)
    if holds.how == "named" and isinstance(value, Mapping):
        return {key: _each(each, holds, model, name) for key, each in value.items()}
    if holds.how == "one" and isinstance(value, Mapping):
        return sound_part(value, holds.record)
    return Unsound(value)


def _each(value: Any, holds: _Holds, model: type[Record], name: str) -> Any:
    if holds.record is not None:
        return sound_part(value, holds.record)
    try:
        return _element(model, name).validate_python(value)
    except (ValidationError, Unjudged):
        return Unsound(value)


def _stray_keys(values: Mapping[str, Any], model: type[Record]) -> set[str]:
    """Keys that a table may lack only because they are misspelt in it, or stand below it."""
    own = own_keys(model)
    absent = own - values.keys()
    strays: set[str] = set()
    for key in values.keys() - own:
        near = nearest_keys(str(key), own)
        if isinstance(values[key], Unread):
            # What is left of a torn line says little of its key.
            strays |= absent
        elif near:
            strays |= {*near[:1]} & absent
        else:
            strays |= {each for each in absent if _fits(values[key], model, each)}
    return strays | {key for key in _unknown_below(values, model) if key in own}


def _fits(value: Any, model: type[Record], key: str) -> bool:
    """Whether a value could stand under a key."""
    fields = model.model_fields.items()
    name = next(name for name, field in fields if key == (field.alias or name))
    try:
        _field(model, name).validate_python(value)
    except (ValidationError, Unjudged):
        return False
    return True


def _listed_elsewhere(values: Mapping[str, Any], model: type[Record]) -> set[str]:
    """Keys of lists of which a part stands under a misspelt key."""
    own = own_keys(model)
    tables = [key for key in values.keys() - own if isinstance(values[key], Mapping | list)]
    return {near for key in tables for near in nearest_keys(str(key), own)[:1]}


def _unknown_below(values: Mapping[str, Any], model: type[Record]) -> Iterator[str]:
    """Keys that no table below this one knows at the place where they stand."""
    for name, field in model.model_fields.items():
        holds = _holds(field.annotation)
        value = values.get(field.alias or name, values.get(name))
        if holds is None or holds.record is None or value is None:
            continue
        tables = [value]
        if holds.how == "many":
            tables = list(value) if isinstance(value, list | tuple) else []
        elif holds.how == "named":
            tables = list(value.values()) if isinstance(value, Mapping) else []
        for table in tables:
            if isinstance(table, Mapping):
                yield from table.keys() - own_keys(holds.record)
                yield from _unknown_below(table, holds.record)


@cache
def _field(model: type[Record], name: str) -> TypeAdapter:
    field = copy(model.model_fields[name])
    field.alias = field.validation_alias = field.serialization_alias = None
    return TypeAdapter(Annotated[field.annotation, field])


@cache
def _element(model: type[Record], name: str) -> TypeAdapter:
    return TypeAdapter(_listed(model.model_fields[name].annotation))


def _holds(annotation: Any) -> _Holds | None:
    """How a field is made up; None where it has no pieces that can be judged one by one."""
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return _Holds("one", annotation)
    origin, inside = get_origin(annotation), get_args(annotation)
    if origin is tuple and inside[1:] == (Ellipsis,):
        inner = _holds(inside[0])
        return _Holds("many", inner.record if inner is not None else None)
    if origin is dict:
        inner = _holds(inside[1])
        return _Holds("named", inner.record) if inner is not None else None
    if origin is Annotated:
        return _holds(inside[0])
    if origin in (Union, UnionType):
        return next((held for each in inside if (held := _holds(each)) is not None), None)
    return None


def _listed(annotation: Any) -> Any:
    """What a tuple of any length holds."""
    origin, inside = get_origin(annotation), get_args(annotation)
    if origin is tuple and inside[1:] == (Ellipsis,):
        return inside[0]
    found = (_listed(each) for each in (inside[:1] if origin is Annotated else inside))
    return next((each for each in found if each is not None), None)
