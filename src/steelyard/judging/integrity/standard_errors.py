"""A standard error printed as an SD, an SD printed as a standard error, and gains out of reach."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.peers import Peers, Typical
from steelyard.judging.integrity.reading import Cell, Laid, Row
from steelyard.judging.integrity.rounded import told


@dataclass(frozen=True, slots=True)
class SdJudged:
    """What speaks for a printed SD being a standard error.

    Attributes
    ----------
    signs : tuple of str
        In words, each with its numbers.
    as_sd : float
        SD·√n, what the SD would be.
    plausible : bool
        Whether SD·√n is of a size that such an SD has.
    strong : bool
        Two signs, or a standardised difference above 3; only with `plausible`.
    """

    signs: tuple[str, ...]
    as_sd: float
    plausible: bool
    strong: bool

    @property
    def accused(self) -> bool:
        return self.plausible and bool(self.signs)


def judge_sd(
    sd: float,
    *,
    n: int,
    mean: float | None = None,
    gain: float | None = None,
    gap: float | None = None,
    construct: str = "",
    typical: Typical | None = None,
) -> SdJudged:
    """Weigh whether a printed SD is a standard error.

    Signs: a coefficient of variation that groups of people do not have; a change, or a
    difference between arms, above 3 SDs [1]_; an SD (and, where it exists, a coefficient of
    variation) far below those of like outcomes. No sign counts unless SD·√n is itself
    plausible: a small SD that √n does not mend has another cause.

    Parameters
    ----------
    sd : float
        As printed, > 0; raw units.
    n : int
        People, ≥ 2.
    mean, gain, gap : float, optional
        Mean at the same time; mean change of the arm; difference from another arm; raw units.
    construct : str
        Id from the vocabulary; limits are known for strength and muscle size.
    typical : Typical, optional
        Medians of like outcomes.

    References
    ----------
    .. [1] Kadlec, D., Sainani, K. L., & Nimphius, S. (2023). Sports Medicine 53, 313-325.
    """
    known = limits.SPREAD_LIMITS.get(construct)
    variation = sd / mean if mean is not None and mean > 0 else None
    as_sd = sd * sqrt(n)
    signs = []
    if known and variation is not None and variation < known.implausible:
        signs.append(f"it is {told(100 * variation)} % of the mean")
    large = False
    for name, size in (("mean change", gain), ("difference from the other arm", gap)):
        if size is not None and abs(size) / sd > limits.STANDARDISED_LIMIT:
            large = True
            signs.append(f"the {name} of {told(size)} is {told(abs(size) / sd)} such SDs")
            break
    beside = typical is not None and typical.far_above(sd, variation)
    if beside:
        signs.append(f"like outcomes have a median SD of {told(typical.sd)}")
    if variation is not None:
        lowest = known.implausible if known else 0.0
        widest = known.widest if known else limits.OTHER_WIDEST
        plausible = lowest <= variation * sqrt(n) <= widest
    else:
        plausible = typical is not None and typical.near(as_sd)
    return SdJudged(tuple(signs), as_sd, plausible, plausible and (large or len(signs) > 1))


def standard_error_findings(laid: Laid, peers: Peers) -> Iterator[IntegrityFinding]:
    """Spreads that look mislabelled, and changes too large for people to make."""
    gaps = _gaps(laid)
    for row in laid.rows:
        typical = peers.typical(laid.study.id, row.outcome)
        cells = [cell for cell in (row.pre if row.own_pre else None, row.post) if cell is not None]
        yield from _as_sd(laid.study.id, row, cells, gaps.get(row.path), typical)
        yield from _as_standard_error(laid.study.id, row, cells)
        yield from _change_as_sd(laid.study.id, row)
        yield from _out_of_reach(laid.study.id, row)


def _gaps(laid: Laid) -> dict[str, float]:
    """Per result the largest standardised difference from another arm, as a raw difference."""
    largest: dict[str, float] = {}
    for one, other in laid.arm_pairs():
        for name in ("gain", "post"):
            pair = [getattr(row, name) for row in (one, other)]
            if name == "post":
                pair = [cell.mean if cell is not None else None for cell in pair]
            if None in pair:
                continue
            gap = pair[0].value - pair[1].value
            for row in (one, other):
                if abs(gap) > abs(largest.get(row.path, 0.0)):
                    largest[row.path] = gap
    return largest


def _as_sd(
    study: str, row: Row, cells: list[Cell], gap: float | None, typical: Typical | None
) -> Iterator[IntegrityFinding]:
    """One finding per result: before and after are printed by the same hand."""
    gain = row.gain.value if row.gain is not None else None
    judged = []
    for cell in cells:
        if not cell.sd_printed or row.n is None:
            continue
        mean = cell.mean.value if cell.mean is not None else None
        verdict = judge_sd(
            cell.sd.value,
            n=row.n,
            mean=mean,
            gain=gain,
            gap=gap,
            construct=row.outcome.construct_id,
            typical=typical,
        )
        if verdict.signs:
            judged.append((cell, verdict))
    if not judged:
        return
    accused = [(cell, verdict) for cell, verdict in judged if verdict.accused]
    cell, verdict = (accused or judged)[0]
    printed, signs = cell.spread.sd, "; ".join(verdict.signs)
    sums = [f"{each.spread.sd} × √{row.n} = {told(held.as_sd)}" for each, held in accused or judged]
    if cell.mean is not None and cell.mean.value > 0:
        share = f"{printed} / {cell.spread.mean} = {told(100 * cell.sd.value / cell.mean.value)} %"
        sums.insert(0, share)
    place = {"outcome": row.outcome.id, "arithmetic": "; ".join(sums)}
    if accused:
        becomes = ""
        if cell.mean is not None and cell.mean.value > 0:
            becomes = f", {told(100 * verdict.as_sd / cell.mean.value)} % of the mean"
        message = (
            f"the SD {printed} is small for an SD ({signs}): if {printed} is a standard error, "
            f"the SD is {told(verdict.as_sd)}{becomes}: write se = {printed}"
        )
        strong = any(held.strong for _, held in accused)
        yield found(
            study,
            f"{cell.path}.sd",
            "standard-error-as-sd",
            message,
            severity="warning",
            suspect=strong,
            **place,
        )
        return
    message = (
        f"the SD {printed} is small beside the other numbers ({signs}), and taking it for a "
        f"standard error would make it {told(verdict.as_sd)}, which is not usual either: check "
        "the mean, the SD and the unit against the paper"
    )
    yield found(study, f"{cell.path}.sd", "implausible-spread", message, **place)


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


def _change_as_sd(study: str, row: Row) -> Iterator[IntegrityFinding]:
    """An SD of change so small that before and after would agree almost perfectly."""
    cells = (row.pre, row.post, row.change)
    if row.outcome.construct_id != "strength" or row.n is None:
        return
    if any(cell is None or cell.sd is None for cell in cells) or not row.change.sd_printed:
        return
    pre, post, change = (cell.sd.value for cell in cells)
    r = _r(pre, post, change)
    as_sd = change * sqrt(row.n)
    mended = _r(pre, post, as_sd)
    low, high = limits.STRENGTH_R_PLAUSIBLE
    if not (limits.STRENGTH_R_LIMIT < r <= 1 and low <= mended <= high):
        return
    printed = row.change.spread.sd
    message = (
        f"the SD of change {printed} would mean a pre-post correlation of {told(r)}, rare for "
        f"strength: if {printed} is a standard error, the SD is {told(as_sd)} and the "
        f"correlation {told(mended)}: write se = {printed}"
    )
    sums = f"({told(pre)}² + {told(post)}² − {printed}²) / (2 × {told(pre)} × {told(post)})"
    yield found(
        study,
        row.change.sd_path,
        "small-change-sd",
        message,
        outcome=row.outcome.id,
        arithmetic=f"{sums} = {told(r)}",
    )


def _r(pre: float, post: float, change: float) -> float:
    return (pre**2 + post**2 - change**2) / (2 * pre * post)


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
