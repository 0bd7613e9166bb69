"""Threshold words for a difference between two programmes, always beside the table they are from.

Only tables made for strength and conditioning. A word is never a headline: what is small on
average can be large for a purpose.
"""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.errors import DesignError


@dataclass(frozen=True, slots=True)
class ThresholdTable:
    """Cut-points for standardised differences.

    Attributes
    ----------
    name : str
        Author and year, to print beside the word.
    cuts : tuple of (float, str)
        Lower edge and word, rising.
    below : str
        The word under the first edge.
    about : str
        What the table is made of, and how well it is sourced.
    """

    name: str
    cuts: tuple[tuple[float, str], ...]
    below: str
    about: str

    def word(self, effect: float) -> str:
        """The word for a difference, whichever way it points."""
        if effect != effect:
            raise DesignError("effect must be a number; it is NaN")
        found = self.below
        for edge, word in self.cuts:
            if abs(effect) >= edge:
                found = word
        return found


# Quartiles of 3,874 differences between programmes in 417 studies; read in the abstract of the
# preprint, doi 10.51224/SRXIV.202.
BETWEEN_PROGRAMMES = ThresholdTable(
    "Swinton & Murphy 2022",
    ((0.14, "small"), (0.29, "medium"), (0.51, "large")),
    "below small",
    "differences between programmes in strength and conditioning, 417 studies",
)
