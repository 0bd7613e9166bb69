"""The SD of change that two SDs allow, for a reported or any plausible pre-post correlation."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import sqrt

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.reading import Row
from steelyard.judging.integrity.rounded import Rounded, told
from steelyard.reporting.default_correlation import default_correlation, is_resting


@dataclass(frozen=True, slots=True)
class ChangeSd:
    """An SD of change with its span.

    Attributes
    ----------
    sd : Rounded
        Raw units.
    words : str
        Where it comes from, for example ``r 0.5 to 0.9875``; empty where it is printed.
    sums : str
        The SD worked out, where it is not printed.
    """

    sd: Rounded
    words: str
    sums: str = ""


def plausible_correlation(row: Row) -> tuple[Rounded, bool]:
    """Pre-post r of one arm as printed, else the span outside which none was seen.

    Returns
    -------
    tuple of (Rounded, bool)
        The span, and whether it is the paper's.
    """
    printed = Rounded.printed(row.result.r)
    if printed is not None:
        return Rounded(printed.value, max(printed.low, -1.0), min(printed.high, 1.0)), True
    construct = row.outcome.construct_id
    default = default_correlation(construct, rests=is_resting(row.arm))
    known = limits.CHANGE_LIMITS.get(construct)
    highest = max(default.high, known.telling if known else limits.R_HIGHEST)
    return Rounded(default.value, default.low - limits.R_OPEN, highest), False


def change_sd(row: Row) -> ChangeSd | None:
    """Printed, else √(s₁² + s₂² − 2·r·s₁·s₂) over every rounding and every plausible r."""
    if row.change is not None and row.change.sd is not None:
        return ChangeSd(row.change.sd, "")
    if row.pre is None or row.post is None or row.pre.sd is None or row.post.sd is None:
        return None
    r, printed = plausible_correlation(row)
    words = f"r {told(r.value)}" if printed else f"r {told(r.low)} to {r.high:.4g}"
    sd = sd_of_change(row.pre.sd, row.post.sd, r)
    one, other = told(row.pre.sd.value), told(row.post.sd.value)
    sums = f"√({one}² + {other}² − 2 × {told(r.value)} × {one} × {other}) = {told(sd.value)}"
    return ChangeSd(sd, words, sums)


def sd_of_change(pre: Rounded, post: Rounded, r: Rounded) -> Rounded:
    """√(s₁² + s₂² − 2·r·s₁·s₂), lowest for the highest r and highest for the lowest.

    Its lowest value lies at a corner of the box of SDs or where s₁ = r·s₂, or the other way
    round.
    """

    def sd(one: float, other: float, correlation: float) -> float:
        return sqrt(max(one**2 + other**2 - 2 * correlation * one * other, 0.0))

    corners = list(product((pre.low, pre.high), (post.low, post.high)))
    turning = [
        (r.high * fixed, fixed)
        for fixed, side in ((pre.low, post), (pre.high, post), (post.low, pre), (post.high, pre))
        if side.low < r.high * fixed < side.high
    ]
    low = min(sd(one, other, r.high) for one, other in [*corners, *turning])
    high = max(sd(one, other, r.low) for one, other in corners)
    return Rounded(sd(pre.value, post.value, r.value), low, high)
