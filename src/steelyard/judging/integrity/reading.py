"""A study's results laid out for the checks: each number with its span and its place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from math import sqrt

from steelyard.errors import DesignError
from steelyard.judging.integrity.rounded import Rounded, usable
from steelyard.records.study import INTERVAL_KEYS, Arm, Outcome, Result, Spread, Study
from steelyard.reporting import sd_from_interval


@dataclass(frozen=True, slots=True)
class Cell:
    """One printed mean with its spread.

    Attributes
    ----------
    path : str
        For example ``result[2].pre``.
    spread : Spread
        As recorded.
    mean, sd : Rounded or None
        `sd` printed, or from a printed SE or interval.
    sd_path : str
        Where the SD comes from, for example ``result[2].pre.se``.
    sharp : bool
        False where the number was read off a figure without a reading error: its last digit
        then means nothing.
    """

    path: str
    spread: Spread
    mean: Rounded | None
    sd: Rounded | None
    sd_path: str
    sharp: bool

    @property
    def sd_printed(self) -> bool:
        return self.spread.sd is not None and self.sd is not None


@dataclass(frozen=True, slots=True)
class Row:
    """One result with its arm, outcome, people and cells; `pre` may come from another week."""

    path: str
    result: Result
    outcome: Outcome
    arm: Arm
    n: int | None
    pre: Cell | None
    post: Cell | None
    change: Cell | None

    @property
    def own_pre(self) -> bool:
        return self.result.pre is not None

    @property
    def gain(self) -> Rounded | None:
        """Mean change: after less before, else the printed change."""
        if self.pre and self.post and self.pre.mean and self.post.mean:
            return self.post.mean - self.pre.mean
        return self.change.mean if self.change else None


@dataclass(frozen=True, slots=True)
class Laid:
    """A study with its rows."""

    study: Study
    rows: tuple[Row, ...]

    def arm_pairs(self) -> Iterator[tuple[Row, Row]]:
        """Every two arms on one outcome at one week, in the order of the record."""
        groups: dict[tuple, dict[str, Row]] = {}
        for row in self.rows:
            group = groups.setdefault((row.outcome.id, row.result.week), {})
            group.setdefault(row.arm.id, row)
        for group in groups.values():
            yield from combinations(group.values(), 2)

    def row(self, *, outcome: str, arm: str, week) -> Row | None:
        for row in self.rows:
            if (row.outcome.id, row.arm.id, row.result.week) == (outcome, arm, week):
                return row
        return None


def lay_out(study: Study) -> Laid:
    """The rows of a study; a result that names no known arm or outcome is left to validation."""
    arms = {arm.id: arm for arm in study.arms}
    outcomes = {outcome.id: outcome for outcome in study.outcomes}
    starts: dict[tuple[str, str], tuple[int, Result]] = {}
    for index, result in enumerate(study.results, 1):
        if result.pre is not None:
            starts.setdefault((result.outcome, result.arm), (index, result))
    rows = []
    for index, result in enumerate(study.results, 1):
        arm, outcome = arms.get(result.arm), outcomes.get(result.outcome)
        if arm is None or outcome is None:
            continue
        n = result.n or arm.n
        if n is not None and not 2 <= n <= 1_000_000:
            n = None
        at, start = (index, result)
        if result.pre is None:
            at, start = starts.get((result.outcome, result.arm), (index, result))
        path = f"result[{index}]"
        rows.append(
            Row(
                path,
                result,
                outcome,
                arm,
                n,
                _cell(start.pre, f"result[{at}].pre", n, start),
                _cell(result.post, f"{path}.post", n, result),
                _cell(result.change, f"{path}.change", n, result),
            )
        )
    return Laid(study, tuple(rows))


def _cell(spread: Spread | None, path: str, n: int | None, result: Result) -> Cell | None:
    if spread is None:
        return None
    error = spread.reading_error
    mean = Rounded.printed(spread.mean, reading_error=error)
    name = next(
        (name for name in ("sd", "se", *INTERVAL_KEYS) if getattr(spread, name) is not None), ""
    )
    sharp = result.read_off != "figure" or usable(error)
    return Cell(path, spread, mean, _sd(spread, name, n), f"{path}.{name}" if name else path, sharp)


def _sd(spread: Spread, name: str, n: int | None) -> Rounded | None:
    error = spread.reading_error
    if name == "sd":
        sd = Rounded.printed(spread.sd, reading_error=error)
    elif name == "se" and n is not None:
        se = Rounded.printed(spread.se, reading_error=error)
        sd = None if se is None else se.times(sqrt(n))
    elif name in INTERVAL_KEYS and n is not None:
        sd = sd_of_interval(
            getattr(spread, name),
            n=n,
            level=INTERVAL_KEYS[name],
            error=error,
            by=spread.ci_by or "t",
        )
    else:
        return None
    if sd is None or sd.value <= 0:
        return None
    return Rounded(sd.value, max(sd.low, 0.0), sd.high)


def sd_of_interval(pair, *, n: int, level: float, error=None, by: str = "t") -> Rounded | None:
    """SD from a printed interval, with the span its rounding leaves."""
    low, high = (Rounded.printed(limit, reading_error=error) for limit in pair)
    if low is None or high is None:
        return None
    width = high - low
    if width.value <= 0:
        return None
    try:
        sd = sd_from_interval(low.value, high.value, n=n, level=level, by=by).value
    except DesignError:
        return None
    factor = sd / width.value
    return Rounded(sd, max(width.low, 0.0) * factor, width.high * factor)
