"""Numbers as the words that stand in a chart."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from steelyard.effects import formed
from steelyard.show import interval, number

NOT_COUNTED_WORDS = "shown, not counted"

# What may take a study out of an answer, or turn it; all else is told quietly.
_GRAVE = frozenset(
    (
        formed.RETRACTED,
        formed.SUSPECT,
        formed.UNRANDOMISED,
        formed.CLUSTERS_IGNORED,
        formed.SCALE_OPEN,
        NOT_COUNTED_WORDS,
    )
)
# The assumed r is one of scores before and after, or of two conditions in the same people.
_PLAIN = {
    formed.ASSUMED_R: "before–after or paired correlation assumed",
    formed.R_SETS_SIZE: "the assumed correlation sets the size",
    formed.SCALE_OPEN: "which SD it is in is not printed",
    formed.POST_ONLY: "scores after training only",
    formed.BOUNDED_P: "p printed only as a bound",
    formed.HALF_ADDED: "nobody in one cell: one half added",
}


@dataclass(frozen=True, slots=True)
class FlagWords:
    """A row's flags in plain words, parted by how much they matter.

    Attributes
    ----------
    grave : str
        What may take the study out of the answer; empty if there is nothing.
    quiet : str
        What else a reader should know; empty if there is nothing.
    """

    grave: str
    quiet: str


def part_flags(flags: str) -> FlagWords:
    """Part flags, separated by ``"; "``, into grave and quiet ones; unknown ones are quiet."""
    names = [flag for flag in flags.split("; ") if flag]
    return FlagWords(
        flags_in_words("; ".join(flag for flag in names if flag in _GRAVE)),
        flags_in_words("; ".join(flag for flag in names if flag not in _GRAVE)),
    )


def flags_in_words(flags: str) -> str:
    """Write flags in a coach's words, in their order; unknown ones as they are."""
    return "; ".join(_PLAIN.get(flag, flag) for flag in flags.split("; "))


def estimate_in_words(
    estimate: float, low: float, high: float, *, decimals: int, signed: bool
) -> str:
    """Write ``+0.31 (+0.12 to +0.50)``, or the estimate alone where it has no interval."""
    centre = number(estimate, decimals=decimals, sign=signed)
    if not (isfinite(low) and isfinite(high)):
        return centre
    return f"{centre} ({interval(low, high, decimals=decimals, sign=signed)})"


def share_in_words(percent: float) -> str:
    """Write a share of the weight: whole percent from ten on, one decimal below."""
    if 0 < percent < 0.1:
        return "under 0.1\u00a0%"
    return f"{number(percent, decimals=0 if percent >= 9.95 else 1)}\u00a0%"


def unbroken(words: str) -> str:
    """Keep the words between two dots together when the text is wrapped."""
    return " · ".join(part.replace(" ", "\u00a0") for part in words.split(" · "))
