"""A short fingerprint of the records that count, blind to comments, order and white space."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import Any

from steelyard.records.model import Record

LENGTH = 12


def fingerprint(records: Iterable[Record], *, settings: str = "") -> str:
    """Hash the content of records.

    Parameters
    ----------
    records : iterable of Record
        Any mixture; each is taken by what it says, its text form does not matter.
    settings : str
        What else the answer depends on.

    Returns
    -------
    str
        Twelve hexadecimal digits of a SHA-256.
    """
    return fingerprint_of(map(content, records), settings=settings)


def fingerprint_of(contents: Iterable[str], *, settings: str = "") -> str:
    """The same, from contents as `content` gives them."""
    joined = "\n".join([settings, *sorted(contents)])
    return hashlib.sha256(joined.encode()).hexdigest()[:LENGTH]


def content(record: Record) -> str:
    """What a record says, as one line that does not hang on how it is laid out."""
    values = record.model_dump(mode="json", by_alias=True, exclude_none=True)
    return json.dumps(_ordered(values), sort_keys=True, ensure_ascii=False)


def _ordered(value: Any) -> Any:
    """Tables of one kind (arms, results) in a fixed order; what is empty says nothing."""
    if isinstance(value, dict):
        parts = {key: _ordered(part) for key, part in value.items()}
        for key in _ANY_ORDER & parts.keys():
            if isinstance(parts[key], list):
                parts[key].sort(key=lambda part: json.dumps(part, sort_keys=True))
        return {key: part for key, part in parts.items() if part not in ({}, [])}
    return [_ordered(part) for part in value] if isinstance(value, list) else value


_ANY_ORDER = frozenset({"arm", "outcome", "result", "comparison", "appraisal_overruling"})
