"""Standardised effects whose paper does not say which SD they are in: shown, not pooled."""

import json

import pytest

from steelyard import open_library
from steelyard.charts.wording import part_flags
from steelyard.effects.table import build_table
from steelyard.errors import EmptyQuestionError
from steelyard.judging.certainty.facts import _integrity
from steelyard.judging.soundness import soundness_warnings
from steelyard.pooling.every_choice import every_choice
from steelyard.pooling.forest_data import forest_data
from steelyard.pooling.reweigh import reweigh
from steelyard.pooling.study_reading import NOT_SETTLED
from steelyard.pooling.turns import turns
from tests.small_library import comparison, question, result, study

KNOWN = (0.2, 0.35, 0.5)
KEEP = '[model]\nunknown_scale = "keep"'


def library(folder, more="smallest_worthwhile = 0.1", *, over=""):
    for number, value in enumerate(KNOWN):
        cell = f"{{ value = {value}, se = 0.2, over = 'pre-sd' }}"
        study(folder, f"s{number}", comparison(standardised=cell))
    study(folder, "open", comparison(standardised=f"{{ value = 1.8, se = 0.2{over} }}"))
    question(folder, more=more)
    return open_library(folder)


def test_it_is_out_of_the_pool_with_the_reason_and_shown(tmp_path):
    weighing = library(tmp_path).weigh("asked")
    # Three effects of one variance: their mean, by hand (0.2 + 0.35 + 0.5)/3.
    assert weighing.estimate == pytest.approx(0.35)
    assert (weighing.k_studies, weighing.k_effects) == (3, 3)
    (out,) = weighing.left_out
    assert out.study == "open"
    assert "does not say which SD its effect on peak is in" in out.reason
    assert 'unknown_scale = "keep"' in out.reason
    rows = forest_data(weighing).rows.set_index("study")
    assert not rows.loc["open", "pooled"] and rows.loc["open", "estimate"] == pytest.approx(1.8)
    assert part_flags(rows.loc["open", "flags"]).grave == "which SD it is in is not printed"
    json.dumps(weighing.as_json(), allow_nan=False)


def test_a_question_may_keep_it(tmp_path):
    weighing = library(tmp_path, f"smallest_worthwhile = 0.1\n{KEEP}").weigh("asked")
    assert weighing.k_studies == 4 and weighing.left_out == ()
    assert weighing.estimate == pytest.approx((0.2 + 0.35 + 0.5 + 1.8) / 4)
    kinds = turns(weighing).without
    assert "effects of unknown scale" in set(kinds.loc[kinds["study"] == "", "label"])


def test_saying_which_sd_brings_it_back(tmp_path):
    weighing = library(tmp_path, over=", over = 'post-sd'").weigh("asked")
    assert weighing.k_studies == 4 and weighing.left_out == ()
    # Over the SD of change, with r 0.85 assumed: 1.8·√0.3.
    weighing = library(tmp_path / "change", over=", over = 'change-sd'").weigh("asked")
    effect = weighing.effects.set_index("study").loc["open", "effect"]
    assert effect == pytest.approx(1.8 * 0.3**0.5)


def test_a_test_of_nobody_knows_which_scores_is_held_out_too(tmp_path):
    opened = library(tmp_path, over=", over = 'pre-sd'")
    study(tmp_path, "tested", comparison(t="2.4"))
    weighing = open_library(tmp_path).weigh("asked")
    assert [out.study for out in weighing.left_out] == ["tested"]
    assert weighing.estimate == pytest.approx(opened.weigh("asked").estimate)
    # Only in SDs is there a question of which: the raw difference is what it is.
    study(tmp_path, "tested", comparison(t="2.4", difference="{ value = 5 }"))
    question(tmp_path, "raw", 'metric = "raw"')
    assert open_library(tmp_path).weigh("raw").k_studies == 1


def test_with_nothing_else_the_question_is_empty_and_says_why(tmp_path):
    study(tmp_path, "open", comparison(standardised="{ value = 1.8, se = 0.2 }"))
    question(tmp_path)
    with pytest.raises(EmptyQuestionError, match="does not say which SD"):
        open_library(tmp_path).weigh("asked")


def test_while_it_is_typed_it_moves_nothing(tmp_path):
    opened = library(tmp_path)
    asked = opened.questions["asked"]
    others = {name: each for name, each in opened.studies.items() if name != "open"}
    before = opened.weigh_question(asked, studies=others)
    after = reweigh(before, build_table(asked, [opened.studies["open"]]))
    assert after.estimate == before.estimate
    assert "does not say which SD" in after.left_out[-1].reason


@pytest.mark.parametrize("kept", [False, True])
def test_every_choice_holds_it_out_throughout_unless_kept(tmp_path, kept):
    opened = library(tmp_path, f"smallest_worthwhile = 0.1\n{KEEP if kept else ''}")
    weighing = opened.weigh("asked")
    every = every_choice(weighing, opened.studies.values())
    assert set(every.ways["studies"]) == ({3, 4} if kept else {3})
    assert every.ways.iloc[every.shipped]["estimate"] == weighing.estimate
    rules = [dial.options for dial in every.dials if dial.column == "inclusion"]
    assert rules == ([("all", "without effects of unknown scale")] if kept else [])


def test_every_choice_in_sds_says_whom_it_leaves_out(tmp_path):
    # In the unit measured all four count; in SDs the one whose SD is not printed does not.
    for number in range(3):
        pre = "{ mean = 100.0, sd = 20.0 }"
        body = result("slow", pre=pre, post=f"{{ mean = {106 + number}.0, sd = 20.0 }}", r="0.8")
        body += result("usual", pre=pre, post="{ mean = 102.0, sd = 20.0 }", r="0.8")
        study(tmp_path, f"s{number}", body)
    study(tmp_path, "open", comparison(difference="{ value = 5, se = 2 }"))
    client = '[client]\nunit = "N"\nreference_sd = 20'
    question(tmp_path, more=f'metric = "raw"\nsmallest_worthwhile = 2\n{client}')
    opened = open_library(tmp_path)
    every = every_choice(opened.weigh("asked"), opened.studies.values())
    studies = every.ways.groupby("metric")["studies"].agg(set).to_dict()
    assert studies["unit measured"] == {4} and studies["SDs between people"] == {3}
    assert "in SDs between people without Open 2020: which SD" in " ".join(every.notes)


def test_a_study_read_alone_judges_nothing_by_it(tmp_path):
    body = comparison(standardised="{ value = 1.8, se = 0.2 }")
    body += comparison(outcome="grip", standardised="{ value = 0.4, se = 0.2, over = 'pre-sd' }")
    more = '[[outcome]]\nid = "grip"\nconstruct = "strength"\nunit = "N"\n'
    study(tmp_path, "one", body, outcome_more=more)
    question(tmp_path, more="smallest_worthwhile = 0.1")
    reading = open_library(tmp_path).read("one")
    verdicts = reading.effects.set_index("outcome")["verdict"]
    assert verdicts["peak"] == NOT_SETTLED
    assert list(reading.composites["outcomes"]) == [1]
    assert reading.composites["effect"].iloc[0] == pytest.approx(0.4)
    study(tmp_path, "two", comparison(standardised="{ value = 1.8, se = 0.2 }"))
    alone = open_library(tmp_path).read("two")
    assert alone.composites.empty and "scale not printed" in str(alone)


def test_held_out_is_told_for_its_own_reason(tmp_path):
    opened = library(tmp_path)
    weighing = opened.weigh("asked")
    told = list(soundness_warnings(weighing, opened.studies))
    assert "held out, as which SD the effect is in is not printed: open" in told
    assert not any("suspect" in each for each in told)
    assert _integrity(weighing)["studies_held_out"] == 0
