"""What else is wrong with a record that could not be read whole: its words and references.

A record is validated part by part, and only a sound one can be held against the vocabulary and
against itself. So that every fault of a file is told at once, this looks at the words of one
that failed, as they stand in the file.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from steelyard.errors import Finding
from steelyard.records.consistency import Found, found_word, part_of_study
from steelyard.records.vocabulary import Vocabulary

_IDENTIFIER = re.compile(r"[a-z0-9][a-z0-9-]{0,79}")
_ARM_KEYS = ("intervention", "comparator")


def unsound_study_findings(
    values: Mapping[str, Any], vocabulary: Vocabulary | None, *, file: str
) -> list[Finding]:
    """Faults in words, references and repeated ids of a study that failed validation.

    Parameters
    ----------
    values : mapping
        Plain values, as in the file.
    vocabulary : Vocabulary or None
        None where the library goes without.
    file : str
    """
    found = [*_repeated(values), *_references(values)]
    if vocabulary is not None:
        found += [
            each
            for path, kind, word in study_words_in(values)
            for each in found_word(path, kind, word, vocabulary.words(kind))
        ]
    return [Finding(file, path, severity, rule, message) for path, severity, rule, message in found]


def study_words_in(values: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Place, kind and id of every word of the vocabulary that a study's values use."""
    for index, outcome in _tables(values, "outcome"):
        for key, kind in (("construct", "construct"), ("site", "site")):
            if _is_identifier(outcome.get(key)):
                yield f"outcome[{index}].{key}", kind, outcome[key]
    for index, arm in _tables(values, "arm"):
        for tag in identifiers_in(arm.get("tags")):
            yield f"arm[{index}].tags", "tag", tag


def identifiers_in(value: Any) -> list[str]:
    """One id or a list of them, as it stands in a file; what is no id is left out."""
    listed = value if isinstance(value, list | tuple) else [value]
    return [each for each in listed if _is_identifier(each)]


def _repeated(values: Mapping[str, Any]) -> Iterator[Found]:
    for kind in ("arm", "outcome"):
        for part_id, times in Counter(_ids(values, kind)).items():
            if times > 1:
                message = f"expected each {kind} id once, found {part_id!r} {times} times"
                yield kind, "fault", "duplicate-id", message


def _references(values: Mapping[str, Any]) -> Iterator[Found]:
    known = {kind: set(_ids(values, kind)) for kind in ("arm", "outcome")}
    # An arm whose own id cannot be read may be the one that is meant.
    whole = {kind: 0 < _length(values, kind) == len(_ids(values, kind)) for kind in known}
    for part in ("result", "comparison"):
        named = [("outcome", "outcome")]
        named += [("arm", "arm")] if part == "result" else [(key, "arm") for key in _ARM_KEYS]
        for index, table in _tables(values, part):
            for key, kind in named:
                if whole[kind] and _is_identifier(table.get(key)):
                    yield from part_of_study(
                        f"{part}[{index}].{key}", kind, table[key], known[kind]
                    )


def _tables(values: Mapping[str, Any], key: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """The tables of a list, with their number from 1; anything else is left out."""
    listed = values.get(key)
    for index, table in enumerate(listed if isinstance(listed, list) else (), 1):
        if isinstance(table, dict):
            yield index, table


def _ids(values: Mapping[str, Any], key: str) -> list[str]:
    return [table["id"] for _, table in _tables(values, key) if _is_identifier(table.get("id"))]


def _length(values: Mapping[str, Any], key: str) -> int:
    listed = values.get(key)
    return len(listed) if isinstance(listed, list) else 0


def _is_identifier(value: Any) -> bool:
    return isinstance(value, str) and _IDENTIFIER.fullmatch(value) is not None
