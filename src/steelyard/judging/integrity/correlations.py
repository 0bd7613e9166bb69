"""SDs before, after and of change that no correlation can tie together."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import sqrt

from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import HAIR, Rounded, told


def correlation_span(pre: Rounded, post: Rounded, change: Rounded) -> Rounded:
    """Pre-post correlation implied by three SDs, with what their rounding leaves open.

    r = (s₁² + s₂² − s_Δ²)/(2·s₁·s₂) [1]_. r falls as s_Δ grows; in s₁ and s₂ its highest value
    lies at a corner of the box of SDs, its lowest there or where s₁² = s₂² − s_Δ² (or the
    other way round).

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.8.
    """

    def r(one: float, other: float, of_change: float) -> float:
        return (one**2 + other**2 - of_change**2) / (2 * one * other)

    floor = HAIR * max(pre.high, post.high)
    ones = [max(pre.low, floor), pre.high]
    others = [max(post.low, floor), post.high]
    corners = list(product(ones, others))
    for side, across, swap in ((ones, others, False), (others, ones, True)):
        for fixed in across:
            turning = fixed**2 - change.high**2
            if turning > 0 and side[0] < sqrt(turning) < side[1]:
                corners.append((fixed, sqrt(turning)) if swap else (sqrt(turning), fixed))
    low = min(r(one, other, change.high) for one, other in corners)
    high = max(r(one, other, max(change.low, 0.0)) for one, other in corners)
    return Rounded(r(pre.value, post.value, change.value), low, high)


def correlation_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """|r| > 1 from three SDs, and a printed r that the SDs beside it do not give.

    Three SDs are impossible when none of the values that round to them obeys
    |s₁ − s₂| ≤ s_Δ ≤ s₁ + s₂, which is |r| ≤ 1 written without a division.
    """
    for row in laid.rows:
        cells = (row.pre, row.post, row.change)
        if any(cell is None or cell.sd is None for cell in cells):
            continue
        yield from _judged(laid.study.id, row, *(cell.sd for cell in cells))


def _judged(
    study: str, row: Row, pre: Rounded, post: Rounded, change: Rounded
) -> Iterator[IntegrityFinding]:
    r = correlation_span(pre, post, change)
    sums = (
        f"({told(pre.value)}² + {told(post.value)}² − {told(change.value)}²) / "
        f"(2 × {told(pre.value)} × {told(post.value)}) = {told(r.value)}"
    )
    place = {"outcome": row.outcome.id, "arithmetic": sums}
    nearest_gap = max(0.0, pre.low - post.high, post.low - pre.high)
    slack = HAIR * (pre.high + post.high + change.high)
    never = nearest_gap > change.high + slack or change.low > pre.high + post.high + slack
    at_face = abs(r.value) > 1 + HAIR
    path = row.change.sd_path
    hint = _hint(row, pre, post, change)
    if never:
        message = (
            f"the SDs before {told(pre.value)}, after {told(post.value)} and of change "
            f"{told(change.value)} would need a pre-post correlation of {told(r.value)}, and "
            f"none lies beyond ±1, however they were rounded: {hint}"
        )
        sharp = all(cell.sharp for cell in (row.pre, row.post, row.change))
        yield found(
            study,
            path,
            "impossible-correlation",
            message,
            severity="warning",
            suspect=sharp,
            **place,
        )
    elif at_face:
        message = (
            f"the SDs before {told(pre.value)}, after {told(post.value)} and of change "
            f"{told(change.value)} give a pre-post correlation of {told(r.value)}, beyond ±1; "
            "their rounding can explain it: use more decimals if the paper has them"
        )
        yield found(study, path, "correlation-beyond-one", message, **place)
    elif row.result.r is not None:
        printed = Rounded.printed(row.result.r)
        if printed is not None and not printed.meets(r):
            message = (
                f"the printed pre-post correlation {row.result.r} is not the "
                f"{told(r.value)} (between {told(r.low)} and {told(r.high)} with rounding) that "
                "the three SDs give: check which of the four was typed or labelled wrongly"
            )
            yield found(
                study, f"{row.path}.r", "correlation-mismatch", message, severity="warning", **place
            )


def _hint(row: Row, pre: Rounded, post: Rounded, change: Rounded) -> str:
    """What the impossible SD of change may be instead."""
    printed = row.change.spread.sd
    if row.n is not None and printed is not None:
        as_sd = change.value * sqrt(row.n)
        if abs(pre.value - post.value) <= as_sd <= 1.5 * max(pre.value, post.value):
            return (
                f"if {printed} is a standard error, the SD of change is {told(as_sd)}: "
                f"write se = {printed}"
            )
    return "check whether one of them is a standard error or half an interval"
