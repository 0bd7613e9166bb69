"""A paper's own comparison as typed: all of it text."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class ComparisonForm:
    """One arm against another as the paper prints it.

    Attributes
    ----------
    key, id : str
        The form's own name, and by what the record knows it once it has it.
    outcome, intervention, comparator : str
        The form's keys.
    week, n_intervention, n_comparator : str
        Blank takes the outcome's week and the arms' people.
    effects : list of dict
        Each with ``kind``, ``style`` and ``text``.
    over : str
        Which SD a standardised difference was divided by.
    """

    key: str
    id: str = ""
    outcome: str = ""
    intervention: str = ""
    comparator: str = ""
    week: str = ""
    n_intervention: str = ""
    n_comparator: str = ""
    effects: list[dict[str, str]] = field(default_factory=list)
    over: str = ""
    t: str = ""
    f: str = ""
    p: str = ""
    of: str = ""
    adjusted: str = ""
    clusters_allowed_for: str = ""
    where: str = ""
    read_off: str = ""
    checked_by: str = ""
