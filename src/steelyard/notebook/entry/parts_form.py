"""A cell printed for parts of a group, as typed: all of it text."""

from __future__ import annotations

from dataclasses import dataclass, field

PART = ("label", "n", "mean", "sd")
"""What is typed of each part; under ``sd`` its spread, in whatever style."""

PART_STYLES = ("sd", "se", "ci95", "ci90", "ci99")
"""How a paper may print the spread of a part."""


@dataclass
class PartsForm:
    """The parts of one cell.

    Attributes
    ----------
    key : str
        The form's own name.
    place : str
        Which cell, as ``arm key|column``; empty where nobody chose.
    rows : list of dict
        With keys of `PART`.
    style : str
        One of `PART_STYLES`: how the spreads of the rows are printed.
    """

    key: str
    place: str = ""
    rows: list[dict[str, str]] = field(default_factory=list)
    style: str = "sd"

    def __post_init__(self) -> None:
        if self.style not in PART_STYLES:
            self.style = "sd"

    def typed(self) -> list[tuple[int, dict[str, str]]]:
        """Rows with something in them, each with its number and without blank boxes."""
        found = []
        for number, each in enumerate(self.rows, 1):
            said = {key: text for key in PART if (text := each.get(key, "").strip())}
            if said:
                found.append((number, said))
        return found
