"""Spreads that contradict each other, stay the same, or change too much."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from math import sqrt

from scipy.special import ndtri, stdtrit

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Cell, Laid, Row
from steelyard.judging.integrity.rounded import HAIR, Rounded, told, usable
from steelyard.records.study import INTERVAL_KEYS
from steelyard.reporting.summary import lopsided


def spread_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """SD against SE and interval beside it; skewed medians; SD after against before; SDs alike."""
    for row in laid.rows:
        for cell in (row.pre if row.own_pre else None, row.post, row.change):
            if cell is not None:
                yield from _skewed(laid.study.id, row, cell)
            if cell is not None and cell.sharp:
                yield from _sd_against_se(laid.study.id, row, cell)
                yield from _interval(laid.study.id, row, cell)
        yield from _ratio(laid.study.id, row)
    yield from _all_alike(laid)


def _skewed(study: str, row: Row, cell: Cell) -> Iterator[IntegrityFinding]:
    """A median too far off the middle for a mean and SD to follow safely (Shi et al. 2023)."""
    judged = lopsided(cell.spread, n=row.n) if row.n is not None else None
    if judged is None:
        return
    measure, critical = told(judged.measure), told(judged.critical)
    yield found(
        study,
        f"{cell.path}.median",
        "skewed-median",
        f"{judged.message}: ask the authors for means, or see the answer without this outcome",
        outcome=row.outcome.id,
        arithmetic=f"|low + high − 2 × median| / (high − low) = {measure}, above {critical}",
    )


def _sd_against_se(study: str, row: Row, cell: Cell) -> Iterator[IntegrityFinding]:
    spread = cell.spread
    error = spread.reading_error
    sd, se = (Rounded.printed(each, reading_error=error) for each in (spread.sd, spread.se))
    if sd is None or se is None or row.n is None:
        return
    expected = se.times(sqrt(row.n))
    if _agree(sd, expected):
        return
    message = (
        f"the SD {spread.sd} is not the standard error {spread.se} times √n = "
        f"{told(expected.value)} with n {row.n}: check n and which of the two is which"
    )
    yield found(
        study,
        f"{cell.path}.sd",
        "sd-se-mismatch",
        message,
        severity="warning",
        outcome=row.outcome.id,
        arithmetic=f"{spread.se} × √{row.n} = {told(expected.value)}",
    )


def _interval(study: str, row: Row, cell: Cell) -> Iterator[IntegrityFinding]:
    spread = cell.spread
    for key, level in INTERVAL_KEYS.items():
        pair = getattr(spread, key)
        if pair is None:
            continue
        error = spread.reading_error
        low, high = (Rounded.printed(limit, reading_error=error) for limit in pair)
        if low is None or high is None:
            continue
        if cell.mean is not None:
            off = off_centre(cell.mean, low, high)
            if off is not None:
                message = (
                    f"the interval {pair[0]} to {pair[1]} is centred on {told(off)}, not on the "
                    f"mean {spread.mean}: check the limits' digits and signs, or whether it "
                    "belongs to a median or a log scale"
                )
                yield found(
                    study,
                    f"{cell.path}.{key}",
                    "interval-off-centre",
                    message,
                    severity="warning",
                    outcome=row.outcome.id,
                    arithmetic=f"({pair[0]} + {pair[1]}) / 2 = {told(off)}",
                )
        yield from _sd_against_interval(study, row, cell, key, level, high - low)


def _sd_against_interval(
    study: str, row: Row, cell: Cell, key: str, level: float, width: Rounded
) -> Iterator[IntegrityFinding]:
    printed = cell.spread.sd if cell.spread.sd is not None else cell.spread.se
    name = "sd" if cell.spread.sd is not None else "se"
    sd = Rounded.printed(printed, reading_error=cell.spread.reading_error)
    if sd is None or row.n is None or width.value <= 0:
        return
    tail = (1 + level) / 2
    root = sqrt(row.n) if name == "sd" else 1.0
    by_t = float(stdtrit(row.n - 1, tail))
    factors = [root / (2 * by_t), root / (2 * float(ndtri(tail)))]
    span = Rounded(width.value * factors[0], width.low * factors[0], width.high * factors[1])
    if _agree(sd, span):
        return
    words = "SD" if name == "sd" else "standard error"
    message = (
        f"the {words} {printed} does not fit the interval beside it, which gives "
        f"{told(span.value)} with n {row.n}: check n, the limits, and which measure of spread "
        "was printed"
    )
    root_words = f"√{row.n} × " if name == "sd" else ""
    yield found(
        study,
        f"{cell.path}.{name}",
        "sd-interval-mismatch",
        message,
        severity="warning",
        outcome=row.outcome.id,
        arithmetic=f"{root_words}{told(width.value)} / (2 × {told(by_t)}) = {told(span.value)}",
    )


def off_centre(value: Rounded, low: Rounded, high: Rounded) -> float | None:
    """Middle of an interval that does not lie around its value; None where it does.

    Off means by more than the rounding of all three and a share of the interval's width.
    """
    middle = (low.value + high.value) / 2
    allowed = value.half + (low.half + high.half) / 2
    allowed += limits.OFF_CENTRE * (high.value - low.value)
    return middle if abs(value.value - middle) > allowed * (1 + HAIR) else None


def _agree(one: Rounded, other: Rounded) -> bool:
    slack = 1 + limits.SPREAD_MISMATCH
    return one.low <= other.high * slack and other.low <= one.high * slack


def _ratio(study: str, row: Row) -> Iterator[IntegrityFinding]:
    if row.pre is None or row.post is None or row.pre.sd is None or row.post.sd is None:
        return
    ratio = row.post.sd.value / row.pre.sd.value
    low, high = limits.SD_RATIO
    if low - HAIR <= ratio <= high + HAIR:
        return
    message = (
        f"the SD went from {told(row.pre.sd.value)} to {told(row.post.sd.value)}, a factor of "
        f"{told(ratio)}: expected {low} to {high}; check whether one of them is a standard error "
        "or has a slipped decimal"
    )
    yield found(
        study,
        row.post.sd_path,
        "sd-ratio",
        message,
        outcome=row.outcome.id,
        arithmetic=f"{told(row.post.sd.value)} / {told(row.pre.sd.value)} = {told(ratio)}",
    )


def significant_digits(number) -> int:
    """Digits that a printed number shows from its first that is not 0: 3 for ``0.0340``."""
    return len(number.as_tuple().digits) if number else 0


def _all_alike(laid: Laid) -> Iterator[IntegrityFinding]:
    """The same printed SD in several cells of one outcome."""
    groups: dict[tuple[str, str], list[Cell]] = {}
    printed: Counter[str] = Counter()
    for row in laid.rows:
        for cell in (row.pre if row.own_pre else None, row.post):
            sd = cell.spread.sd if cell is not None else None
            if usable(sd):
                groups.setdefault((row.outcome.id, str(sd)), []).append(cell)
                printed[row.outcome.id] += 1
    for (outcome, sd), cells in groups.items():
        digits = significant_digits(cells[0].spread.sd)
        telling = digits >= limits.SAME_SD_DIGITS and len(cells) >= limits.SAME_SD_CELLS
        if not telling and not limits.SAME_SD_ALL <= len(cells) == printed[outcome]:
            continue
        places = ", ".join(cell.path for cell in cells)
        message = (
            f"the SD {sd} stands in {len(cells)} cells of one outcome ({places}): expected that "
            "groups and times differ; check whether it is a pooled SD or was copied down"
        )
        yield found(
            laid.study.id,
            f"{cells[0].path}.sd",
            "same-sd",
            message,
            outcome=outcome,
            arithmetic=f"{len(cells)} × {sd}",
        )
