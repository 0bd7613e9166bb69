"""A paper's difference, its uncertainty and its test against what the arms' numbers give."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt

from steelyard.judging.integrity import significance
from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.change_sds import change_sd, plausible_correlation
from steelyard.judging.integrity.comparisons import differences_of_arms, printed_tests
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Cell, Laid, Row
from steelyard.judging.integrity.rounded import Rounded, pooled, told
from steelyard.records.study import INTERVAL_KEYS, Comparison, Outcome, ReportedEffect

_PAIRED = ("within-person", "crossover")


@dataclass(frozen=True, slots=True)
class OwnTest:
    """The comparison of two arms worked out from their own numbers.

    Attributes
    ----------
    words : str
        What is compared, and with which r.
    se : Rounded
        Standard error of the difference; raw units.
    p : Rounded
        Of the t test, two-sided.
    arithmetic : str
    """

    words: str
    se: Rounded
    p: Rounded
    arithmetic: str


@dataclass(frozen=True, slots=True)
class _Side:
    """One arm's mean and SD of what is compared."""

    mean: Rounded
    sd: Rounded
    n: int
    may_be_se: bool
    words: str = ""
    sums: str = ""


def arm_test_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """Comparisons whose standard error, interval or test no reading of the arms gives.

    Where no SD of change is printed, it follows from the SDs and a pre-post r: the paper's,
    else any plausible one, so that only what none explains is told.
    """
    for index, comparison in enumerate(laid.study.comparisons, 1):
        if comparison.read_off == "figure" or laid.study.design.kind == "cluster":
            continue
        arms = (comparison.intervention, comparison.comparator)
        rows = [laid.row(outcome=comparison.outcome, arm=arm, week=comparison.week) for arm in arms]
        if None in rows or _any_figure(*rows):
            continue
        sizes = [
            stated or row.n
            for stated, row in zip(
                (comparison.n_intervention, comparison.n_comparator), rows, strict=True
            )
        ]
        if None in sizes or min(sizes) < 2 or max(sizes) > 1_000_000:
            continue
        paired = laid.study.design.kind in _PAIRED
        held = _Held(laid.study.id, comparison, f"comparison[{index}]", *rows, *sizes, paired)
        findings = list(_uncertainty(held))
        yield from findings
        if not findings and not comparison.adjusted:
            yield from _test(held)


@dataclass(frozen=True, slots=True)
class _Held:
    """One comparison beside its two arms."""

    study: str
    comparison: Comparison
    path: str
    one: Row
    other: Row
    n_one: int
    n_other: int
    paired: bool

    @property
    def df(self) -> int:
        if self.paired:
            return min(self.n_one, self.n_other) - 1
        return self.n_one + self.n_other - (3 if self.comparison.adjusted else 2)


def _any_figure(*rows: Row) -> bool:
    cells = (cell for row in rows for cell in (row.pre, row.post, row.change))
    return any(cell is not None and not cell.sharp for cell in cells)


def _readings(held: _Held, *, as_standard_errors: bool = False) -> list[OwnTest]:
    """Every reading of what was compared; with SDs that are printed taken for standard errors."""
    pairs = {
        "changes": [_change(held.one, held.n_one), _change(held.other, held.n_other)],
        "scores after training": [
            _post(held.one, held.n_one),
            _post(held.other, held.n_other),
        ],
    }
    found_ones = []
    for words in _compared(held, printed=_all_printed(pairs["changes"])):
        sides = pairs[words]
        if None in sides:
            continue
        if as_standard_errors:
            if not all(side.may_be_se for side in sides):
                continue
            sides = [replace(side, sd=side.sd.times(sqrt(side.n)), sums="") for side in sides]
        test = _own_test(held, words, sides)
        if test is not None:
            found_ones.append(test)
    return found_ones


def _all_printed(changes: Sequence[_Side | None]) -> bool:
    return all(side is not None and not side.words for side in changes)


def _compared(held: _Held, *, printed: bool) -> tuple[str, ...]:
    """What the paper may have compared: as the record says, as its difference shows, or either.

    With SDs of change `printed` and no difference, it is taken to have tested the changes.
    """
    both = ("changes", "scores after training")
    comparison = held.comparison
    if comparison.of is not None:
        return both[:1] if comparison.of == "change" else both[1:]
    value = None if comparison.difference is None else Rounded.printed(comparison.difference.value)
    if value is None or comparison.adjusted:
        return both[:1] if printed and not comparison.adjusted else both
    differences = differences_of_arms(held.one, held.other)
    met = {words for words, each in differences.items() if value.meets(each)}
    post = both[1] in met
    changes = bool(met - {both[1]})
    return both if post == changes else both[1:] if post else both[:1]


def _change(row: Row, n: int) -> _Side | None:
    known = change_sd(row)
    if known is None or row.gain is None:
        return None
    if known.words:
        may_be = all(_may_be_se(cell, row) for cell in (row.pre, row.post))
    else:
        before = row.pre.sd.value if row.pre is not None and row.pre.sd is not None else None
        as_sd = known.sd.value * sqrt(n)
        may_be = row.change.sd_printed and (before is None or as_sd <= limits.AS_CHANGE * before)
    return _Side(row.gain, known.sd, n, may_be, known.words, known.sums)


def _post(row: Row, n: int) -> _Side | None:
    if row.post is None or row.post.mean is None or row.post.sd is None:
        return None
    return _Side(row.post.mean, row.post.sd, n, _may_be_se(row.post, row))


def _may_be_se(cell: Cell, row: Row) -> bool:
    """Whether a printed SD, taken for a standard error, would be an SD that groups have."""
    if not cell.sd_printed or row.n is None:
        return False
    if cell.mean is None or cell.mean.value <= 0:
        return True
    known = limits.SPREAD_LIMITS.get(row.outcome.construct_id)
    highest = known.impossible if known else limits.OTHER_IMPOSSIBLE
    return cell.sd.value * sqrt(row.n) / cell.mean.value <= highest


def _own_test(held: _Held, words: str, sides: Sequence[_Side]) -> OwnTest | None:
    """t test of two arms, pooled or not, or of people's own differences."""
    one, other = sides
    if held.paired:
        se, sums = _paired_se(held.one.outcome, one, other)
    else:
        se, sums = _se(one, other)
    if se.low <= 0:
        return None
    size = significance.size_of(one.mean - other.mean)
    statistic = Rounded(size.value / se.value, size.low / se.high, size.high / se.low)
    sources = dict.fromkeys(side.words for side in sides if side.words)
    named = f"{words} ({', '.join(sources)})" if sources else words
    if one.sums and other.sums:
        sums = f"SDs of change {one.sums} and {other.sums}; {sums}"
    return OwnTest(named, se, significance.p_of_statistic(statistic, held.df), sums)


def _se(one: _Side, other: _Side) -> tuple[Rounded, str]:
    """Lowest and highest of the pooled standard error and that of unequal variances."""
    ends = []
    for end in ("value", "low", "high"):
        sds = [getattr(side.sd, end) for side in (one, other)]
        apart = sqrt(sds[0] ** 2 / one.n + sds[1] ** 2 / other.n)
        together = pooled(sds[0], one.n, sds[1], other.n) * sqrt(1 / one.n + 1 / other.n)
        ends.append((together, min(together, apart), max(together, apart)))
    sums = (
        f"√({told(one.sd.value)}² / {one.n} + {told(other.sd.value)}² / {other.n}) = "
        f"{told(sqrt(one.sd.value**2 / one.n + other.sd.value**2 / other.n))}"
    )
    return Rounded(ends[0][0], ends[1][1], ends[2][2]), sums


def _paired_se(outcome: Outcome, one: _Side, other: _Side) -> tuple[Rounded, str]:
    """√(s₁² + s₂² − 2·r·s₁·s₂)/√n, r that of the two limbs or periods."""
    r = Rounded.printed(outcome.r_between_arms)
    if r is None:
        low, high = limits.BETWEEN_ARMS_OPEN
        r = Rounded((low + high) / 2, low, high)
    n = min(one.n, other.n)
    ends = []
    for end, correlation in (("value", r.value), ("low", r.high), ("high", r.low)):
        s1, s2 = (getattr(side.sd, end) for side in (one, other))
        ends.append(sqrt(max(s1**2 + s2**2 - 2 * correlation * s1 * s2, 0.0) / n))
    s1, s2 = told(one.sd.value), told(other.sd.value)
    sums = f"√(({s1}² + {s2}² − 2 × {told(r.value)} × {s1} × {s2}) / {n}) = {told(ends[0])}"
    return Rounded(*ends), sums


def _adjusted(held: _Held, tests: Sequence[OwnTest]) -> Rounded | None:
    """Standard error of a difference adjusted for the start, between s·√(1 − r²) and the rest."""
    ses = [test.se for test in tests]
    posts = [_post(held.one, held.n_one), _post(held.other, held.n_other)]
    if None not in posts and not held.paired:
        se, _ = _se(*posts)
        spans = [plausible_correlation(row)[0] for row in (held.one, held.other)]
        highest = max(span.high for span in spans)
        ses.append(Rounded(se.value, se.low * sqrt(max(1 - highest**2, 0.0)), se.high))
    if not ses:
        return None
    return Rounded(ses[0].value, min(se.low for se in ses), max(se.high for se in ses))


def _uncertainty(held: _Held) -> Iterator[IntegrityFinding]:
    effect = held.comparison.difference
    printed = None if effect is None else significance.standard_error_of(effect, held.df)
    if printed is None:
        return
    tests = _readings(held)
    if not tests:
        return
    spans = [test.se for test in tests]
    if held.comparison.adjusted:
        adjusted = _adjusted(held, tests)
        spans = [adjusted] if adjusted is not None else spans
    factor = min(_apart(printed, span) for span in spans)
    fits = _value_fits(held)
    if factor <= (limits.SE_RATIO if fits else limits.SE_WARNING) or not (fits or len(tests) == 2):
        return
    nearest = min(tests, key=lambda test: _apart(printed, test.se))
    mended = [
        test
        for test in _readings(held, as_standard_errors=True)
        if _apart(printed, test.se) <= limits.SE_RATIO
    ]
    if mended:
        hint = (
            f"with the SDs read as standard errors it would be {told(mended[0].se.value)}, which "
            "fits: write them as se if they are"
        )
    else:
        hint = "check the digits, n, the level of the interval, and whether the paper adjusted it"
    place, shown = _where(effect, held.path, printed)
    yield found(
        held.study,
        place,
        "uncertainty-does-not-follow",
        f"{shown} is not what the arms' {nearest.words} give, a standard error of "
        f"{_span(nearest.se)}, {told(factor)} times "
        f"{'larger' if printed.value < nearest.se.value else 'smaller'} at the nearest: {hint}",
        severity="warning" if mended or factor > limits.SE_WARNING else "note",
        outcome=held.comparison.outcome,
        arithmetic=nearest.arithmetic,
    )


def _value_fits(held: _Held) -> bool:
    """Whether a difference is one of the arms', or none is printed.

    Where it is not, the paper may have compared what these arms do not print.
    """
    effect = held.comparison.difference
    value = None if effect is None else Rounded.printed(effect.value)
    if effect is None:
        return True
    differences = differences_of_arms(held.one, held.other)
    return value is not None and any(value.meets(each) for each in differences.values())


def _apart(one: Rounded, other: Rounded) -> float:
    """The factor between two spans at their nearest; 1 where they meet."""
    return max(1.0, one.low / other.high, other.low / one.high)


def _span(span: Rounded) -> str:
    if told(span.low) == told(span.high):
        return told(span.value)
    return f"{told(span.low)} to {told(span.high)}"


def _where(effect: ReportedEffect, path: str, se: Rounded) -> tuple[str, str]:
    if effect.se is not None:
        return f"{path}.difference.se", f"the standard error {effect.se} of the difference"
    key = next(key for key in INTERVAL_KEYS if getattr(effect, key) is not None)
    low, high = getattr(effect, key)
    shown = f"the interval {low} to {high} of the difference, a standard error of {told(se.value)},"
    return f"{path}.difference.{key}", shown


def _test(held: _Held) -> Iterator[IntegrityFinding]:
    """A printed p, t or F against the tests that the arms' own numbers give."""
    tests = printed_tests(held.comparison, held.path, held.df)
    own = _readings(held)
    if not tests or not own or not (_value_fits(held) or len(own) == 2):
        return
    place, words, printed = tests[-1]
    if not all(significance.contradict(each.p, printed) for each in own):
        return
    nearest = min(own, key=lambda each: abs(each.p.value - printed.value))
    severity, hint = "note", "check n, the SDs and what was tested"
    if printed.value > nearest.p.value:
        mended = [
            each
            for each in _readings(held, as_standard_errors=True)
            if significance.agree(each.p, printed)
        ]
        if mended:
            severity = "warning"
            hint = (
                "with the SDs read as standard errors it would be "
                f"{significance.told_p(mended[0].p.value)}, which fits: write them as se if they "
                "are"
            )
    yield found(
        held.study,
        place,
        "test-does-not-follow",
        f"{_said(held.comparison, words, printed)}, but the arms' {nearest.words} give "
        f"{_p_span(nearest.p)}: {hint}",
        severity=severity,
        outcome=held.comparison.outcome,
        arithmetic=f"t test of the arms' own numbers, {held.df} degrees of freedom, standard "
        f"error {nearest.arithmetic}: {significance.told_p(nearest.p.value)}",
    )


def _said(comparison: Comparison, words: str, printed: Rounded) -> str:
    if words == "printed p":
        bound = isinstance(comparison.p, str)
        return f"the paper prints p {comparison.p if bound else f'= {comparison.p}'}"
    return f"the {words} means {significance.told_p(printed.value)}"


def _p_span(p: Rounded) -> str:
    if p.high <= 1.5 * p.low or p.high < limits.P_LEAST:
        return significance.told_p(p.value)
    if p.low < limits.P_LEAST:
        return f"p up to {told(p.high)}"
    return f"p = {told(p.low)} to {told(p.high)}"
