"""Mean changes and percent changes that do not follow from the means."""

from __future__ import annotations

from collections.abc import Iterator

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import Rounded, told


def change_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """A printed change that is not after less before; a percent that is not their ratio."""
    for row in laid.rows:
        if row.pre is None or row.post is None:
            continue
        if row.pre.mean is None or row.post.mean is None:
            continue
        sharp = row.pre.sharp and row.post.sharp
        if sharp and row.change is not None and row.change.sharp and row.change.mean is not None:
            yield from _mean_change(laid.study.id, row)
        if row.result.change_percent is not None:
            yield from _percent_change(laid.study.id, row)


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


def _percent_change(study: str, row: Row) -> Iterator[IntegrityFinding]:
    expected = percent_span(row.pre.mean, row.post.mean)
    printed = Rounded.printed(row.result.change_percent.mean)
    if expected is None or printed is None:
        return
    off = max(printed.low - expected.high, expected.low - printed.high, 0.0)
    allowed = max(limits.PERCENT_NOTE_POINTS, limits.PERCENT_NOTE_SHARE * abs(expected.value))
    opposite = printed.high < 0 < expected.low or expected.high < 0 < printed.low
    if off <= allowed and not (opposite and off > limits.PERCENT_NOTE_POINTS):
        return
    large = opposite or off > max(limits.PERCENT_WARNING_POINTS, abs(expected.value))
    message = (
        f"the percent change {row.result.change_percent.mean} is far from the "
        f"{told(expected.value)} that the means before {row.pre.spread.mean} and after "
        f"{row.post.spread.mean} give: the mean of people's own percents differs a little, not "
        "so much; check the percent, its sign and both means"
    )
    yield found(
        study,
        f"{row.path}.change_percent.mean",
        "percent-mismatch",
        message,
        severity="warning" if large else "note",
        outcome=row.outcome.id,
        arithmetic=(
            f"100 × ({row.post.spread.mean} / {row.pre.spread.mean} − 1) = {told(expected.value)}"
        ),
    )
