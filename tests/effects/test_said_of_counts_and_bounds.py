"""What was done to a count or a p is said where it was done."""

from __future__ import annotations

import pytest

from steelyard.charts.wording import flags_in_words
from tests.effects.test_table import only
from tests.small_library import comparison, result


def counts(slow: int, usual: int) -> str:
    return result("slow", events=str(slow)) + result("usual", events=str(usual))


@pytest.mark.parametrize("metric", ["risk-ratio", "odds-ratio", "risk-difference"])
def test_one_half_added_is_said(tmp_path, metric):
    row = only(tmp_path, counts(0, 3), f'metric = "{metric}"')
    assert "0 of 20 against 3 of 20: one half added to each of the four cells" in row["route"]
    assert ("for the variance only" in row["route"]) == (metric == "risk-difference")
    assert row["flags"] == "one half added" and "common practice" in row["assumed"]
    # Assumptions are joined by "; ", so that none may hold one itself.
    assert row["assumed"].split("; ") == [row["assumed"]]
    assert "nobody in one cell" in flags_in_words(row["flags"])


@pytest.mark.parametrize(("metric", "halved"), [("risk-ratio", False), ("odds-ratio", True)])
def test_everyone_in_one_group_needs_it_for_odds_only(tmp_path, metric, halved):
    row = only(tmp_path, counts(20, 3), f'metric = "{metric}"')
    assert ("one half added" in row["flags"]) == halved == ("one half" in row["assumed"])


def test_nothing_is_said_where_nothing_was_added(tmp_path):
    row = only(tmp_path, counts(1, 3), 'metric = "risk-ratio"')
    assert (row["flags"], row["assumed"], row["route"]) == ("", "", "log risk ratio")


@pytest.mark.parametrize(
    ("p", "words", "tier"),
    [
        ("0.04", "SE from exact p", "derived"),
        ('"<0.001"', "SE from the bound of p", "bounded"),
        ('"≤0.05"', "SE from the bound of p", "bounded"),
        ('"<0,05"', "SE from the bound of p", "bounded"),
    ],
)
def test_a_bound_is_not_called_exact(tmp_path, p, words, tier):
    body = comparison(difference="{ value = 12.1 }", p=p)
    row = only(tmp_path, body, 'metric = "raw"')
    assert words in row["route"] and row["tier"] == tier
    assert ("exact" in row["route"]) == (tier == "derived")
    assert ("p as a bound" in row["flags"]) == (tier == "bounded")
