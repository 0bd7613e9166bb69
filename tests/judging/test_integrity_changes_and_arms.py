"""Changes, percents, baseline gaps and direction: each from both sides of its limit."""

from __future__ import annotations

import numpy as np
import pytest

from steelyard.judging.integrity import integrity_findings
from steelyard.judging.integrity.changes import percent_span
from steelyard.judging.integrity.rounded import Rounded
from steelyard.records.record_set import load_records
from tests.small_library import result, study


def findings(folder, body, rule, **words):
    study(folder, "a", body, **words)
    found = integrity_findings(load_records(folder).studies)
    return [finding for finding in found if finding.rule == rule]


def means(pre, post, **more):
    return result("slow", pre=f"{{ {pre} }}", post=f"{{ {post} }}", **more)


@pytest.mark.parametrize(
    ("change", "severity"),
    [
        # 112.4 − 100.2 = 12.2, between 12.1 and 12.3 with rounding; the change's own rounding
        # comes on top. SD 20: a tenth is 2.0.
        ("12.2", None),
        ("12.3", None),
        ("12.30", None),
        ("12.31", "note"),
        ("12.4", "note"),
        ("14.2", "note"),
        ("14.3", "warning"),
        ("-12.2", "warning"),
    ],
)
def test_mean_change_from_both_sides(tmp_path, change, severity):
    body = means(
        "mean = 100.2, sd = 20.0", "mean = 112.4, sd = 20.0", change=f"{{ mean = {change} }}"
    )
    found = findings(tmp_path, body, "change-mismatch")
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    if change == "-12.2":
        assert "sign is turned" in found[0].message
        assert found[0].arithmetic == "112.4 − 100.2 = 12.2"


def test_coarse_digits_and_figures_are_forgiven(tmp_path):
    coarse = means("mean = 100, sd = 20", "mean = 112, sd = 20", change="{ mean = 13 }")
    assert not findings(tmp_path, coarse, "change-mismatch")
    figure = means(
        *("mean = 100.2, sd = 20.0", "mean = 112.4, sd = 20.0"),
        change="{ mean = 15.0 }",
        read_off='"figure"',
    )
    assert not findings(tmp_path, figure, "change-mismatch")


def test_no_true_change_is_refused():
    """Means of drawn people, rounded, always agree with their rounded mean change."""
    random = np.random.default_rng(3)
    for decimals in (0, 1, 2):
        half = 0.5 * 10.0**-decimals
        for _ in range(300):
            before, after = random.normal(50, 9, 11), random.normal(55, 9, 11)
            values = (before.mean(), after.mean(), (after - before).mean())
            pre, post, change = (
                Rounded(round(v, decimals), round(v, decimals) - half, round(v, decimals) + half)
                for v in values
            )
            assert change.meets(post - pre)


@pytest.mark.parametrize(
    ("percent", "severity"),
    [
        # 112/100 = +12 %, 10.9 to 13.1 with rounding; 3 points and the percent's rounding on top.
        ("12.0", None),
        ("16.1", None),
        ("16.3", "note"),
        ("25.1", "note"),
        ("25.3", "warning"),
        ("-12.0", "warning"),
    ],
)
def test_percent_change_from_both_sides(tmp_path, percent, severity):
    body = means(
        *("mean = 100, sd = 20", "mean = 112, sd = 20"),
        change_percent=f"{{ mean = {percent} }}",
    )
    found = findings(tmp_path, body, "percent-mismatch")
    assert [finding.severity for finding in found] == ([severity] if severity else [])


@pytest.mark.parametrize(
    ("percent", "of", "severity"),
    [
        # 236.4/212.0 = +11.51 %, 11.46 to 11.56 with rounding: a percent of means has no more.
        ("11.5", "means", None),
        ("11.6", "means", None),  # 11.55 to 11.65
        ("11.7", "means", "note"),
        ("14.0", "means", "note"),
        ("14.7", "means", "warning"),
        ("-11.5", "means", "warning"),
        ("14.0", "people", None),
        ("14.7", "people", "note"),
        ("14.0", None, None),  # may be either
    ],
)
def test_percent_of_means_or_of_people(tmp_path, percent, of, severity):
    more = f', of = "{of}"' if of else ""
    body = means(
        *("mean = 212.0, sd = 41.5", "mean = 236.4, sd = 44.0"),
        change_percent=f"{{ mean = {percent}{more} }}",
    )
    found = findings(tmp_path, body, "percent-mismatch")
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    if found:
        assert found[0].arithmetic == "100 × (236.4 / 212.0 − 1) = 11.5"
    if of == "means" and found:
        assert 'write of = "people"' in found[0].message


@pytest.mark.parametrize(("percent", "times"), [("11.5", 0), ("14.0", 0), ("40.0", 1)])
def test_percent_against_start_and_change(tmp_path, percent, times):
    body = result(
        "slow",
        pre="{ mean = 212.0, sd = 41.5 }",
        change="{ mean = 24.4, sd = 15.0 }",
        change_percent=f"{{ mean = {percent} }}",
    )
    found = findings(tmp_path, body, "percent-mismatch")
    assert len(found) == times
    if found:
        assert found[0].arithmetic == "100 × 24.4 / 212.0 = 11.5"


def test_a_percent_of_means_read_off_a_figure_has_the_wider_margin(tmp_path):
    cells = {"change_percent": '{ mean = 13.0, of = "means" }', "read_off": '"figure"'}
    body = means("mean = 212.0, sd = 41.5", "mean = 236.4, sd = 44.0", **cells)
    assert not findings(tmp_path, body, "percent-mismatch")


def test_percent_span_holds_every_rounding():
    span = percent_span(Rounded(100, 99.5, 100.5), Rounded(112, 111.5, 112.5))
    grid = [
        100 * (post / pre - 1)
        for pre in np.linspace(99.5, 100.5, 21)
        for post in np.linspace(111.5, 112.5, 21)
    ]
    assert span.low == pytest.approx(min(grid))
    assert span.high == pytest.approx(max(grid))
    assert percent_span(Rounded(0.4, -0.1, 0.9), Rounded(1, 0.5, 1.5)) is None


@pytest.mark.parametrize(
    ("start", "severity"),
    [("105.0", None), ("105.1", "note"), ("110.0", "note"), ("110.1", "warning")],
)
def test_baseline_gap_from_both_sides(tmp_path, start, severity):
    # SD 20 in both arms: 5.0 is 0.25 SD and 10.0 is 0.5 SD.
    body = result(
        "slow", pre=f"{{ mean = {start}, sd = 20.0 }}", post="{ mean = 120.0, sd = 20.0 }"
    )
    body += result("usual", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 115.0, sd = 20.0 }")
    found = findings(tmp_path, body, "baseline-gap")
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    if found:
        assert found[0].path == "result[2].pre.mean"


def test_baseline_gap_is_told_once_over_weeks(tmp_path):
    body = ""
    for week in (6, 12):
        for arm, start in (("slow", 120.0), ("usual", 100.0)):
            pre = f"{{ mean = {start}, sd = 20.0 }}"
            body += result(arm, week=week, pre=pre, post="{ mean = 130.0, sd = 20.0 }")
    assert len(findings(tmp_path, body, "baseline-gap")) == 1


@pytest.mark.parametrize(
    ("slow", "usual", "better", "times"),
    [
        # SD 20: 0.2 SD is 4.0.
        ("95.9", "95.9", "higher", 1),
        ("96.0", "95.9", "higher", 0),
        ("104.0", "95.9", "higher", 0),
        ("104.1", "104.1", "lower", 1),
        ("104.1", "104.1", "higher", 0),
    ],
)
def test_all_arms_worse_from_both_sides(tmp_path, slow, usual, better, times):
    body = ""
    for arm, after in (("slow", slow), ("usual", usual)):
        pre = "{ mean = 100.0, sd = 20.0 }"
        body += result(arm, pre=pre, post=f"{{ mean = {after}, sd = 20.0 }}")
    assert len(findings(tmp_path, body, "all-arms-worse", better=better)) == times


def start(median, low, high):
    return f"{{ median = {median}, iqr = [{low}, {high}] }}"


@pytest.mark.parametrize(
    ("slow", "severity"),
    [
        # Symmetric quartiles 28 either way: the mean is the median, the SD 56/1.349 or so = 43.
        (start("250.0", "222.0", "278.0"), "warning"),
        (start("222.0", "194.0", "250.0"), "note"),
        (start("212.0", "184.0", "240.0"), None),
    ],
)
def test_baseline_gap_of_medians(tmp_path, slow, severity):
    body = result("slow", pre=slow, post=start("260.0", "232.0", "288.0"))
    body += result(
        "usual", pre=start("208.0", "180.0", "236.0"), post=start("215.0", "187.0", "243.0")
    )
    found = findings(tmp_path, body, "baseline-gap")
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    if found:
        assert found[0].path == "result[2].pre.median"
        assert "(from the median 208.0)" in found[0].message


def test_baseline_gap_of_subgroups(tmp_path):
    groups = (
        "{{ groups = [{{ n = 10, mean = {0}, sd = 30.0 }}, {{ n = 10, mean = {1}, sd = 30.0 }}] }}"
    )
    body = result("slow", pre=groups.format(230.0, 270.0))
    body += result("usual", pre=groups.format(190.0, 230.0))
    (finding,) = findings(tmp_path, body, "baseline-gap")
    assert finding.severity == "warning"
    assert "250 over its subgroups" in finding.message


@pytest.mark.parametrize(
    ("slow", "usual", "times"),
    [
        # SD 20: 0.3 SD is 6.0 and 0.05 SD is 1.0.
        ("93.9", "100.0", 1),
        ("94.0", "100.0", 0),
        ("93.9", "101.0", 1),
        ("93.9", "101.1", 0),
        ("100.0", "93.9", 1),
    ],
)
def test_one_arm_worse_beside_a_flat_one(tmp_path, slow, usual, times):
    body = ""
    for arm, after in (("slow", slow), ("usual", usual)):
        pre = "{ mean = 100.0, sd = 20.0 }"
        body += result(arm, pre=pre, post=f"{{ mean = {after}, sd = 20.5 }}")
    found = findings(tmp_path, body, "all-arms-worse")
    assert len(found) == times
    assert all(finding.severity == "note" for finding in found)


def test_an_arm_that_does_not_train_may_decline(tmp_path):
    body = ""
    for arm, after in (("slow", "100.0"), ("usual", "90.0")):
        pre = "{ mean = 100.0, sd = 20.0 }"
        body += result(arm, pre=pre, post=f"{{ mean = {after}, sd = 20.5 }}")
    assert findings(tmp_path, body, "all-arms-worse")
    path = study(tmp_path, "a", body)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('tags = ["usual"]', 'tags = ["no-training"]'), encoding="utf-8")
    found = integrity_findings(load_records(tmp_path).studies)
    assert not [finding for finding in found if finding.rule == "all-arms-worse"]


def test_without_sds_one_arm_worse_is_not_told(tmp_path):
    body = result("slow", pre="{ mean = 100.0 }", post="{ mean = 90.0 }")
    body += result("usual", pre="{ mean = 100.0 }", post="{ mean = 100.0 }")
    assert not findings(tmp_path, body, "all-arms-worse")
