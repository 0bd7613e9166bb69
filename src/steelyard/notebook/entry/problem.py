"""What is wrong with one field, or still missing from it, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Problem:
    """One message for one field.

    Attributes
    ----------
    field : str
        For example ``source.issued``, ``arm.a1.n``, ``cell.o1.a2.post@12``; empty for the whole.
    message : str
    kind : str
        ``bad`` (cannot be used), ``needed`` (blank, and a study is none without it), ``doubt``
        (can be used, but the checks ask about it) or ``hint``.
    """

    field: str
    message: str
    kind: Literal["bad", "needed", "doubt", "hint"] = "bad"
