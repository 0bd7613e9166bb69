"""SDs before, after and of change that no correlation ties together."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from steelyard.judging.integrity import integrity_findings, suspect_results
from steelyard.judging.integrity.correlations import correlation_span
from steelyard.judging.integrity.rounded import Rounded
from steelyard.records.record_set import load_records
from steelyard.reporting import change_sd_from_r
from tests.small_library import result, study


def findings(folder, pre, post, change, *, more="", **words):
    cells = {
        "pre": f"{{ mean = 100, sd = {pre} }}",
        "post": f"{{ mean = 110, sd = {post} }}",
        "change": f"{{ mean = 10, sd = {change} }}",
    }
    study(folder, "a", result("slow", **cells) + more, **words)
    found = integrity_findings(load_records(folder).studies)
    return {finding.rule: finding for finding in found if "correlation" in finding.rule}


@pytest.mark.parametrize("change", ["61", "3.0", "0.5", "500"])
def test_every_impossible_correlation_is_caught(tmp_path, change):
    found = findings(tmp_path, "25", "30", change)
    assert found.keys() == {"impossible-correlation"}
    finding = found["impossible-correlation"]
    assert (finding.severity, finding.suspect) == ("warning", True)
    assert finding.path == "result[1].change.sd"
    assert ("a", "peak") in suspect_results([finding])


@pytest.mark.parametrize(
    ("pre", "post", "change", "rules"),
    [
        # |30 − 25| = 5, at least 29.5 − 25.5 = 4 with rounding: 3.9 (at most 3.95) is
        # impossible, 4.0 (at most 4.05) is not.
        ("25", "30", "3.9", {"impossible-correlation"}),
        ("25", "30", "4.0", {"correlation-beyond-one"}),
        ("25", "30", "4.9", {"correlation-beyond-one"}),
        ("25", "30", "5", set()),
        # 25 + 30 = 55, at most 56 with rounding; 56.6 rounds from 56.55.
        ("25", "30", "55", set()),
        ("25", "30", "55.5", {"correlation-beyond-one"}),
        ("25", "30", "56.0", {"correlation-beyond-one"}),
        ("25", "30", "56.2", {"impossible-correlation"}),
        ("25.00", "30.00", "4.9", {"impossible-correlation"}),
    ],
)
def test_boundaries_from_both_sides(tmp_path, pre, post, change, rules):
    found = findings(tmp_path, pre, post, change)
    assert found.keys() == rules
    if "correlation-beyond-one" in found:
        finding = found["correlation-beyond-one"]
        assert (finding.severity, finding.suspect) == ("note", False)


def test_all_impossible_and_no_possible_triples():
    """Second route: SDs of drawn people never fall outside, shrunk ones always do."""
    random = np.random.default_rng(7)
    for _ in range(200):
        before = random.normal(100, 20, 12)
        after = before * random.uniform(0.8, 1.3) + random.normal(8, 3, 12)
        sds = [float(np.std(each, ddof=1)) for each in (before, after, after - before)]
        printed = [Rounded(round(sd, 1), round(sd, 1) - 0.05, round(sd, 1) + 0.05) for sd in sds]
        true_r = float(np.corrcoef(before, after)[0, 1])
        span = correlation_span(*printed)
        assert span.low - 1e-9 <= true_r <= span.high + 1e-9


@pytest.mark.parametrize("r", [-0.9, 0.0, 0.5, 0.85, 0.99])
def test_correlation_span_inverts_the_change_sd(r):
    change = change_sd_from_r(20.0, 24.0, r=r).value
    exact = [Rounded(value, value, value) for value in (20.0, 24.0, change)]
    assert correlation_span(*exact).value == pytest.approx(r, abs=1e-12)


def test_span_reaches_its_inner_lowest_point():
    # The lowest r over s₁ lies at s₁ = √(s₂² − s_Δ²) = 4 for s₂ 5, s_Δ 3, where r = s₁/s₂ = 0.8:
    # own calculus.
    span = correlation_span(Rounded(4.0, 3.0, 5.0), Rounded(5.0, 5.0, 5.0), Rounded(3.0, 3.0, 3.0))
    assert span.low == pytest.approx(0.8, abs=1e-12)
    assert span.high == pytest.approx(max((9 + 25 - 9) / 30, (25 + 25 - 9) / 50))


def test_printed_correlation_from_both_sides(tmp_path):
    # (25² + 30² − 15²)/(2·25·30) = 0.8667; with rounding of the SDs about 0.84 to 0.90.
    sds = ("25", "30", "15")
    assert not findings(tmp_path, *sds, more="r = 0.87\n")
    assert not findings(tmp_path, *sds, more="r = 0.85\n")
    found = findings(tmp_path, *sds, more="r = 0.70\n")
    assert found["correlation-mismatch"].path == "result[1].r"


def test_hint_names_the_standard_error(tmp_path):
    # |30.0 − 25.0| = 5 is more than 4.0; 4.0·√20 = 17.9 is a possible SD of change.
    found = findings(tmp_path, "25.0", "30.0", "4.0")
    assert f"the SD of change is {4 * sqrt(20):.1f}" in found["impossible-correlation"].message
    assert "write se = 4.0" in found["impossible-correlation"].message


def test_figures_are_not_suspect(tmp_path):
    found = findings(tmp_path, "25", "30", "3.0", more='read_off = "figure"\n')
    assert not found["impossible-correlation"].suspect
