"""The answer at the low and the high of each assumed correlation."""

import json
from decimal import Decimal

import pytest

from steelyard import open_library
from steelyard.effects.table import build_table
from steelyard.judging.integrity import suspect_results
from steelyard.pooling.every_choice import every_choice
from steelyard.pooling.other_r import at_other_r, told_at_other_r
from steelyard.pooling.reweigh import reweigh
from tests.small_library import question, result, study

GAINS = (4.0, 9.0, 6.0, 12.0, 7.0)


def arms(gain, *, sd=20.0, r=None, outcome="peak"):
    more = {} if r is None else {"r": str(r)}
    return result(
        "slow",
        outcome=outcome,
        pre=f"{{ mean = 100.0, sd = {sd} }}",
        post=f"{{ mean = {103 + gain}, sd = {sd} }}",
        **more,
    ) + result(
        "usual",
        outcome=outcome,
        pre=f"{{ mean = 100.0, sd = {sd} }}",
        post=f"{{ mean = 103.0, sd = {sd} }}",
        **more,
    )


def library(folder, more="", *, rests=False, gains=GAINS, known=(), **words):
    for number, gain in enumerate(gains):
        r = 0.9 if number in known else None
        path = study(folder, f"s{number}", arms(gain, r=r), **words)
        if rests:
            text = path.read_text("utf-8")
            path.write_text(text.replace('tags = ["usual"]', 'tags = ["usual", "no-training"]'))
    question(folder, more=f'metric = "raw"\n{more}')
    return open_library(folder)


def test_both_ends_by_hand(tmp_path):
    # One raw effect of 6 with arms of 20 people and SD 20: SE² = 2·20²·(1 − r)·2/20 = 80·(1 − r).
    found = at_other_r(library(tmp_path, gains=(6.0,)).weigh("asked"))
    assert [(each.end, each.values) for each in found] == [("low", "0.70"), ("high", "0.95")]
    assert [each.pooled.estimate for each in found] == [pytest.approx(6.0)] * 2
    errors = [each.pooled.standard_error**2 for each in found]
    assert errors == [pytest.approx(80 * 0.30), pytest.approx(80 * 0.05)]


@pytest.mark.parametrize(
    "asked",
    [
        "one-leg-or-two-strength",
        "short-rest-size",
        "slow-lowering-strength",
        "weekly-sets-size",
    ],
)
def test_each_end_is_what_a_question_with_that_r_gives(shipped, asked):
    # Second way: the question written with the end as its r, weighed by itself. No arm of the
    # shipped questions rests on an assumed r, so that one r stands for all.
    weighing = shipped.weigh(asked)
    named = {"pre-post r": "r_pre_post", "r between two conditions": "r_between_arms"}
    named["r between outcomes or weeks"] = "r_between_outcomes"
    found = at_other_r(weighing)
    assert {each.kind for each in found} >= {"pre-post r"}
    for each in found:
        update = {named[each.kind]: Decimal(each.values)}
        written = weighing.question.model_copy(
            update={"assume": weighing.question.assume.model_copy(update=update)}
        )
        again = shipped.weigh_question(written)
        assert each.pooled.estimate == pytest.approx(again.estimate, rel=1e-9)
        assert each.pooled.low == pytest.approx(again.low, rel=1e-9)
        assert each.pooled.high == pytest.approx(again.high, rel=1e-9)
        assert each.verdict.word == again.verdict.word
        assert each.turned == (
            (again.verdict.word, again.verdict.direction_shown)
            != (weighing.verdict.word, weighing.verdict.direction_shown)
        )


def test_arms_that_rest_have_ends_of_their_own(tmp_path):
    weighing = library(tmp_path, rests=True, gains=(6.0,)).weigh("asked")
    found = {each.end: each for each in at_other_r(weighing)}
    assert found["low"].values == "0.70 (resting arms 0.75)"
    assert found["high"].values == "0.95 (resting arms 0.96)"
    # Each arm brings 2·20²·(1 − r)/20 = 40·(1 − r).
    assert found["low"].pooled.standard_error ** 2 == pytest.approx(40 * (0.30 + 0.25))
    assert found["high"].pooled.standard_error ** 2 == pytest.approx(40 * (0.05 + 0.04))


def test_the_table_says_it_in_one_line_and_the_headline_stays(tmp_path):
    more = "smallest_worthwhile = 2\n[assume]\nr_pre_post = 0.85\nr_pre_post_range = [0.5, 0.9]"
    weighing = library(tmp_path, more).weigh("asked")
    before = (weighing.estimate, weighing.low, weighing.high)
    (line,) = told_at_other_r(weighing)
    assert line.startswith("with pre-post r low, 0.50: ") and "; high, 0.90: " in line
    assert ("otherwise", line) in weighing._rows()
    assert (weighing.estimate, weighing.low, weighing.high) == before
    data = weighing.as_json()["at_other_r"]
    assert [(each["end"], each["values"]) for each in data] == [("low", "0.50"), ("high", "0.90")]
    assert all(each["low"] < each["estimate"] < each["high"] for each in data)
    json.dumps(data, allow_nan=False)


def test_a_verdict_that_turns_is_named(tmp_path):
    # A difference of 6 with SE² = 80·(1 − r): at r = 0.95 SE is 2, at the default 0.85 it is 3.5.
    # With 38 degrees of freedom (t 2.02) it is above 1 for certain at the high end alone.
    weighing = library(tmp_path, "smallest_worthwhile = 1", gains=(6.0,)).weigh("asked")
    assert weighing.verdict.word == "not settled"
    low, high = at_other_r(weighing)
    assert (low.turned, low.verdict.word) == (False, "not settled")
    assert (high.turned, high.verdict.word) == (True, "better")
    (line,) = told_at_other_r(weighing)
    assert line.endswith("(not settled becomes better)") and "same verdict" not in line


def test_a_verdict_that_stays_is_said_to(tmp_path):
    weighing = library(tmp_path, "smallest_worthwhile = 0.1", gains=(40.0,)).weigh("asked")
    (line,) = told_at_other_r(weighing)
    assert line.endswith("; the same verdict")


def test_without_an_assumed_r_nothing_is_said(tmp_path):
    weighing = library(tmp_path, known=range(5)).weigh("asked")
    assert at_other_r(weighing) == () and weighing.as_json()["at_other_r"] == []
    assert "otherwise" not in dict(weighing._rows())


def test_only_effects_on_an_assumed_r_move(tmp_path):
    # With all but one r known, the ends lie nearer than with none known.
    def apart(opened):
        low, high = (each.pooled.standard_error for each in at_other_r(opened.weigh("asked")))
        return low - high

    assert 0 < apart(library(tmp_path / "one", known=range(4))) < apart(library(tmp_path / "all"))


def test_two_limbs_and_several_outcomes_are_told_too(tmp_path):
    more = '[[outcome]]\nid = "grip"\nconstruct = "strength"\nunit = "N"\n'
    for number, gain in enumerate(GAINS):
        body = arms(gain, r=0.9) + arms(gain + 1, r=0.9, outcome="grip")
        study(tmp_path, f"s{number}", body, outcome_more=more, kind="within-person")
    question(tmp_path, more='metric = "raw"')
    weighing = open_library(tmp_path).weigh("asked")
    kinds = [line.split(" low, ")[0] for line in told_at_other_r(weighing)]
    assert kinds == ["with r between two conditions", "with r between outcomes or weeks"]
    values = [each.values for each in at_other_r(weighing)]
    assert values == ["0.30", "0.80", "0.30", "0.90"]


def test_limbs_that_agree_more_leave_less_error_by_hand(tmp_path):
    # Changes of SD² 2·20²·(1 − 0.9) = 80 in each limb of 20 people: SE² = 80·2·(1 − ρ)/20.
    opened = library(tmp_path, gains=(6.0,), known=(0,), kind="within-person")
    errors = [each.pooled.standard_error**2 for each in at_other_r(opened.weigh("asked"))]
    assert errors == [pytest.approx(80 * 2 * 0.7 / 20), pytest.approx(80 * 2 * 0.2 / 20)]


def test_every_choice_takes_both_ends_for_both_kinds_of_arm(tmp_path):
    opened = library(tmp_path, "smallest_worthwhile = 1", rests=True)
    weighing = opened.weigh("asked")
    every = every_choice(
        weighing,
        opened.studies.values(),
        vocabulary=opened.vocabulary,
        suspects=suspect_results(opened.integrity),
    )
    options = next(dial.options for dial in every.dials if dial.column == "r")
    assert options == (
        "0.70 (resting arms 0.75)",
        "0.85 (resting arms 0.90)",
        "0.95 (resting arms 0.96)",
    )
    used = every.ways.iloc[every.shipped]
    alike = [dial.column for dial in every.dials if dial.column != "r"]
    same = (every.ways[alike] == used[alike]).all(axis=1)
    ways = every.ways[same].set_index("r")
    ends = {each.end: each.pooled for each in at_other_r(weighing)}
    for end, option in (("low", options[0]), ("high", options[2])):
        assert ways.loc[option, "estimate"] == pytest.approx(ends[end].estimate, rel=1e-9)
        assert ways.loc[option, "low"] == pytest.approx(ends[end].low, rel=1e-9)
    assert ways.loc[options[1], "low"] == pytest.approx(weighing.low, rel=1e-9)


def test_a_range_of_the_question_goes_into_every_choice(tmp_path):
    more = "smallest_worthwhile = 1\n[assume]\nr_pre_post = 0.9\nr_pre_post_range = [0.9, 0.92]"
    opened = library(tmp_path, more)
    every = every_choice(opened.weigh("asked"), opened.studies.values())
    assert set(every.ways["r"]) == {"0.90", "0.92"}
    assert [each.values for each in at_other_r(opened.weigh("asked"))] == ["0.92"]


def test_reweighing_keeps_what_rests_on_an_assumed_r(tmp_path):
    opened = library(tmp_path)
    whole, asked = opened.weigh("asked"), opened.questions["asked"]
    others = {name: each for name, each in opened.studies.items() if name != "s4"}
    part = opened.weigh_question(asked, studies=others)
    again = reweigh(part, build_table(asked, [opened.studies["s4"]]))
    for one, other in zip(at_other_r(whole), at_other_r(again), strict=True):
        assert one.pooled.estimate == pytest.approx(other.pooled.estimate, rel=1e-9)
        assert one.values == other.values
