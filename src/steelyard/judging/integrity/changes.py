"""Mean changes and percent changes that do not follow from the means."""

from __future__ import annotations

from collections.abc import Iterator

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Cell, Laid, Row
from steelyard.judging.integrity.rounded import Rounded, told


def change_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """A printed change that is not after less before; a percent that is not their ratio."""
    for row in laid.rows:
        pre, post, change = (
            cell if cell is not None and cell.mean is not None else None
            for cell in (row.pre, row.post, row.change)
        )
        if pre is None:
            continue
        if None not in (post, change) and all(cell.sharp for cell in (pre, post, change)):
            yield from _mean_change(laid.study.id, row)
        if row.result.change_percent is not None and (post is not None or change is not None):
            yield from _percent_change(laid.study.id, row, pre, post, change)


def _mean_change(study: str, row: Row) -> Iterator[IntegrityFinding]:
    expected, printed = row.post.mean - row.pre.mean, row.change.mean
    if printed.meets(expected):
        return
    shown = row.change.spread.mean
    off = abs(printed.value - expected.value)
    turned = expected.value != 0 and (-printed).meets(expected)
    if turned:
        fix = "the sign is turned: write it as after less before"
    else:
        fix = (
            "check the three means against the paper; if the paper adjusted the change, "
            "or took it from fewer people, say so in a note"
        )
    sd = row.pre.sd.value if row.pre.sd is not None else None
    large = turned or sd is None or off > limits.CHANGE_WARNING * sd
    message = (
        f"the mean change {shown} is not the {told(expected.value)} (between "
        f"{told(expected.low)} and {told(expected.high)} with rounding) by which the mean "
        f"after {row.post.spread.mean} exceeds that before {row.pre.spread.mean}: {fix}"
    )
    yield found(
        study,
        f"{row.change.path}.mean",
        "change-mismatch",
        message,
        severity="warning" if large else "note",
        outcome=row.outcome.id,
        arithmetic=f"{row.post.spread.mean} − {row.pre.spread.mean} = {told(expected.value)}",
    )


def percent_span(pre: Rounded, post: Rounded) -> Rounded | None:
    """100·(post/pre − 1) with what rounding leaves open; None unless pre is above 0."""
    if pre.low <= 0:
        return None
    ends = [100 * (one / other - 1) for one in (post.low, post.high) for other in _ends(pre)]
    return Rounded(100 * (post.value / pre.value - 1), min(ends), max(ends))


def _ends(span: Rounded) -> tuple[float, float]:
    return span.low, span.high


def percent_of_change(pre: Rounded, change: Rounded) -> Rounded | None:
    """100·change/pre with what rounding leaves open; None unless pre is above 0."""
    if pre.low <= 0:
        return None
    ends = [100 * one / other for one in _ends(change) for other in _ends(pre)]
    return Rounded(100 * change.value / pre.value, min(ends), max(ends))


def _percent_change(
    study: str, row: Row, pre: Cell, post: Cell | None, change: Cell | None
) -> Iterator[IntegrityFinding]:
    """A percent of means may be off by rounding alone; people's own percents by somewhat more."""
    percent = row.result.change_percent
    printed = Rounded.printed(percent.mean)
    if post is not None:
        expected = percent_span(pre.mean, post.mean)
        sums = f"100 × ({post.spread.mean} / {pre.spread.mean} − 1)"
        source = f"the means before {pre.spread.mean} and after {post.spread.mean}"
    else:
        expected = percent_of_change(pre.mean, change.mean)
        sums = f"100 × {change.spread.mean} / {pre.spread.mean}"
        source = f"the mean before {pre.spread.mean} and its change {change.spread.mean}"
    if expected is None or printed is None:
        return
    sharp = pre.sharp and (post or change).sharp
    of_means = percent.of == "means" and sharp
    off = max(printed.low - expected.high, expected.low - printed.high, 0.0)
    allowed = max(limits.PERCENT_NOTE_POINTS, limits.PERCENT_NOTE_SHARE * abs(expected.value))
    opposite = printed.high < 0 < expected.low or expected.high < 0 < printed.low
    if of_means:
        if printed.meets(expected):
            return
    elif off <= allowed and not (opposite and off > limits.PERCENT_NOTE_POINTS):
        return
    far = allowed if of_means else max(limits.PERCENT_WARNING_POINTS, abs(expected.value))
    if of_means:
        why = (
            f"a percent of means would lie between {told(expected.low)} and "
            f"{told(expected.high)} with rounding; if it is the mean of people's own percents, "
            'write of = "people"; else check the percent, its sign and both means'
        )
    else:
        why = (
            "the mean of people's own percents differs a little, not so much; check the percent, "
            "its sign and both means"
        )
    yield found(
        study,
        f"{row.path}.change_percent.mean",
        "percent-mismatch",
        f"the percent change {percent.mean} is {'not' if of_means else 'far from'} the "
        f"{told(expected.value)} that {source} give: {why}",
        severity="warning" if opposite or off > far else "note",
        outcome=row.outcome.id,
        arithmetic=f"{sums} = {told(expected.value)}",
    )
