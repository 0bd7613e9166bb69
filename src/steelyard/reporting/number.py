"""A number with where it came from: what was printed, the formula, what was assumed."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.errors import DesignError

TIERS = ("reported", "derived", "read-off-figure", "bounded", "imputed")
"""From firmest to weakest."""


@dataclass(frozen=True, slots=True)
class Number:
    """A value and how it was come by.

    Attributes
    ----------
    value : float
        In the unit of what was printed.
    tier : str
        ``reported`` as printed; ``derived`` by algebra or under a named distribution;
        ``read-off-figure``; ``bounded`` only known to be at most, or at least, this;
        ``imputed`` with a value from outside the paper.
    chain : tuple of str
        Steps in words, from the printed number on, for example
        ``("SE 7.9 × √18 = SD 33.5",)``.
    """

    value: float
    tier: str
    chain: tuple[str, ...]

    def __post_init__(self):
        if self.tier not in TIERS:
            raise DesignError(f"tier must be one of {', '.join(TIERS)}; got {self.tier!r}")

    @classmethod
    def printed(cls, value) -> Number:
        """A number as the paper prints it."""
        return cls(float(value), "reported", (f"printed {value}",))


def weakest_tier(*tiers: str) -> str:
    """The weakest of several tiers: a chain is as firm as its weakest link."""
    return max(tiers, key=TIERS.index)


def printed(value) -> str:
    """A number for a chain: four significant digits, no exponent for everyday sizes."""
    text = f"{float(value):.4g}"
    return text.replace("-", "−") if "e" not in text else text
