"""A short fingerprint of the records that count, blind to comments, order and white space."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable

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
    parts = sorted(
        json.dumps(_content(record), sort_keys=True, ensure_ascii=False) for record in records
    )
    joined = "\n".join([settings, *parts])
    return hashlib.sha256(joined.encode()).hexdigest()[:LENGTH]


def _content(record: Record) -> dict:
    return record.model_dump(mode="json", by_alias=True, exclude_none=True)
