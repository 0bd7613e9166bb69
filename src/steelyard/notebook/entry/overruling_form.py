"""A judgement that a person puts in the place of the rules', as typed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass
class OverrulingForm:
    """A person's judgement of one domain in place of the one the rules give.

    Attributes
    ----------
    key, id : str
        The form's own name, and by what the record knows it once it has it.
    domain, concern, reason, by, date : str
    outcome : str
        The form's key; empty for all outcomes.
    """

    key: str
    id: str = ""
    domain: str = ""
    concern: str = ""
    reason: str = ""
    by: str = ""
    date: str = ""
    outcome: str = ""
