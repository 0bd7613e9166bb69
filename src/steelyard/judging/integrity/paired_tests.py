"""The test that a paper prints of one arm's change, against that change and its spread."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt

from steelyard.judging.integrity import significance
from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.change_sds import ChangeSd, change_sd, sd_of_change
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import Rounded, told

LEAST_OF_RANKS = 4.0
"""Over 2ⁿ: twice the least p that a signed-rank test of n people can print."""
_ANY_R = Rounded(0.0, -1.0, 1.0)


@dataclass(frozen=True, slots=True)
class _Test:
    """A printed t or p of one change, as the span of |t| or of p."""

    name: str
    text: str
    span: Rounded

    def p(self, n: int) -> Rounded:
        if self.name == "p":
            return self.span
        return significance.p_of_statistic(self.span, n - 1)

    def contradicts(self, statistic: Rounded, n: int) -> bool:
        """Whether |t| worked out on n people cannot have printed this.

        t follows exactly from mean, SD and n; a p may come from ranks.
        """
        if self.name == "t":
            low, high = sorted((self.span, statistic), key=lambda each: each.value)
            return low.high * limits.T_RATIO < high.low
        own = significance.p_of_statistic(statistic, n - 1)
        least = LEAST_OF_RANKS / 2.0 ** min(n, 60)
        return significance.contradict(Rounded(own.value, own.low, max(own.high, least)), self.span)

    def fits(self, statistic: Rounded, n: int) -> bool:
        """Whether |t| worked out on n people explains this."""
        if self.name == "t":
            return not self.contradicts(statistic, n)
        return significance.agree(significance.p_of_statistic(statistic, n - 1), self.span)


def paired_test_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """A t or p of the change that mean, SD and n do not give; t = mean·√n/SD on n − 1."""
    for row in laid.rows:
        if row.n is None or row.change is None or not row.change.sharp:
            continue
        tests = _printed(row)
        for test in tests:
            finding = _against_spread(laid.study.id, row, test)
            if finding is not None:
                yield finding
                break
        if len(tests) == 2 and significance.contradict(*(test.p(row.n) for test in tests)):
            means = significance.told_p(tests[0].p(row.n).value)
            yield found(
                laid.study.id,
                f"{row.change.path}.p",
                "test-mismatch",
                f"t = {tests[0].text} with n {row.n} means {means}, but p = {tests[1].text} is "
                "printed beside it: check both and n",
                severity="warning",
                outcome=row.outcome.id,
                arithmetic=f"t = {tests[0].text} on {row.n - 1} degrees of freedom: {means}",
            )


def _printed(row: Row) -> list[_Test]:
    spread = row.change.spread
    tests = []
    t = Rounded.printed(spread.t)
    if t is not None:
        tests.append(_Test("t", str(spread.t), significance.size_of(t)))
    p = significance.p_as_printed(spread.p)
    if p is not None:
        tests.append(_Test("p", str(spread.p), p))
    return tests


def _statistic(mean: Rounded, sd: Rounded, n: int) -> Rounded:
    """|mean|·√n/SD with what rounding leaves open."""
    size, root = significance.size_of(mean), sqrt(n)
    low = max(sd.low, 1e-12 * sd.high)
    middle = max(sd.value, low)
    return Rounded(size.value * root / middle, size.low * root / sd.high, size.high * root / low)


def _against_spread(study: str, row: Row, test: _Test) -> IntegrityFinding | None:
    mean = row.change.mean or row.gain
    known = change_sd(row)
    if mean is None or known is None or known.sd.high <= 0:
        return None
    own = _statistic(mean, known.sd, row.n)
    if not test.contradicts(own, row.n):
        return None
    means = "" if test.name == "p" else f", which means {_told_p(test.p(row.n))},"
    severity, why = _why(row, test, mean, known, own)
    return found(
        study,
        f"{row.change.path}.{test.name}",
        "paired-test-does-not-follow",
        f"{test.name} = {test.text}{means} is not what the change {told(mean.value)} gives: {why}",
        severity=severity,
        outcome=row.outcome.id,
        arithmetic=(f"SD of change {known.sums}; " if known.sums else "")
        + f"t = {told(mean.value)} × √{row.n} / {told(known.sd.value)} = {told(own.value)}, "
        f"{_told_p(significance.p_of_statistic(own, row.n - 1))} on {row.n - 1} degrees of freedom",
    )


def _told_p(p: Rounded) -> str:
    return significance.told_p(p.value)


def _why(row: Row, test: _Test, mean: Rounded, known: ChangeSd, own: Rounded) -> tuple[str, str]:
    """Severity, and in words what the test was held against and what may explain it."""
    if known.words:
        any_sd = sd_of_change(row.pre.sd, row.post.sd, _ANY_R)
        if test.contradicts(_statistic(mean, any_sd, row.n), row.n):
            said = "no correlation of before and after would, not even −1 or 1"
            return "warning", f"{said}; check the change, its test, n and both SDs"
        said = f"with the SDs before and after it would take another correlation than {known.words}"
        return "note", f"{said}; check the change, its test, n and both SDs"
    p = significance.p_of_statistic(own, row.n - 1)
    said = (
        f"with its SD {told(known.sd.value)} and n {row.n}, t = {told(own.value)} and {_told_p(p)}"
    )
    if _may_be_se(row, known):
        mended = _statistic(mean, known.sd.times(sqrt(row.n)), row.n)
        if test.fits(mended, row.n):
            p = significance.p_of_statistic(mended, row.n - 1)
            return "warning", (
                f"{said}; with {row.change.spread.sd} read as a standard error "
                f"t = {told(mended.value)} and {_told_p(p)} would fit: write it as se if it is"
            )
    severity = "warning" if test.name == "t" else "note"
    return severity, f"{said}; check the change, its SD, n, and what was tested"


def _may_be_se(row: Row, known: ChangeSd) -> bool:
    """Whether the SD of change, taken for a standard error, would be one that people have."""
    if not row.change.sd_printed:
        return False
    before = row.pre.sd if row.pre is not None else None
    return before is None or known.sd.value * sqrt(row.n) <= limits.AS_CHANGE * before.value
