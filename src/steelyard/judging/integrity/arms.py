"""What two arms show side by side: a gap at the start, and both getting worse."""

from __future__ import annotations

from collections.abc import Iterator

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import HAIR, pooled, told


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
        gap = standardised_gap(one, other)
        if gap is None:
            continue
        seen.add(key)
        size, sd = gap
        if abs(size) <= limits.BASELINE_NOTE + HAIR:
            continue
        large = abs(size) > limits.BASELINE_WARNING + HAIR
        difference = f"{one.pre.spread.mean} − {other.pre.spread.mean}"
        message = (
            f"before training {one.arm.name!r} started at {one.pre.spread.mean} and "
            f"{other.arm.name!r} at {other.pre.spread.mean}, {told(abs(size))} SD apart: expected "
            f"at most {limits.BASELINE_NOTE}; prefer an adjusted or a change contrast to scores "
            "after training alone"
        )
        yield found(
            laid.study.id,
            f"{other.pre.path}.mean",
            "baseline-gap",
            message,
            severity="warning" if large else "note",
            outcome=one.outcome.id,
            arithmetic=f"({difference}) / {told(sd)} = {told(size)}",
        )


def standardised_gap(one: Row, other: Row) -> tuple[float, float] | None:
    """Difference of two arms' means before training over their pooled SD, and that SD."""
    if one.n is None or other.n is None:
        return None
    cells = (one.pre, other.pre)
    if any(cell is None or cell.mean is None or cell.sd is None for cell in cells):
        return None
    sd = pooled(one.pre.sd.value, one.n, other.pre.sd.value, other.n)
    return (one.pre.mean.value - other.pre.mean.value) / sd, sd


def _all_worse(laid: Laid) -> Iterator[IntegrityFinding]:
    groups: dict[tuple, list[Row]] = {}
    for row in laid.rows:
        groups.setdefault((row.outcome.id, row.result.week), []).append(row)
    for rows in groups.values():
        if len(rows) < 2:
            continue
        worse = [_worse_by(row) for row in rows]
        if any(size is None or size <= limits.WORSE_NOTE + HAIR for size in worse):
            continue
        outcome = rows[0].outcome
        moved = "fell" if outcome.better == "higher" else "rose"
        sums = "; ".join(f"{row.arm.id}: {told(row.gain.value)}" for row in rows)
        message = (
            f"{outcome.name} {moved} in every arm, though {outcome.better} is said to be better: "
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


def _worse_by(row: Row) -> float | None:
    """Change away from better in pre-training SDs; as infinite where no SD is known."""
    if row.gain is None:
        return None
    away = -row.gain.value if row.outcome.better == "higher" else row.gain.value
    if row.pre is None or row.pre.sd is None:
        return float("inf") if away > row.gain.half + HAIR else 0.0
    return away / row.pre.sd.value
