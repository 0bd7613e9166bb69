"""A standard error printed as the SD of a change."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atanh, sqrt

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.correlations import correlation_span
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.peers import Peers
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import Rounded, pooled, told

RULE = "small-change-sd"


@dataclass(frozen=True, slots=True)
class ChangeJudged:
    """What a printed SD of change means for the agreement of before and after.

    Attributes
    ----------
    row : Row
    r : Rounded
        Pre-post correlation that the SD of change means, with what rounding leaves open.
    as_sd : float
        SD·√n, what the SD of change would be, were it a standard error; raw units.
    mended : float
        The correlation that `as_sd` means.
    before, after : float
        SDs that r was taken from; raw units.
    source : str
        ``own``: both printed; ``one``: one stands for both; ``like``: that of like outcomes.
    """

    row: Row
    r: Rounded
    as_sd: float
    mended: float
    before: float
    after: float
    source: str

    @property
    def sums(self) -> str:
        """The correlation worked out."""
        change = self.row.change.spread.sd
        one, other = told(self.before), told(self.after)
        return f"({one}² + {other}² − {change}²) / (2 × {one} × {other}) = {told_r(self.r.value)}"

    @property
    def stands_for(self) -> str:
        """In words, where the SDs before and after come from."""
        return {
            "own": "",
            "one": " (one SD stands for before and after)",
            "like": f" (the median SD of like outcomes, {told(self.before)}, stands for before "
            "and after)",
        }[self.source]


def change_spread_findings(laid: Laid, peers: Peers) -> Iterator[IntegrityFinding]:
    """SDs of change so small that people would agree with themselves almost perfectly.

    r = (s₁² + s₂² − s_Δ²)/(2·s₁·s₂), with the SD before for that after where only one is
    printed. One arm alone is noted; both arms, printed by the same hand, are told as a warning.
    That a mean change is above 3 SDs of change says little alone: with the quartiles of r and of
    gains in `thresholds` 4 in 10 sound arms that train show it.
    """
    groups: dict[tuple, list[Row]] = {}
    for row in laid.rows:
        if row.n is not None and row.change is not None and row.change.sd_printed:
            groups.setdefault((row.outcome.id, row.result.week), []).append(row)
    for rows in groups.values():
        typical = peers.typical(laid.study.id, rows[0].outcome)
        judged = [_judged(row, None if typical is None else typical.sd) for row in rows]
        if None in judged:
            yield from _change_alone(laid.study.id, rows)
            continue
        yield from _of_outcome(laid.study.id, judged)


def _judged(row: Row, like: float | None) -> ChangeJudged | None:
    pre, post = (cell.sd if cell is not None else None for cell in (row.pre, row.post))
    source = "own" if pre is not None and post is not None else "one"
    if pre is None and post is None:
        if like is None:
            return None
        pre, source = Rounded(like, like, like), "like"
    pre, post = pre or post, post or pre
    change = row.change.sd
    as_sd = change.value * sqrt(row.n)
    return ChangeJudged(
        row,
        correlation_span(pre, post, change),
        as_sd,
        (pre.value**2 + post.value**2 - as_sd**2) / (2 * pre.value * post.value),
        pre.value,
        post.value,
        source,
    )


def _of_outcome(study: str, judged: Sequence[ChangeJudged]) -> Iterator[IntegrityFinding]:
    known = limits.CHANGE_LIMITS.get(judged[0].row.outcome.construct_id)
    large = _large_change(judged)
    both = known is not None and _all_too_small(judged, known, large)
    for held in judged:
        if held.r.value > 1:
            continue  # three SDs that no correlation allows are told by themselves
        printed = _printed_r_agrees(held)
        if printed:
            yield _finding(study, held, printed, severity="warning", suspect=True)
        elif both and held.source != "like":
            more = f"; {large}" if large else ""
            yield _finding(
                study, held, f"as in every arm here{more}", severity="warning", suspect=True
            )
        elif both:
            yield _finding(study, held, f"as in every arm here; {large}")
        elif known is not None and held.source != "like" and _alone(held, known):
            yield _finding(study, held, "")


def _all_too_small(judged: Sequence[ChangeJudged], known: limits.ChangeLimits, large: str) -> bool:
    if len(judged) < 2 or ((known.needs_large or judged[0].source == "like") and not large):
        return False
    return all(
        held.r.low > known.telling and held.mended >= known.lowest for held in judged
    ) and any(held.mended <= known.highest for held in judged)


def _alone(held: ChangeJudged, known: limits.ChangeLimits) -> bool:
    if known.needs_large and not _large_change([held]):
        return False
    return held.r.low > known.rare and known.lowest <= held.mended <= known.highest


def _printed_r_agrees(held: ChangeJudged) -> str:
    """Words where the printed r is that of SD·√n, and far from that of the SD."""
    printed = held.row.result.r
    if printed is None or held.source == "like" or not abs(printed) < 1:
        return ""
    if not (-1 < held.mended < 1 and -1 < held.r.low < 1):
        return ""
    r = atanh(float(printed))
    if abs(atanh(held.mended) - r) > limits.R_FITS or atanh(held.r.low) - r < limits.R_APART:
        return ""
    return f"the paper prints r = {printed}"


def _large_change(judged: Sequence[ChangeJudged]) -> str:
    """Words where a mean change, or a difference between arms, is above 3 SDs of change."""
    size, words = _largest(judged)
    return words if size > limits.STANDARDISED_LIMIT else ""


def _largest(judged: Sequence[ChangeJudged]) -> tuple[float, str]:
    best = (0.0, "")
    rows = [held.row for held in judged]
    for row in rows:
        if row.gain is None:
            continue
        size = abs(row.gain.value) / row.change.sd.value
        words = f"the mean change of {told(row.gain.value)} in {row.arm.id} is {told(size)} SDs"
        best = max(best, (size, words))
    for one, other in pairwise(rows):
        if one.gain is None or other.gain is None:
            continue
        sd = pooled(one.change.sd.value, one.n, other.change.sd.value, other.n)
        gap = one.gain.value - other.gain.value
        words = f"the difference of {told(gap)} in change is {told(abs(gap) / sd)} pooled SDs"
        best = max(best, (abs(gap) / sd, words))
    return best


def told_r(r: float) -> str:
    """A correlation near 1 with the digits that tell it from 1."""
    return f"{r:.4f}" if 0.99 < abs(r) < 1 else told(r)


def _finding(
    study: str, held: ChangeJudged, why: str, *, severity: str = "note", suspect: bool = False
) -> IntegrityFinding:
    row, printed = held.row, held.row.change.spread.sd
    beside = f" ({why})" if why else ""
    message = (
        f"the SD of change {printed} would mean a pre-post correlation of "
        f"{told_r(held.r.value)}{held.stands_for}, rarely seen{beside}: if {printed} is a standard "
        f"error, the SD is {told(held.as_sd)} and the correlation {told(held.mended)}: write "
        f"se = {printed}"
    )
    return found(
        study,
        row.change.sd_path,
        RULE,
        message,
        severity=severity,
        outcome=row.outcome.id,
        arithmetic=f"{held.sums}; {printed} × √{row.n} = {told(held.as_sd)}",
        suspect=suspect,
    )


def _change_alone(study: str, rows: Sequence[Row]) -> Iterator[IntegrityFinding]:
    """Changes with nothing to hold their SDs against, many SDs in size and apart."""
    for one, other in pairwise(rows):
        if one.gain is None or other.gain is None:
            continue
        sd = pooled(one.change.sd.value, one.n, other.change.sd.value, other.n)
        gap = one.gain.value - other.gain.value
        row = max(one, other, key=lambda each: abs(each.gain.value) / each.change.sd.value)
        size = abs(row.gain.value) / row.change.sd.value
        if min(abs(gap) / sd, size) <= limits.CHANGE_ALONE:
            continue
        printed = row.change.spread.sd
        as_sd = told(row.change.sd.value * sqrt(row.n))
        yield found(
            study,
            row.change.sd_path,
            RULE,
            f"the mean change {row.change.spread.mean} is {told(size)} SDs of change, and "
            f"{told(abs(gap) / sd)} apart from the other arm's: no SD before training is printed "
            f"to hold {printed} against; look whether it is a standard error, which would make "
            f"the SD {as_sd}",
            outcome=row.outcome.id,
            arithmetic=f"{told(row.gain.value)} / {printed} = {told(size)}; {told(gap)} / "
            f"{told(sd)} = {told(gap / sd)}; {printed} × √{row.n} = {as_sd}",
        )
        return
