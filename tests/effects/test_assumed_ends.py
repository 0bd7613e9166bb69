"""The low and the high of an assumed pre-post r, by construct and by arm that trains or rests."""

import pytest

from steelyard import open_library
from steelyard.effects.correlations_used import assumable, assumable_of_both
from steelyard.effects.table import build_table
from tests.small_library import comparison, question, result, study

ARMS = result("slow", pre="{ mean = 100, sd = 10 }", post="{ mean = 108, sd = 10 }") + result(
    "usual", pre="{ mean = 100, sd = 10 }", post="{ mean = 103, sd = 10 }"
)
RESTS = {"slow": (0.70, 0.85, 0.95), "usual": (0.75, 0.90, 0.96)}
"""Low, usual and high of strength, where the comparator does not train."""


def library(folder, body=ARMS, more='metric = "raw"', *, rests=False):
    path = study(folder, "one", body)
    if rests:
        text = path.read_text("utf-8")
        path.write_text(text.replace('tags = ["usual"]', 'tags = ["usual", "no-training"]'))
    question(folder, more=more)
    return open_library(folder)


def formed(opened, end):
    table = build_table(opened.questions["asked"], opened.studies.values(), assumed_r=end)
    return table.rows.iloc[0]


@pytest.mark.parametrize(("end", "place"), [("low", 0), ("usual", 1), ("high", 2)])
def test_each_kind_of_arm_has_ends_of_its_own(tmp_path, end, place):
    # Variance of each arm's change over n: 2·10²·(1 − r)/20 = 10·(1 − r), by hand.
    opened = library(tmp_path, rests=True)
    row = formed(opened, end)
    slow, usual = RESTS["slow"][place], RESTS["usual"][place]
    assert row["variance"] == pytest.approx(10 * (1 - slow) + 10 * (1 - usual))
    assert row["effect"] == pytest.approx(5.0)
    both = assumable_of_both(
        opened.questions["asked"], opened.effect_table("asked").on_assumed_r[0]
    )
    assert both.at(end) == pytest.approx((slow + usual) / 2)


def test_a_questions_r_stands_for_both_arms_and_their_ends_reach_to_it(tmp_path):
    opened = library(tmp_path, more='metric = "raw"\n[assume]\nr_pre_post = 0.6', rests=True)
    asked, arms = opened.questions["asked"], opened.studies["one"].arms
    found = [assumable(asked, "strength", arm) for arm in arms]
    assert [(each.low, each.value, each.high) for each in found] == [
        (0.6, 0.6, 0.95),
        (0.6, 0.6, 0.96),
    ]


def test_a_range_of_the_question_goes_before_that_of_the_default(tmp_path):
    more = 'metric = "raw"\n[assume]\nr_pre_post = 0.6\nr_pre_post_range = [0.5, 0.8]'
    opened = library(tmp_path, more=more, rests=True)
    for end, r in (("low", 0.5), ("usual", 0.6), ("high", 0.8)):
        assert formed(opened, end)["variance"] == pytest.approx(20 * (1 - r))


def test_a_known_r_has_no_ends(tmp_path):
    opened = library(tmp_path, ARMS.replace("week = 12\n", "week = 12\nr = 0.8\n"))
    assert opened.effect_table("asked").on_assumed_r == ()
    assert formed(opened, "low")["variance"] == formed(opened, "high")["variance"]


def test_a_test_of_changes_is_brought_to_the_scale_of_each_end(tmp_path):
    # d of changes 0.8 becomes 0.8·√(2(1 − r)); the arms' ends are averaged: 0.725, 0.875, 0.955.
    body = comparison(standardised='{ value = 0.8, se = 0.3, over = "change-sd" }')
    opened = library(tmp_path, body, more="", rests=True)
    for end, r in (("low", 0.725), ("usual", 0.875), ("high", 0.955)):
        assert formed(opened, end)["effect"] == pytest.approx(0.8 * (2 * (1 - r)) ** 0.5)
    assert len(opened.effect_table("asked").on_assumed_r) == 1
