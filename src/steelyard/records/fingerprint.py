"""A short fingerprint of the records that count, blind to comments, order and white space."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import Any

from steelyard.records.model import Record

LENGTH = 12


def fingerprint(records: Iterable[Record], *, settings: str = "") -> str:
    """Hash the content of records; what stands at its default does not count.

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
    parts = sorted(
        json.dumps(_content(record), sort_keys=True, ensure_ascii=False) for record in records
    )
    joined = "\n".join([settings, *parts])
    return hashlib.sha256(joined.encode()).hexdigest()[:LENGTH]


def _content(record: Record) -> dict:
    return _ordered(
        record.model_dump(mode="json", by_alias=True, exclude_none=True, exclude_defaults=True)
    )


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
