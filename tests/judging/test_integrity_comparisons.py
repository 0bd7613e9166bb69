"""Reported differences, intervals, tests and standardised effects against the arms."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from scipy import stats

from steelyard.judging.integrity import integrity_findings
from steelyard.judging.integrity.rounded import Rounded
from steelyard.judging.integrity.significance import p_as_printed, p_of_statistic
from steelyard.records.record_set import load_records
from tests.small_library import comparison, result, study

ARMS = result("slow", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 115.0, sd = 21.0 }")
ARMS += result("usual", pre="{ mean = 102.0, sd = 20.0 }", post="{ mean = 110.0, sd = 21.0 }")


def findings(folder, body, rule, **words):
    study(folder, "a", body, **words)
    records = load_records(folder)
    assert not [finding for finding in records.findings if finding.severity == "fault"]
    return [finding for finding in integrity_findings(records.studies) if finding.rule == rule]


@pytest.mark.parametrize(
    ("value", "severity"),
    [
        # Changes 15 − 8 = 7.0, scores 115 − 110 = 5.0; four roundings of 0.05 and its own.
        ("7.0", None),
        ("7.2", None),
        ("5.1", None),
        ("7.3", "note"),
        ("9.0", "note"),
        ("9.1", "warning"),  # more than a tenth of SD 20 from the nearest
        ("-7.0", "warning"),
    ],
)
def test_difference_from_both_sides(tmp_path, value, severity):
    body = ARMS + comparison(difference=f"{{ value = {value}, se = 4.0 }}")
    found = findings(tmp_path, body, "difference-mismatch")
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    if value == "-7.0":
        assert "sign is turned" in found[0].message


def test_adjusted_difference_is_left_alone(tmp_path):
    body = ARMS + comparison(difference="{ value = 9.1, se = 4.0 }", adjusted="true")
    assert not findings(tmp_path, body, "difference-mismatch")


@pytest.mark.parametrize(("value", "times"), [("7.0", 0), ("7.9", 0), ("8.0", 1), ("6.0", 1)])
def test_interval_centre_from_both_sides(tmp_path, value, times):
    # Middle 7.0, width 16: 5 % is 0.8, and roundings of 0.05 + 0.05.
    body = comparison(difference=f"{{ value = {value}, ci95 = [-1.0, 15.0] }}")
    assert len(findings(tmp_path, body, "interval-off-centre")) == times


def test_p_that_follows_and_p_that_does_not(tmp_path):
    # 7.0/3.5 = 2.0 on 38 degrees of freedom: p = 0.0527 (distribution of t).
    assert 2 * stats.t.sf(2.0, 38) == pytest.approx(0.0527, abs=5e-5)
    effect = "{ value = 7.0, se = 3.50 }"
    for p in ("0.053", "0.026", '"<0.05"', "0.1"):  # also one-sided, also nearly the bound
        body = comparison(difference=effect, p=p)
        assert not findings(tmp_path, body, "test-mismatch"), p
    for p in ("0.31", "0.002", '"<0.01"'):
        body = comparison(difference=effect, p=p)
        assert findings(tmp_path, body, "test-mismatch"), p


@pytest.mark.parametrize(
    ("interval", "p", "times"),
    [
        ("[0.5, 13.5]", "0.036", 0),
        ("[0.5, 13.5]", "0.06", 1),
        ("[-0.5, 14.5]", "0.04", 1),
        ("[-0.5, 14.5]", "0.066", 0),
        ("[0.0, 14.0]", "0.05", 0),
        ("[-0.5, 14.5]", '"<0.05"', 0),  # a bound that holds 0.05 itself
    ],
)
def test_interval_and_p_on_different_sides(tmp_path, interval, p, times):
    body = comparison(difference=f"{{ value = 7.0, ci95 = {interval} }}", p=p)
    assert len(findings(tmp_path, body, "test-mismatch")) == times


@pytest.mark.parametrize(
    ("words", "times"),
    [
        ({"t": "2.10", "f": "4.41"}, 0),  # 2.1² = 4.41
        ({"t": "2.10", "f": "3.00"}, 0),  # p .042 and .091: within a factor of 3
        ({"t": "3.00", "f": "3.00"}, 1),
        ({"t": "2.10", "p": "0.042"}, 0),
        ({"t": "2.10", "p": "0.42"}, 1),
        ({"f": "4.41", "p": "0.042"}, 0),
        ({"f": "4.41", "p": '">0.05"'}, 0),
        ({"f": "12.0", "p": '">0.05"'}, 1),
    ],
)
def test_tests_against_each_other(tmp_path, words, times):
    assert len(findings(tmp_path, comparison(**words), "test-mismatch")) == times


def test_p_spans():
    span = p_of_statistic(Rounded(2.0, 1.95, 2.05), 20)
    assert span.value == pytest.approx(2 * stats.t.sf(2.0, 20))
    assert span.low == pytest.approx(2 * stats.norm.sf(2.05))
    assert span.high == pytest.approx(2 * stats.t.sf(1.95, 20))
    assert p_as_printed("<0.05") == Rounded(0.05, 0.0, 0.05)
    assert p_as_printed(">0.05") == Rounded(0.05, 0.05, 1.0)
    assert p_as_printed(">7") is None
    assert p_as_printed(None) is None


def change_arms(sd):
    spread = f"{{ mean = 15.0, sd = {sd} }}", f"{{ mean = 8.0, sd = {sd} }}"
    return result("slow", change=spread[0]) + result("usual", change=spread[1])


def test_p_against_the_arms(tmp_path):
    # t = 7/(10·√(2/20)) = 2.21, p = 0.033; scipy's own test from the same statistics agrees.
    own = stats.ttest_ind_from_stats(15.0, 10.0, 20, 8.0, 10.0, 20).pvalue
    assert own == pytest.approx(2 * stats.t.sf(7 / (10 * sqrt(0.1)), 38))
    rule = "test-does-not-follow"
    assert not findings(tmp_path, change_arms("10.0") + comparison(p=f"{own:.3f}"), rule)
    assert not findings(tmp_path, change_arms("10.0") + comparison(p="0.09"), rule)
    (finding,) = findings(tmp_path, change_arms("10.0") + comparison(p="0.30"), rule)
    assert finding.severity == "note"


def test_p_reveals_standard_errors(tmp_path):
    # The same 10.0 printed as SE 2.24: the p of the SD fits only when read as standard errors.
    body = change_arms("2.24") + comparison(p="0.033")
    (finding,) = findings(tmp_path, body, "test-does-not-follow")
    assert finding.severity == "warning"
    assert "write them as se" in finding.message


@pytest.mark.parametrize(
    ("value", "times"),
    [
        # SDs 20 and 21, differences 7 and 5, n 20: 0.35, 0.333, 0.25, 0.238; × 0.980 corrected.
        ("0.35", 0),
        ("0.34", 0),
        ("0.25", 0),
        ("-0.35", 1),  # turned
        ("0.30", 1),
        ("1.57", 1),  # 0.35·√20: a standard error as the divisor
    ],
)
def test_standardised_from_both_sides(tmp_path, value, times):
    body = ARMS + comparison(standardised=f"{{ value = {value}, se = 0.32 }}")
    found = findings(tmp_path, body, "standardised-mismatch")
    assert len(found) == times
    expected = "warning" if value.startswith("-") else "note"
    assert all(finding.severity == expected for finding in found)


def test_no_true_comparison_is_doubted(tmp_path):
    """Drawn people, everything computed from them and rounded: nothing to find."""
    random = np.random.default_rng(11)
    rules = {"difference-mismatch", "interval-off-centre", "test-mismatch"}
    rules |= {"test-does-not-follow", "standardised-mismatch"}
    for index in range(40):
        changes, body = [], ""
        for arm, gain in (("slow", 14), ("usual", 9)):
            before = random.normal(100, 20, 14)
            after = before + random.normal(gain, 9, 14)
            changes.append(after - before)
            cells = {
                name: f"{{ mean = {each.mean():.1f}, sd = {each.std(ddof=1):.1f} }}"
                for name, each in (("pre", before), ("post", after), ("change", after - before))
            }
            body += result(arm, n="14", **cells)
        test = stats.ttest_ind(*changes)
        interval = test.confidence_interval()
        value = changes[0].mean() - changes[1].mean()
        effect = f"{{ value = {value:.2f}, ci95 = [{interval.low:.2f}, {interval.high:.2f}] }}"
        p = f"{max(test.pvalue, 0.001):.3f}"
        body += comparison(difference=effect, t=f"{test.statistic:.2f}", p=p)
        study(tmp_path, f"drawn-{index}", body)
    found = integrity_findings(load_records(tmp_path).studies)
    assert not [str(finding) for finding in found if finding.rule in rules]
