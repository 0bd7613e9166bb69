"""Numbers with no more digits than their interval supports."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, isfinite, log10

FARTHEST = 2


@dataclass(frozen=True, slots=True)
class Rounded:
    """Numbers rounded to one step.

    Attributes
    ----------
    values : tuple of float
    decimals : int
        To write them with; 0 where the step is 1 or more.
    step : float
    """

    values: tuple[float, ...]
    decimals: int
    step: float


def rounded_to_support(*values: float, low: float, high: float) -> Rounded:
    """Round to a power of ten that half the interval's width holds at least one and a half times.

    Two ends of one interval then keep one or two figures that mean something. The step is made
    finer, twice at most, where an end that is not zero would be written as zero: rounding must
    not move an end onto the line that decides what may be said.

    Parameters
    ----------
    *values : float
        What to round, on the scale of `low` and `high`.
    low, high : float
        The interval. One without width is given three figures.
    """
    half = abs(high - low) / 2
    size = max(abs(low), abs(high))
    if not isfinite(half) or not isfinite(size) or size == 0:
        return Rounded(tuple(values), 0, 1.0)
    # A step is at most two thirds of half the width, so that the two ends stay apart.
    power = floor(log10(half / 1.5)) if half > 0 else floor(log10(size)) - 2
    for finer in range(FARTHEST + 1):
        step = 10.0 ** (power - finer)
        if all(round(end / step) != 0 or abs(end) < half / 1000 for end in (low, high)):
            break
    decimals = max(0, -round(log10(step)))
    return Rounded(
        tuple(round(round(value / step) * step, decimals + 2) for value in values), decimals, step
    )


def out_of_100(value: float) -> int:
    """People out of 100: whole, and 0 or 100 only where that is meant exactly."""
    if value <= 0 or value >= 100:
        return 0 if value <= 0 else 100
    return min(max(round(value), 1), 99)
