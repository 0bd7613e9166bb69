"""What one group gained: by hand, in the metric that can be had, and never as an effect."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from steelyard import open_library
from steelyard.cli.reading import read_command
from tests.small_library import question, result, study

PRE = "{ mean = 100.0, sd = 20.0 }"


def alone(folder, body: str, **words):
    """A study of one group."""
    path = study(folder, "one", body, kind="single-group", randomised="false", **words)
    text = path.read_text(encoding="utf-8")
    usual = '[[arm]]\nid = "usual"\ntags = ["usual"]\nn = 20\n'
    assert usual in text
    path.write_text(text.replace(usual, ""), encoding="utf-8")
    question(folder)
    return open_library(folder)


def test_the_shipped_group_by_hand():
    """25 people, 212.8 (SD 32.4) before and 256.4 after, r 0.85 assumed by the question."""
    done = CliRunner().invoke(read_command, ["kestrelmoor-2022", "--format", "json"])
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    assert told["effects"] == told["composite"] == told["detectable"] == told["verdicts"] == []
    (change,) = told["changes_without_comparison"]
    g = (1 - 3 / (4 * 24 - 1)) * (256.4 - 212.8) / 32.4
    assert change["change"] == pytest.approx(g, abs=1e-12)
    # Becker (1988), as `standardised_change_in_group` has it.
    assert change["variance"] == pytest.approx(2 * (1 - 0.85) / 25 + g**2 / 50, abs=1e-12)
    assert change["own_unit"] == pytest.approx(43.6)
    assert change["flags"] == "assumed r"
    text = " ".join(told["findings"])
    assert "not an effect of training" in text and "+44 N in its own unit" in text
    table = CliRunner().invoke(read_command, ["kestrelmoor-2022"])
    assert table.exit_code == 0 and "own change, no effect" in table.output


@pytest.mark.parametrize(
    ("cells", "metric", "change", "variance"),
    [
        # 400 less 2·0.9 of it, over 20 people.
        ({"pre": PRE, "change": "{ mean = 5.0, sd = 8.0 }"}, "standardised", None, None),
        ({"change": "{ mean = 5.0, sd = 8.0 }"}, "raw", 5.0, 64 / 20),
        ({"change_percent": "{ mean = 5.0, sd = 8.0 }"}, "percent", None, None),
    ],
)
def test_the_first_metric_that_can_be_had(tmp_path, cells, metric, change, variance):
    reading = alone(tmp_path, result("slow", **cells)).read("one")
    (row,) = reading.own_changes.itertuples()
    assert row.metric == metric and not reading.left_out
    if change is not None:
        assert row.change == pytest.approx(change) and row.variance == pytest.approx(variance)
    assert row.low < row.change < row.high


def test_less_is_better_where_the_outcome_says_so(tmp_path):
    body = result("slow", pre=PRE, post="{ mean = 90.0, sd = 20.0 }", r="0.9")
    library = alone(tmp_path, body, better="lower")
    (row,) = library.read("one").own_changes.itertuples()
    assert row.change > 0 and row.own_unit == pytest.approx(10)
    said = str(library.read("one"))
    assert (
        "got better by 0.48 SD (95 % interval +" in said
        and "+ being better" in said
        and "−10 N (less is better) in its own unit" in said
    )
    (panel,) = library.reading("one").panels
    assert (panel.left_words, panel.right_words) == ("worse than before", "better than before")
    assert panel.zone is None


def test_a_reading_off_a_figure_widens_it(tmp_path):
    cells = {"pre": PRE, "post": "{ mean = 110.0, sd = 20.0 }", "r": "0.9"}
    (plain,) = alone(tmp_path / "a", result("slow", **cells)).read("one").own_changes.itertuples()
    cells["post"] = "{ mean = 110.0, sd = 20.0, reading_error = 2 }"
    read = result("slow", read_off='"figure"', **cells)
    (off,) = alone(tmp_path / "b", read).read("one").own_changes.itertuples()
    assert off.change == pytest.approx(plain.change)
    # (2/20)² of the mean after; the mean and SD before carry a default of 1 % of 120.
    assert off.variance - plain.variance > (2 / 20) ** 2
    assert "read off a figure" in off.flags


@pytest.mark.parametrize(
    ("cells", "reason"),
    [
        ({"events": "3"}, "3 of 20 people, a count with no other group beside it"),
        ({"correlation": "0.4"}, "only a correlation inside a group"),
        ({"change": "{ mean = 5.0 }"}, "no change from before to after training with a spread"),
    ],
)
def test_what_is_no_change_is_named_with_its_reason(tmp_path, cells, reason):
    reading = alone(tmp_path, result("slow", **cells)).read("one")
    assert reading.own_changes.empty
    (said,) = reading.left_out
    assert said.startswith("peak, week 12, slow: ") and reason in said
    assert "No effect can be formed" in " ".join(reading.findings)


def test_several_weeks_of_one_group(tmp_path):
    body = "".join(
        result("slow", week=week, pre=PRE, post=f"{{ mean = {100 + week}.0, sd = 20.0 }}")
        for week in (6, 12)
    ) + result("slow", week=0, pre=PRE)
    reading = alone(tmp_path, body).read("one")
    assert list(reading.own_changes["week"]) == [6, 12] and not reading.left_out
    assert "Peak, week 6, got better by" in " ".join(reading.findings)
