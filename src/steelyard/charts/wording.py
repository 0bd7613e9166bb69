"""Numbers as the words that stand in a chart."""

from __future__ import annotations

from math import isfinite

from steelyard.show import interval, number


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
        return "under 0.1 %"
    return f"{number(percent, decimals=0 if percent >= 9.95 else 1)} %"


def unbroken(words: str) -> str:
    """Keep the words between two dots together when the text is wrapped."""
    return " · ".join(part.replace(" ", "\u00a0") for part in words.split(" · "))
