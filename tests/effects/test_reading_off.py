"""Reading errors in the variance: stated or not, of means and of SDs, in every metric."""

from __future__ import annotations

import numpy as np
import pytest

from steelyard.effects.groups import Group, PrePost
from steelyard.effects.prepost import standardised_change_difference
from steelyard.effects.variability import log_sd_ratio
from steelyard.judging.integrity import integrity_findings
from steelyard.records import load_records
from steelyard.reporting.reading_error import FIGURE_READING_SHARE
from tests.effects.test_table import only
from tests.small_library import comparison, result

PRE = {"slow": (100.0, 20.0), "usual": (98.0, 22.0)}
POST = {"slow": (118.0, 24.0), "usual": (106.0, 23.0)}
N = 20
DRAWS = 40_000


def body(cell: str = "", *, printed: str = "sd", more: str = "") -> str:
    """Both arms; `cell` is added to each spread, `more` to each result."""
    made = ""
    for arm in ("slow", "usual"):
        spreads = {}
        for name, (mean, sd) in (("pre", PRE[arm]), ("post", POST[arm])):
            value = sd if printed == "sd" else sd / N**0.5
            spreads[name] = f"{{ mean = {mean}, {printed} = {value!r}{cell} }}"
        made += result(arm, **spreads, r="0.8") + more
    return made


FIGURE = 'read_off = "figure"\n'


def added(folder, cell: str, metric: str, *, printed: str = "sd", more: str = FIGURE) -> float:
    asked = f'metric = "{metric}"'
    plain = only(folder / "plain", body(printed=printed), asked)
    read = only(folder / "read", body(cell, printed=printed, more=more), asked)
    assert read["effect"] == pytest.approx(plain["effect"])
    return read["variance"] - plain["variance"]


def test_spread_ratio_is_widened_by_the_error_of_its_sds(tmp_path):
    # Delta method on ln(s₁/s₂): e²/s₁² + e²/s₂², worked here.
    got = added(tmp_path, ", reading_error = 2", "variability-ratio")
    assert got == pytest.approx((2 / 24) ** 2 + (2 / 23) ** 2, rel=1e-9)
    # Second way: what readings with that error do to the ratio itself.
    rng = np.random.default_rng(3)
    groups = [
        Group(N, POST[arm][0], POST[arm][1] + 2 * rng.normal(size=DRAWS))
        for arm in ("slow", "usual")
    ]
    spread = np.var(log_sd_ratio(*groups).effect)
    # 40,000 draws leave 1.4 % at two standard errors; the second order adds about 2 %.
    assert got == pytest.approx(spread, rel=0.05)


def test_an_error_of_se_bars_counts_times_root_n(tmp_path):
    got = added(tmp_path, ", reading_error = 0.5", "variability-ratio", printed="se")
    e = 0.5 * N**0.5
    assert got == pytest.approx((e / 24) ** 2 + (e / 23) ** 2, rel=1e-9)


def test_an_error_of_interval_limits_counts_for_both(tmp_path):
    def made(cell: str) -> str:
        pre = "pre = { mean = 100.0, sd = 20.0 }\n"
        return "".join(
            result(arm, post=f"{{ mean = 110.0, ci95 = [101.0, 119.0]{cell} }}") + pre + FIGURE
            for arm in ("slow", "usual")
        )

    asked = 'metric = "variability-ratio"'
    plain = only(tmp_path / "a", made(", reading_error = 0"), asked)
    read = only(tmp_path / "b", made(", reading_error = 1"), asked)
    # SD runs as the width 18, whose two limits are off by 1 each: (√2/18)² for each arm.
    assert read["variance"] - plain["variance"] == pytest.approx(2 * 2 / 18**2, rel=1e-9)


def test_a_standardised_effect_is_widened_by_means_and_by_the_sd_it_is_over(tmp_path):
    got = added(tmp_path, ", reading_error = 2", "standardised")
    rng = np.random.default_rng(4)

    def arm(name: str) -> PrePost:
        off = 2 * rng.normal(size=(4, DRAWS))
        (m1, s1), (m2, s2) = PRE[name], POST[name]
        return PrePost(N, m1 + off[0], s1 + off[1], m2 + off[2], s2 + off[3], np.full(DRAWS, 0.8))

    spread = np.var(standardised_change_difference(arm("slow"), arm("usual")).effect)
    # J² ≈ 0.96 of the means' part is not taken off; draws and second order leave a few percent.
    assert got == pytest.approx(spread, rel=0.08)
    s = ((20**2 + 22**2) / 2) ** 0.5
    assert got > 4 * 2**2 / s**2, "the SD's part is there too"


@pytest.mark.parametrize("metric", ["raw", "percent", "standardised", "variability-ratio"])
def test_a_figure_without_a_stated_error_has_one_assumed_and_said(tmp_path, metric):
    assert added(tmp_path, "", metric) > 0
    row = only(tmp_path / "again", body(more=FIGURE), f'metric = "{metric}"')
    assert "reading error not stated: " in row["assumed"]
    assert "1 % of mean + SD (common practice)" in row["assumed"]
    assert "read off a figure" in row["flags"]


def test_the_assumed_error_is_the_named_share(tmp_path):
    # Four means, each off by a hundredth of mean + SD: worked here.
    errors = [FIGURE_READING_SHARE * (m + s) for m, s in (*PRE.values(), *POST.values())]
    assert added(tmp_path, "", "raw") == pytest.approx(sum(e**2 for e in errors), rel=1e-9)


def test_an_error_stated_as_none_is_taken_at_its_word(tmp_path):
    assert added(tmp_path, ", reading_error = 0", "standardised") == pytest.approx(0, abs=1e-12)
    assert added(tmp_path / "table", "", "standardised", more="") == pytest.approx(0, abs=1e-12)


def test_a_change_alone_off_a_figure_is_widened(tmp_path):
    def made(cell: str) -> str:
        cells = {"slow": f"{{ mean = 9.0, sd = 8.0{cell} }}", "usual": "{ mean = 2.0, sd = 7.0 }"}
        return "".join(result(arm, change=cell) for arm, cell in cells.items())

    plain = only(tmp_path / "a", made(""), 'metric = "raw"')
    read = only(tmp_path / "b", made(", reading_error = 1.5"), 'metric = "raw"')
    assert read["variance"] - plain["variance"] == pytest.approx(1.5**2)


def test_a_comparison_off_a_figure_says_that_nothing_is_allowed_for(tmp_path):
    made = comparison(difference="{ value = 12.1, ci95 = [1.0, 23.2] }", read_off='"figure"')
    row = only(tmp_path, made, 'metric = "raw"')
    assert "reading error is not allowed for" in row["assumed"]


def test_check_asks_for_the_reading_error(tmp_path):
    for folder, cell, times in (("without", "", 4), ("with", ", reading_error = 1", 0)):
        only(tmp_path / folder, body(cell, more=FIGURE))
        found = integrity_findings(load_records(tmp_path / folder).studies)
        missing = [each for each in found if each.rule == "reading-error-missing"]
        assert len(missing) == times
    only(tmp_path / "one", body(more=FIGURE))
    first = integrity_findings(load_records(tmp_path / "one").studies)[0]
    assert (first.path, first.rule) == ("result[1].pre.reading_error", "reading-error-missing")
    assert "1.2 is assumed" in first.message and first.outcome == "peak" and not first.suspect
