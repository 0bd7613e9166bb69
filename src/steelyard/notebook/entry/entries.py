"""What a form says of a list in a record: overrulings, comparisons."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(slots=True)
class Entries:
    """The entries of one list.

    Attributes
    ----------
    values : list of dict
        As a record keeps them.
    where : dict
        Fields of the form by place in the record.
    ids : dict
        By what the record knows each, by the form's keys.
    """

    values: list[dict[str, Any]] = field(default_factory=list)
    where: dict[str, str] = field(default_factory=dict)
    ids: dict[str, str] = field(default_factory=dict)
