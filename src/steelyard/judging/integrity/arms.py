"""What two arms show side by side: a gap at the start, and both getting worse."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import HAIR, pooled, told
from steelyard.reporting.default_correlation import is_resting
from steelyard.reporting.summary import summarise


def arm_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """Gaps between arms before training, and arms that all move away from better."""
    yield from _gaps_at_start(laid)
    yield from _all_worse(laid)


def _gaps_at_start(laid: Laid) -> Iterator[IntegrityFinding]:
    seen = set()
    for one, other in laid.arm_pairs():
        key = (one.outcome.id, one.arm.id, other.arm.id)
        if key in seen:
            continue
        starts = [_start(laid, row) for row in (one, other)]
        if None in starts or one.n is None or other.n is None:
            continue
        seen.add(key)
        sd = pooled(starts[0].sd, one.n, starts[1].sd, other.n)
        size = (starts[0].mean - starts[1].mean) / sd
        if abs(size) <= limits.BASELINE_NOTE + HAIR:
            continue
        large = abs(size) > limits.BASELINE_WARNING + HAIR
        message = (
            f"before training {one.arm.name!r} started at {starts[0].text} and "
            f"{other.arm.name!r} at {starts[1].text}, {told(abs(size))} SD apart: expected "
            f"at most {limits.BASELINE_NOTE}; prefer an adjusted or a change contrast to scores "
            "after training alone"
        )
        yield found(
            laid.study.id,
            f"{other.pre.path}.{starts[1].field}",
            "baseline-gap",
            message,
            severity="warning" if large else "note",
            outcome=one.outcome.id,
            arithmetic=f"({starts[0].sum} − {starts[1].sum}) / {told(sd)} = {told(size)}",
        )


@dataclass(frozen=True, slots=True)
class _Start:
    """One arm before training: mean and SD, printed or from a median or from subgroups."""

    mean: float
    sd: float
    text: str
    sum: str
    field: str


def _start(laid: Laid, row: Row) -> _Start | None:
    cell = row.pre
    if cell is None or row.n is None:
        return None
    if cell.mean is not None and cell.sd is not None:
        text = str(cell.spread.mean)
        return _Start(cell.mean.value, cell.sd.value, text, text, "mean")
    moments = summarise(laid.study, row.result).pre
    if moments is None or moments.sd is None or not moments.sd.value > 0:
        return None
    mean = moments.mean.value
    if cell.spread.groups:
        text, field = f"{told(mean)} over its subgroups", "groups"
    elif cell.spread.median is not None:
        text = f"{told(mean)} (from the median {cell.spread.median})"
        field = "median"
    else:
        text, field = f"{told(mean)}", "mean"
    return _Start(mean, moments.sd.value, text, told(mean), field)


def _all_worse(laid: Laid) -> Iterator[IntegrityFinding]:
    groups: dict[tuple, list[Row]] = {}
    for row in laid.rows:
        groups.setdefault((row.outcome.id, row.result.week), []).append(row)
    for rows in groups.values():
        if len(rows) < 2:
            continue
        worse = [_worse_by(row) for row in rows]
        if None in worse:
            continue
        outcome = rows[0].outcome
        moved = "fell" if outcome.better == "higher" else "rose"
        every = all(size > limits.WORSE_NOTE + HAIR for size in worse)
        if not every and not _worse_beside_flat(rows, worse):
            continue
        sums = "; ".join(f"{row.arm.id}: {told(row.gain.value)}" for row in rows)
        where = "in every arm" if every else "in an arm that trained and rose nowhere"
        if not every and moved == "rose":
            where = "in an arm that trained and fell nowhere"
        message = (
            f"{outcome.name} {moved} {where}, though {outcome.better} is said to be better: "
            "check the outcome's better and the order of before and after"
        )
        yield found(
            laid.study.id,
            f"{rows[0].path}",
            "all-arms-worse",
            message,
            outcome=outcome.id,
            arithmetic=f"mean changes {sums}",
        )


def _worse_beside_flat(rows: list[Row], worse: list[float]) -> bool:
    """Whether an arm that trains got clearly worse while no arm got better at all.

    An arm that does not train may well decline.
    """
    if any(row.pre is None or row.pre.sd is None for row in rows):
        return False
    if any(size < -limits.BETTER_FLAT for size in worse):
        return False
    return any(
        size > limits.WORSE_ALONE + HAIR and not is_resting(row.arm)
        for row, size in zip(rows, worse, strict=True)
    )


def _worse_by(row: Row) -> float | None:
    """Change away from better in pre-training SDs; as infinite where no SD is known."""
    if row.gain is None:
        return None
    away = -row.gain.value if row.outcome.better == "higher" else row.gain.value
    if row.pre is None or row.pre.sd is None:
        return float("inf") if away > row.gain.half + HAIR else 0.0
    return away / row.pre.sd.value
