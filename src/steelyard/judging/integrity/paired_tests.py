"""The test that a paper prints of one arm's change, against that change and its spread."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from steelyard.judging.integrity import significance
from steelyard.judging.integrity.change_sds import ChangeSd, change_sd, sd_of_change
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import Rounded, told

LEAST_OF_RANKS = 4.0
"""Over 2ⁿ: twice the least p that a signed-rank test of n people can print."""
_ANY_R = Rounded(0.0, -1.0, 1.0)


def paired_test_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """A t or p of the change that mean, SD and n do not give; t = mean·√n/SD on n − 1."""
    for row in laid.rows:
        if row.n is None or row.change is None or not row.change.sharp:
            continue
        spread = row.change.spread
        tests = []
        t = Rounded.printed(spread.t)
        if t is not None:
            size = significance.size_of(t)
            tests.append(("t", spread.t, significance.p_of_statistic(size, row.n - 1)))
        p = significance.p_as_printed(spread.p)
        if p is not None:
            tests.append(("p", spread.p, p))
        for name, shown, span in tests:
            finding = _against_spread(laid.study.id, row, name, shown, span)
            if finding is not None:
                yield finding
                break
        if len(tests) == 2 and significance.contradict(tests[0][2], tests[1][2]):
            yield found(
                laid.study.id,
                f"{row.change.path}.p",
                "test-mismatch",
                f"t = {spread.t} with n {row.n} means p = {told(tests[0][2].value)}, but "
                f"p = {spread.p} is printed beside it: check both and n",
                severity="warning",
                outcome=row.outcome.id,
                arithmetic=f"t = {spread.t} on {row.n - 1} degrees of freedom: "
                f"p = {told(tests[0][2].value)}",
            )


def _p(mean: Rounded, sd: Rounded, n: int) -> Rounded | None:
    if sd.high <= 0:
        return None
    size, root = significance.size_of(mean), sqrt(n)
    low = max(sd.low, 1e-12 * sd.high)
    statistic = Rounded(
        size.value * root / sd.value, size.low * root / sd.high, size.high * root / low
    )
    return significance.p_of_statistic(statistic, n - 1)


def _against_spread(study: str, row: Row, name: str, shown, printed) -> IntegrityFinding | None:
    mean = row.change.mean or row.gain
    known = change_sd(row)
    if mean is None or known is None or known.sd.value <= 0:
        return None
    own = _p(mean, known.sd, row.n)
    if own is None:
        return None
    least = LEAST_OF_RANKS / 2.0 ** min(row.n, 60) if name == "p" else 0.0
    held = Rounded(own.value, own.low, max(own.high, least))
    if not significance.contradict(held, printed):
        return None
    means = "" if name == "p" else f", which means p = {told(printed.value)},"
    severity, why = _why(row, name, mean, known, own, printed)
    t = mean.value * sqrt(row.n) / known.sd.value
    return found(
        study,
        f"{row.change.path}.{name}",
        "paired-test-does-not-follow",
        f"{name} = {shown}{means} is not what the change {told(mean.value)} gives: {why}",
        severity=severity,
        outcome=row.outcome.id,
        arithmetic=f"t = {told(mean.value)} × √{row.n} / {told(known.sd.value)} = {told(t)}, "
        f"p = {told(own.value)} on {row.n - 1} degrees of freedom",
    )


def _why(
    row: Row, name: str, mean: Rounded, known: ChangeSd, own: Rounded, printed: Rounded
) -> tuple[str, str]:
    """Severity, and in words what the test was held against and what may explain it."""
    if known.words:
        whatever = _p(mean, sd_of_change(row.pre.sd, row.post.sd, _ANY_R), row.n)
        if whatever is not None and significance.contradict(whatever, printed):
            said = "no correlation of before and after would, not even −1 or 1"
            return "warning", f"{said}; check the change, its test, n and both SDs"
        said = f"with the SDs before and after it would take another correlation than {known.words}"
        return "note", f"{said}; check the change, its test, n and both SDs"
    said = f"with its SD {told(known.sd.value)} and n {row.n}, p = {told(own.value)}"
    mended = _p(mean, known.sd.times(sqrt(row.n)), row.n) if row.change.sd_printed else None
    if mended is not None and significance.agree(mended, printed):
        return "warning", (
            f"{said}; with {row.change.spread.sd} read as a standard error it is "
            f"{told(mended.value)}, which fits: write it as se if it is"
        )
    severity = "warning" if name == "t" else "note"
    return severity, f"{said}; check the change, its SD, n, and what was tested"
