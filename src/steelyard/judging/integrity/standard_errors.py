"""A standard error printed as an SD, an SD printed as a standard error, and gains out of reach."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.beside import (
    Beside,
    Start,
    StartsApart,
    nearer_as_printed,
    starts_apart,
)
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.peers import Peers
from steelyard.judging.integrity.reading import Cell, Laid, Row
from steelyard.judging.integrity.rounded import Rounded, pooled, told
from steelyard.judging.integrity.sd_judged import SdJudged, judge_sd, taken_together
from steelyard.records.study import Outcome, Study
from steelyard.reporting.default_correlation import default_correlation


@dataclass(frozen=True, slots=True)
class _Printed:
    """One printed SD with what it is held against; `start` is the mean before training.

    `when` is ``pre`` or ``post``.
    """

    path: str
    when: str
    text: str
    sd: float
    n: int
    mean: float | None
    start: float | None

    @property
    def as_share(self) -> float | None:
        """SD·√n over the mean: what the SD would be, were it a standard error."""
        base = self.start or self.mean
        return None if base is None or base <= 0 else self.sd * self.n**0.5 / base


def standard_error_findings(laid: Laid, peers: Peers) -> Iterator[IntegrityFinding]:
    """Spreads that look mislabelled, and changes too large for people to make."""
    arms = _arms_beside(laid)
    for row in laid.rows:
        typical = peers.typical(laid.study.id, row.outcome)
        cells = [cell for cell in (row.pre if row.own_pre else None, row.post) if cell is not None]
        beside = [other for other in arms[row.outcome.id, row.result.week] if other is not row]
        yield from _as_sd(laid.study, row, cells, beside, typical)
        yield from _subgroups(laid.study.id, row, typical)
        yield from _as_standard_error(laid.study.id, row, cells)
        yield from _out_of_reach(laid.study.id, row)


def _arms_beside(laid: Laid) -> dict[tuple, list[Row]]:
    groups: dict[tuple, list[Row]] = {}
    for row in laid.rows:
        groups.setdefault((row.outcome.id, row.result.week), []).append(row)
    return groups


def _printed_sds(row: Row, cells: Sequence[Cell]) -> list[_Printed]:
    if row.n is None:
        return []
    start = row.pre.mean.value if row.pre is not None and row.pre.mean is not None else None
    return [
        _Printed(
            f"{cell.path}.sd",
            cell.path.rpartition(".")[2],
            str(cell.spread.sd),
            cell.sd.value,
            row.n,
            cell.mean.value if cell.mean is not None else None,
            start,
        )
        for cell in cells
        if cell.sd_printed
    ]


def _unfit(
    outcome: Outcome, own: Sequence[_Printed], others: Sequence[Sequence[_Printed]]
) -> _Printed | None:
    """An SD of another arm, or subgroup, that speaks for SDs here; None where none does.

    One hand prints the SDs of a table: where one cannot be a standard error, another hardly is,
    unless this one times √n is nearer to it. Of the other arm's SDs the smallest is asked, of
    this arm's the largest.
    """
    largest = max(own, key=lambda each: each.sd)
    known = limits.SPREAD_LIMITS.get(outcome.construct_id)
    highest = known.impossible if known else limits.OTHER_IMPOSSIBLE
    for printed in others:
        told_ones = [each for each in printed if each.as_share is not None]
        smallest = min(told_ones, key=lambda each: each.as_share, default=None)
        if smallest is None or smallest.as_share <= highest:
            continue
        if nearer_as_printed(largest.sd, largest.n, smallest.sd):
            return smallest
    return None


def _beside(
    printed: _Printed,
    same_people: Sequence[_Printed],
    others: Sequence[Sequence[_Printed]],
    construct: str,
) -> list[Beside]:
    """The SDs of the same people before or after, and those of other arms at the same time."""
    r = default_correlation(construct).low
    found_ones = [
        Beside(
            f"the SD {'before' if each.when == 'pre' else 'after'} training",
            each.text,
            each.sd,
            each.n,
            r,
        )
        for each in same_people
        if each.when != printed.when
    ]
    return found_ones + [
        Beside("the other arm's SD", each.text, each.sd, each.n)
        for column in others
        for each in column
        if each.when == printed.when
    ]


def _starts(row: Row, beside: Sequence[Row]) -> StartsApart | None:
    starts = [
        Start(each.pre.mean.value, each.pre.sd.value, each.n)
        for each in (row, *beside)
        if each.n is not None and each.pre is not None and each.pre.mean and each.pre.sd_printed
    ]
    if row.n is None or row.pre is None or not row.pre.mean or not row.pre.sd_printed:
        return None
    return starts_apart(starts[0], starts[1:])


def _largest_gap(row: Row, beside: Sequence[Row]) -> tuple[float, float] | None:
    """The largest difference from another arm and the pooled SD of both, in raw units.

    Of changes and of scores after training; None where an SD is not known.
    """
    largest = None
    for other in beside:
        sds = [_sd_of(each) for each in (row, other)]
        if None in sds or row.n is None or other.n is None:
            continue
        sd = pooled(sds[0], row.n, sds[1], other.n)
        for name in ("gain", "post"):
            pair = [getattr(each, name) for each in (row, other)]
            if name == "post":
                pair = [cell.mean if cell is not None else None for cell in pair]
            if None in pair:
                continue
            gap = pair[0].value - pair[1].value
            if largest is None or abs(gap) / sd > abs(largest[0]) / largest[1]:
                largest = gap, sd
    return largest


def _sd_of(row: Row) -> float | None:
    sds = [cell.sd.value for cell in (row.pre, row.post) if cell is not None and cell.sd]
    return max(sds, default=None)


def _as_sd(
    study: Study, row: Row, cells: list[Cell], beside: list[Row], typical
) -> Iterator[IntegrityFinding]:
    """One finding per result: before and after are printed by the same hand."""
    printed = _printed_sds(row, cells)
    others = [
        _printed_sds(other, [cell for cell in (other.pre, other.post) if cell is not None])
        for other in beside
    ]
    gain = row.gain.value if row.gain is not None else None
    not_by_chance = study.design.randomised is False
    individually = study.design.randomised is True and study.design.kind != "cluster"
    yield from _told(
        study.id,
        row.outcome,
        printed,
        others,
        gain=gain,
        gap=_largest_gap(row, beside),
        typical=typical,
        same_people=_printed_sds(row, [cell for cell in (row.pre, row.post) if cell is not None]),
        alike=() if not_by_chance else others,
        starts=_starts(row, beside) if individually else None,
    )


def _subgroups(study: str, row: Row, typical) -> Iterator[IntegrityFinding]:
    """The same for people printed apart, each group with its own n; one finding per result."""
    columns: list[list[_Printed]] = []
    gains: list[float | None] = []
    before = row.result.pre.groups if row.result.pre is not None else ()
    after = row.result.post.groups if row.result.post is not None else ()
    for place in range(max(len(before), len(after))):
        pair = [
            (name, groups[place])
            for name, groups in (("pre", before), ("post", after))
            if place < len(groups)
        ]
        means = [float(group.mean) for _, group in pair]
        gains.append(means[1] - means[0] if len(pair) == 2 else None)
        columns.append(
            [
                _Printed(
                    f"{row.path}.{name}.groups[{place + 1}].sd",
                    name,
                    str(group.sd),
                    sd.value,
                    group.n,
                    float(group.mean),
                    float(before[place].mean) if place < len(before) else None,
                )
                for name, group in pair
                if group.sd is not None
                and (sd := Rounded.printed(group.sd)) is not None
                and group.n >= 2
            ]
        )
    for place, column in enumerate(columns):
        others = [each for at, each in enumerate(columns) if at != place]
        findings = list(
            _told(
                study,
                row.outcome,
                column,
                others,
                gain=gains[place],
                gap=None,
                typical=typical,
                same_people=column,
                subgroup=True,
            )
        )
        if findings:
            yield findings[0]
            return


def _told(
    study: str,
    outcome: Outcome,
    printed: list[_Printed],
    others: Sequence[Sequence[_Printed]],
    *,
    gain: float | None,
    gap: tuple[float, float] | None,
    typical,
    same_people: Sequence[_Printed] = (),
    alike: Sequence[Sequence[_Printed]] = (),
    starts: StartsApart | None = None,
    subgroup: bool = False,
) -> Iterator[IntegrityFinding]:
    if not printed:
        return
    unfit = _unfit(outcome, printed, others)
    verdicts = [
        judge_sd(
            each.sd,
            n=each.n,
            mean=each.mean,
            start=each.start,
            gain=gain,
            gap=gap[0] if gap else None,
            gap_sd=gap[1] if gap else None,
            construct=outcome.construct_id,
            typical=typical,
            others_fit=unfit is None,
            beside=_beside(each, same_people, alike, outcome.construct_id),
            starts=starts,
        )
        for each in printed
    ]
    verdict = taken_together(verdicts, [each.sd for each in printed])
    if not verdict.signs:
        return
    at = next(place for place, held in enumerate(verdicts) if held.as_sd == verdict.as_sd)
    cell, signs = printed[at], "; ".join(verdict.signs.values())
    sums = [
        f"{each.text} × √{each.n} = {told(held.as_sd)}"
        for each, held in zip(printed, verdicts, strict=True)
        if held.signs
    ]
    base = cell.start or cell.mean
    if base is not None and base > 0:
        sums.insert(0, f"{cell.text} / {told(base)} = {told(100 * cell.sd / base)} %")
    sums += [words for kind, words in verdict.sums.items() if kind in verdict.signs]
    if unfit is not None:
        sums.append(
            f"beside it {unfit.text} × √{unfit.n} would be {told(100 * unfit.as_share)} % of the "
            "mean"
        )
    place = {"outcome": outcome.id, "arithmetic": "; ".join(sums)}
    if not verdict.accused:
        yield found(
            study, cell.path, "implausible-spread", _doubt(cell, verdict, signs, unfit), **place
        )
        return
    share = (
        "" if base is None or base <= 0 else f", {told(100 * verdict.as_sd / base)} % of the mean"
    )
    write = f"sd = {told(verdict.as_sd)}" if subgroup else f"se = {cell.text}"
    yield found(
        study,
        cell.path,
        "standard-error-as-sd",
        f"the SD {cell.text} is small for an SD ({signs}): if {cell.text} is a standard error, "
        f"the SD is {told(verdict.as_sd)}{share}: write {write}",
        severity="warning",
        suspect=verdict.strong,
        **place,
    )


def _doubt(cell: _Printed, verdict: SdJudged, signs: str, unfit: _Printed | None) -> str:
    """Signs that do not make a standard error of an SD, in words."""
    small = f"the SD {cell.text} is small beside the other numbers ({signs})"
    if not verdict.plausible:
        return (
            f"{small}, and taking it for a standard error would make it "
            f"{told(verdict.as_sd)}, which is not usual either: check the mean, the SD and the "
            "unit against the paper"
        )
    if unfit is not None:
        return (
            f"{small}, but the SD {unfit.text} beside it cannot be a standard error, so this one "
            "hardly is: check the mean, the SD and the unit against the paper"
        )
    return (
        f"{small}; that alone happens in sound studies: look whether the table prints SDs, as a "
        f"standard error {cell.text} would mean an SD of {told(verdict.as_sd)}"
    )


def _as_standard_error(study: str, row: Row, cells: list[Cell]) -> Iterator[IntegrityFinding]:
    known = limits.SPREAD_LIMITS.get(row.outcome.construct_id)
    for cell in cells:
        se = cell.spread.se
        if not known or cell.spread.sd is not None or se is None or cell.sd is None:
            continue
        if cell.mean is None or cell.mean.value <= 0:
            continue
        as_printed = float(se) / cell.mean.value
        share = cell.sd.value / cell.mean.value
        if share > known.impossible and known.implausible <= as_printed <= known.widest:
            message = (
                f"the standard error {se} makes an SD of {told(cell.sd.value)}, "
                f"{told(100 * share)} % of the mean; if {se} is the SD itself, "
                f"write sd = {se}"
            )
            yield found(
                study,
                f"{cell.path}.se",
                "sd-as-standard-error",
                message,
                outcome=row.outcome.id,
                arithmetic=f"{se} × √{row.n} / {cell.spread.mean} = {told(100 * share)} %",
            )
            return


def _out_of_reach(study: str, row: Row) -> Iterator[IntegrityFinding]:
    """A group's mean gain above the largest that single people were seen to make."""
    known = limits.SPREAD_LIMITS.get(row.outcome.construct_id)
    start = row.pre.mean if row.pre is not None else None
    if known is None or row.gain is None or start is None or start.value <= 0:
        return
    share = row.gain.value / start.value
    if share <= known.largest_gain:
        return
    message = (
        f"the mean gain of {told(100 * share)} % is above the {told(100 * known.largest_gain)} % "
        "that the best of several hundred single people made: check both means and their unit"
    )
    yield found(
        study,
        f"{row.path}.{'post' if row.post is not None else 'change'}.mean",
        "gain-out-of-reach",
        message,
        severity="warning",
        outcome=row.outcome.id,
        arithmetic=f"{told(row.gain.value)} / {row.pre.spread.mean} = {told(100 * share)} %",
    )
