"""Spreads against each other: SE, interval, ratio, sameness."""

from __future__ import annotations

from math import sqrt

import pytest
from scipy import stats

from steelyard.judging.integrity import integrity_findings
from steelyard.records.record_set import load_records
from tests.small_library import result, study


def findings(folder, body, rule, **words):
    study(folder, "a", body, **words)
    found = integrity_findings(load_records(folder).studies)
    return [finding for finding in found if finding.rule == rule]


@pytest.mark.parametrize(("sd", "times"), [("20.0", 0), ("21.2", 0), ("21.5", 1), ("5.00", 1)])
def test_sd_against_standard_error_from_both_sides(tmp_path, sd, times):
    # 5.00·√16 = 20.0, to 20.02 with rounding, to 21.02 with 5 % on top; 21.2 rounds from 21.15.
    # 21.15/1.05 = 20.14 > 20.02, so the SE's own slack is asked as well.
    body = result("slow", post=f"{{ mean = 100.0, sd = {sd}, se = 5.0 }}")
    assert len(findings(tmp_path, body, "sd-se-mismatch", n_slow=16)) == times


@pytest.mark.parametrize("factor", [stats.t.ppf(0.975, 15), stats.norm.ppf(0.975)])
@pytest.mark.parametrize(("scale", "times"), [(1.0, 0), (1.04, 0), (0.96, 0), (1.3, 1), (0.7, 1)])
def test_sd_against_interval_from_both_sides(tmp_path, factor, scale, times):
    half = factor * 20.0 * scale / sqrt(16)  # t and normal quantiles both pass
    interval = f"[{100 - half:.3f}, {100 + half:.3f}]"
    body = result("slow", post=f"{{ mean = 100.00, sd = 20.00, ci95 = {interval} }}")
    assert len(findings(tmp_path, body, "sd-interval-mismatch", n_slow=16)) == times


@pytest.mark.parametrize(
    ("mean", "times"),
    # Middle 100, width 20: 5 % of it is 1.0, and roundings of 0.05 + 0.05.
    [("100.0", 0), ("101.1", 0), ("98.9", 0), ("101.2", 1), ("98.8", 1)],
)
def test_interval_centre_from_both_sides(tmp_path, mean, times):
    body = result("slow", post=f"{{ mean = {mean}, ci95 = [90.0, 110.0] }}")
    assert len(findings(tmp_path, body, "interval-off-centre")) == times


@pytest.mark.parametrize(("after", "times"), [("12.0", 0), ("11.9", 1), ("36.0", 0), ("36.1", 1)])
def test_sd_ratio_from_both_sides(tmp_path, after, times):
    # 20·0.6 = 12 and 20·1.8 = 36.
    body = result(
        "slow", pre="{ mean = 100.0, sd = 20.0 }", post=f"{{ mean = 110.0, sd = {after} }}"
    )
    found = findings(tmp_path, body, "sd-ratio")
    assert len(found) == times
    assert all(finding.severity == "note" for finding in found)


@pytest.mark.parametrize(
    ("sds", "times"),
    [
        (("20.1", "20.1", "20.1", "23.4"), 1),
        (("20.1", "20.1", "22.8", "23.4"), 0),
        (("20", "20", "20", "23"), 0),  # two digits agree by chance
        (("20", "20", "20", "20"), 1),  # in every cell they do not
        (("20.1", "20.10", "20.1", "23.4"), 0),  # printed differently
    ],
)
def test_same_sd_from_both_sides(tmp_path, sds, times):
    body = result(
        "slow", pre=f"{{ mean = 100, sd = {sds[0]} }}", post=f"{{ mean = 110, sd = {sds[1]} }}"
    )
    body += result(
        "usual", pre=f"{{ mean = 101, sd = {sds[2]} }}", post=f"{{ mean = 108, sd = {sds[3]} }}"
    )
    assert len(findings(tmp_path, body, "same-sd")) == times


@pytest.mark.parametrize(
    ("cell", "times"),
    # Shi et al. (2023), Stat Methods Med Res 32:1338-1360, recalled: |q1 + q3 − 2·median| over
    # q3 − q1 against 2.65/√n − 6/n². With n 20: 0.5926 − 0.0150 = 0.5776; 20 − 2·4.2 = 11.6 of
    # 20 is 0.58, 20 − 2·4.3 = 11.4 of 20 is 0.57: own arithmetic.
    [
        ("{ median = 104.2, iqr = [100.0, 120.0] }", 1),
        ("{ median = 104.3, iqr = [100.0, 120.0] }", 0),
        # The range: 1.01/ln 29 + 2.43/21 = 0.2999 + 0.1157 = 0.4157; 0.42 and 0.41.
        ("{ median = 129.0, range = [100.0, 200.0] }", 1),
        ("{ median = 129.5, range = [100.0, 200.0] }", 0),
        ("{ mean = 104.2, sd = 9.0 }", 0),
    ],
)
def test_skewed_median_from_both_sides(tmp_path, cell, times):
    found = findings(tmp_path, result("slow", pre=cell), "skewed-median")
    assert len(found) == times
    assert all(f.path == "result[1].pre.median" and not f.suspect for f in found)


def test_an_interval_by_the_normal_distribution_gives_its_own_sd(tmp_path):
    # 2·1.96·SE, SE = 20/√20 = 4.472: half width 8.765, own arithmetic. By t it would be 18.7,
    # which the three SDs below could not hold: |20.00 − 40.00| = 20.00 > 18.7.
    cells = {
        "pre": "{ mean = 100.0, sd = 40.00 }",
        "post": "{ mean = 110.0, sd = 20.00 }",
        "change": '{ mean = 10.0, ci95 = [1.20, 18.80], ci_by = "normal" }',
    }
    assert not findings(tmp_path, result("slow", **cells), "impossible-correlation")
    by_t = {**cells, "change": cells["change"].replace("normal", "t")}
    assert findings(tmp_path, result("slow", **by_t), "impossible-correlation")
