"""The keys of a record and where in it each belongs."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from functools import cache, lru_cache
from typing import Any, get_args, get_origin

from steelyard.records.lost_headers import TOP, Table
from steelyard.records.model import Record

Place = tuple[str, ...]
_MOST_PLACES = 4
# Other names for what a key holds.
_ALSO_CALLED = {
    "after": "post",
    "average": "mean",
    "avg": "mean",
    "baseline": "pre",
    "before": "pre",
    "follow_up": "post",
    "followup": "post",
    "m": "mean",
    "mdn": "median",
    "name": "label",
    "participants": "n",
    "people": "n",
    "post_test": "post",
    "posttest": "post",
    "pre_test": "pre",
    "pretest": "pre",
    "sample_size": "n",
    "size": "n",
    "standard_deviation": "sd",
    "standard_error": "se",
    "std": "sd",
    "stdev": "sd",
    "weeks": "week",
    "year": "issued",
}


def unknown_key(model: type[Record], loc: tuple[str | int, ...]) -> str:
    """What to say of a key that stands where it is not known.

    Parameters
    ----------
    model : type
        Of the whole record.
    loc : tuple
        Keys and indices from the record down to the key.
    """
    *above, key = (part for part in loc if isinstance(part, str))
    places = _places(model)
    here = own_keys(_model_at(model, tuple(above)))
    if key in places:
        return f"unknown key here: {_belongs(key, places[key])}"
    near = nearest_keys(key, here)
    if near:
        return f"unknown key; nearest known: {near[0]}"
    # From elsewhere only what is nearly the same word.
    far = difflib.get_close_matches(key, sorted(places), n=1, cutoff=0.8)
    return (
        f"unknown key; nearest known: {_belongs(far[0], places[far[0]])}" if far else "unknown key"
    )


def _belongs(key: str, places: tuple[Place, ...]) -> str:
    if len(places) > _MOST_PLACES:
        return f"{key} belongs in {', '.join(map(_named, places[:_MOST_PLACES]))} or others"
    if len(places) > 1:
        named = [_named(place) for place in places]
        return f"{key} belongs in {', '.join(named[:-1])} or {named[-1]}"
    (place,) = places
    if not place:
        return f"{key} belongs at the top of the file, above every [table]"
    if any(part.startswith("[") for part in place):
        return f"{key} belongs in {_named(place)}"
    return f"{key} belongs in {_named(place)}, as in {_named(place)} = {{ {key} = … }}"


def _named(place: Place) -> str:
    """``result.pre``; ``[[result]]`` for a list of tables; the top for none."""
    if not place:
        return "the top of the file"
    if len(place) == 1:
        return place[0]
    return ".".join(part.strip("[]") for part in place)


@cache
def _places(model: type[Record]) -> dict[str, tuple[Place, ...]]:
    """Every key of a record, with the tables it may stand in."""
    found: dict[str, list[Place]] = {}
    for place, key in _walk(model, ()):
        found.setdefault(key, []).append(place)
    return {key: tuple(places) for key, places in found.items()}


def _walk(model: type[Record], place: Place) -> Iterator[tuple[Place, str]]:
    for name, field in model.model_fields.items():
        key = field.alias or name
        yield place, key
        inner, many = _inner(field.annotation)
        if inner is not None:
            yield from _walk(inner, (*place, f"[[{key}]]" if many else key))


@cache
def own_keys(model: type[Record] | None) -> frozenset[str]:
    """The keys a table may hold."""
    if model is None:
        return frozenset()
    return frozenset(field.alias or name for name, field in model.model_fields.items())


@cache
def tables_of(model: type[Record]) -> dict[str, Table]:
    """The tables of a record, and at `TOP` the record itself."""
    found = {TOP: _table(model)}
    for name, field in model.model_fields.items():
        inner, many = _inner(field.annotation)
        if inner is None and get_origin(field.annotation) is dict:
            found[field.alias or name] = Table(frozenset(), frozenset())
        if inner is not None:
            named = get_origin(field.annotation) is dict
            found[field.alias or name] = _table(inner, many=many, named=named)
    return found


def _table(model: type[Record], *, many: bool = False, named: bool = False) -> Table:
    fields = model.model_fields.items()
    required = frozenset(field.alias or name for name, field in fields if field.is_required())
    return Table(own_keys(model), required, many, named)


def nearest_keys(key: str, known: Iterable[str]) -> list[str]:
    """What an unknown key may have been meant as, the nearest first; at most a few."""
    return list(_nearest(key.casefold(), frozenset(known)))


@lru_cache(maxsize=1024)
def _nearest(key: str, known: frozenset[str]) -> tuple[str, ...]:
    words = sorted(known)
    named = [each for each in words if each.casefold() == key]
    if (other := _ALSO_CALLED.get(key.replace("-", "_").replace(" ", "_"))) in known:
        named.append(other)
    near = difflib.get_close_matches(key, words, n=1, cutoff=0.6)
    begun = [each for each in words if each.startswith(f"{key}_")]
    return tuple(dict.fromkeys([*named, *near, *begun]))


def _model_at(model: type[Record] | None, above: Place) -> type[Record] | None:
    """The record that stands below some keys; names of alternatives among them are passed over."""
    for part in above:
        fields = {field.alias or name: field for name, field in model.model_fields.items()}
        if part in fields:
            inner, _ = _inner(fields[part].annotation)
            if inner is None:
                return None
            model = inner
    return model


def _inner(annotation: Any) -> tuple[type[Record] | None, bool]:
    """The record a field holds, and whether it holds several of them."""
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return annotation, False
    many = get_origin(annotation) in (tuple, list)
    for part in get_args(annotation):
        inner, more = _inner(part)
        if inner is not None:
            return inner, many or more
    return None, False
