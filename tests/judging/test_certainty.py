"""Certainty of whole libraries: facts, caps, overrulings and tipping points."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace

import numpy as np
import pytest

from steelyard import open_library
from steelyard.judging.certainty import judge_certainty
from steelyard.judging.certainty.facts import zones
from steelyard.judging.certainty.wording import shift_text
from steelyard.judging.person import person
from steelyard.pooling.small_study_test import small_study_test
from steelyard.records.recommendation import Override
from tests.small_library import comparison, question, study

S = 0.2
GOOD = """[appraisal]
next_place = "hidden"
counted_where_allocated = "yes"
sessions_attended = "most in every arm"
training_beside = "the same"
leavers = "nobody left"
measured_by = "did not know"
tried_before = "yes"
plan_made_public = "before it began"
measured_and_reported = "all"
"""


def effect(value, se):
    return comparison(standardised=f"{{ value = {value}, se = {se}, over = 'pre-sd' }}")


def library_of(folder, values, *, se=0.05, n=150, worthwhile=S, more="", good=GOOD, **words):
    for at, value in enumerate(values):
        body = effect(value, se) + good
        study(folder, f"s{at}", body, n_slow=n, n_usual=n, **words)
    question(folder, more=f"smallest_worthwhile = {worthwhile}\n{more}")
    return open_library(folder)


def certainty(library, **words):
    return judge_certainty(library.weigh("asked"), library.studies, **words)


@pytest.mark.parametrize(
    ("low", "high", "reached"),
    [
        (0.2, 0.5, {"better"}),
        (0.1999, 0.5, {"between", "better"}),
        (-0.2, 0.2, {"between"}),
        (-0.2001, 0.2, {"worse", "between"}),
        (-0.3, 0.3, {"worse", "between", "better"}),
        (-0.5, -0.2, {"worse"}),
    ],
)
def test_zones_an_interval_reaches_into(low, high, reached):
    assert zones(low, high, worthwhile=0.2) == reached


def test_zones_without_a_worthwhile_effect_turn_on_none_at_all():
    assert zones(0.0, 0.3, worthwhile=0.0) == {"better"}
    assert zones(-0.1, 0.3, worthwhile=0.0) == {"better", "worse"}


def test_sound_studies_that_agree_give_high(tmp_path):
    found = certainty(library_of(tmp_path, [0.48, 0.5, 0.52, 0.5]))
    assert found.word == found.word_by_rules == "high"
    assert [step.step for step in found.steps] == [0] * 6
    assert "high" in str(found)
    json.dumps(found.as_json(), allow_nan=False)


def test_studies_nobody_appraised_cost_one_step(tmp_path):
    found = certainty(library_of(tmp_path, [0.48, 0.5, 0.52, 0.5], good=""))
    assert found.word == "moderate"
    assert "100 % from studies not appraised yet" in found.step("risk of bias").sentence


def test_no_randomisation_starts_low(tmp_path):
    found = certainty(library_of(tmp_path, [0.48, 0.5, 0.52, 0.5], randomised="false"))
    assert found.start == 2
    assert found.step("risk of bias").step == -2
    assert found.word == "very low"


def test_imprecision_and_inconsistency_do_not_take_the_same_width_twice(tmp_path):
    wide = certainty(library_of(tmp_path, [-0.9, 1.0, -0.6, 0.9, 0.1]))
    # The interval itself takes in all three answers, so nothing is left for the prediction.
    assert wide.step("imprecision").step == -2
    assert wide.step("inconsistency").step == 0


def test_a_wide_prediction_interval_alone_costs_inconsistency(tmp_path):
    values = [0.1, 1.1, 0.3, 0.9, 0.6, 0.0, 1.2, 0.5, 0.7, 0.6]
    found = certainty(library_of(tmp_path, values))
    assert found.step("imprecision").step == 0
    assert found.step("inconsistency").step == -2


def test_one_small_study_that_settles_nothing_loses_three(tmp_path):
    found = certainty(library_of(tmp_path, [0.1], se=0.4, n=20))
    assert found.step("imprecision").step == -3
    assert found.word == "very low"


def test_stand_ins_alone_are_capped_at_very_low(tmp_path):
    library_of(tmp_path, [0.48, 0.5, 0.52, 0.5])
    (tmp_path / "vocabulary.toml").write_text(
        '[[construct]]\nid = "strength"\nlabel = "strength"\nsurrogate = true\n'
        '[[tag]]\nid = "slow"\nlabel = "slow"\n[[tag]]\nid = "usual"\nlabel = "usual"\n',
        encoding="utf-8",
    )
    found = certainty(open_library(tmp_path))
    assert found.word == "very low"
    assert found.capped_by == ("indirectness",)
    # Overruling the step does not lift the cap: stand-ins stay stand-ins.
    lifted = certainty(open_library(tmp_path), overrides=[override("indirectness", 0)])
    assert lifted.word == "very low"


def test_nobody_like_the_person_caps_at_low(tmp_path):
    found = certainty(
        library_of(tmp_path, [0.48, 0.5, 0.52, 0.5]), person=person(training_status="trained")
    )
    assert found.word == "low"
    assert found.capped_by == ("indirectness",)
    assert "none of the weight matches" in found.step("indirectness").sentence
    assert "None of the weight" in str(found)


def override(domain, step, **words):
    values = {"reason": "seen the raw data", "by": "T. Fell", "date": dt.date(2024, 1, 2)}
    return Override(domain=domain, step=step, **(values | words))


def test_an_overruling_counts_is_dated_and_both_words_are_shown(tmp_path):
    library = library_of(tmp_path, [0.48, 0.5, 0.52, 0.5], good="")
    found = certainty(library, overrides=[override("risk of bias", 0)])
    assert (found.word, found.word_by_rules) == ("high", "moderate")
    shown = str(found)
    for words in ("seen the raw data", "T. Fell", "2024-01-02", "the rules alone say moderate"):
        assert words in shown


def test_the_latest_overruling_of_a_domain_counts(tmp_path):
    library = library_of(tmp_path, [0.48, 0.5, 0.52, 0.5])
    later = override("risk of bias", -2, date=dt.date(2024, 5, 1))
    found = certainty(library, overrides=[later, override("risk of bias", 0)])
    assert found.step("risk of bias").step == -2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"domain": "luck"}, "expected one of risk of bias"),
        ({"step": -4}, "from −3 to +1"),
        ({"date": dt.date(2999, 1, 1)}, "in the future"),
    ],
)
def test_an_overruling_that_cannot_count_is_named(tmp_path, words, said):
    library = library_of(tmp_path, [0.48, 0.5, 0.52, 0.5], good="")
    values = {"domain": "risk of bias", "step": 0} | words
    found = certainty(library, overrides=[override(**values)])
    assert found.word == "moderate"
    (note,) = found.notes
    assert said in note


def test_an_overruling_of_another_question_is_passed_over(tmp_path):
    library = library_of(tmp_path, [0.48, 0.5, 0.52, 0.5], good="")
    found = certainty(library, overrides=[override("risk of bias", 0, question="other")])
    assert found.word == "moderate"
    assert not found.notes


def test_word_tips_where_it_is_said_to(tmp_path):
    """The second route: put the worthwhile effect into the question, both sides of the point."""
    values = [0.3, 0.5, 0.35, 0.45, 0.4]
    folder = tmp_path / "now"
    library = library_of(folder, values, worthwhile=0.2)
    tips = [tip for tip in certainty(library).tipping if not tip.domain]
    assert tips
    for tip in tips:
        inside = tip.at + (tip.now - tip.at) * 1e-4
        beyond = tip.at + (tip.at - tip.now) * 1e-4
        for name, value, word in (
            ("in", inside, certainty(library).word),
            ("out", beyond, tip.word),
        ):
            there = tmp_path / f"{name}{tip.at:.3f}"
            again = certainty(library_of(there, values, worthwhile=f"{value:.9f}"))
            assert again.word == word, (tip, name)
        assert "smallest worthwhile effect were" in tip.sentence


def test_a_step_tips_at_the_end_of_the_interval(tmp_path):
    library = library_of(tmp_path, [0.48, 0.5, 0.52, 0.5])
    weighing = library.weigh("asked")
    tips = [tip for tip in certainty(library).tipping if tip.domain == "imprecision"]
    above = next(tip for tip in tips if tip.quantity.startswith("smallest") and tip.at > S)
    assert above.at == pytest.approx(weighing.low, rel=1e-6)
    assert (above.step, above.word) == (-1, "moderate")


def test_shares_tip_at_the_bound_of_the_rule(tmp_path):
    tips = certainty(library_of(tmp_path, [0.48, 0.5, 0.52, 0.5], good="")).tipping
    share = next(tip for tip in tips if tip.quantity == "weight of some or high concern")
    assert (share.now, share.at, share.step, share.word) == (1.0, 0.5, 0, "high")
    assert "below 50 %" in share.sentence


def test_people_short_of_the_information_size(tmp_path):
    # Settled, and by too few people: variance 0.01 with 10 an arm is 0.1 for one an arm, so
    # 7.85 * 0.1 / 0.1**2 = 78.5 people an arm are needed and 30 are there.
    found = certainty(library_of(tmp_path, [0.9, 0.9, 0.9], se=0.1, n=10, worthwhile=0.1))
    step = found.step("imprecision")
    assert step.step == -1
    assert "30 people an arm" in step.sentence
    assert "79 one trial" in step.sentence
    tip = next(tip for tip in found.tipping if tip.quantity == "people an arm")
    assert tip.at == pytest.approx(78.5, abs=0.1)
    assert "49 more people an arm" in tip.sentence


def test_small_studies_that_find_more_cost_a_step(tmp_path):
    for at in range(12):
        n = 20 + 30 * at
        se = (2 / n) ** 0.5
        # One and a half standard errors above 0.05, with a little scatter.
        body = effect(round(0.05 + 1.5 * se + 0.02 * (-1) ** at, 4), round(se, 4)) + GOOD
        study(tmp_path, f"s{at:02}", body, n_slow=n, n_usual=n)
    question(tmp_path, more="smallest_worthwhile = 0.1")
    step = certainty(open_library(tmp_path)).step("small-study effects")
    assert step.step == -1
    # The scatter is far below the standard errors: the p of so straight a line rounds to 0.
    assert "small studies find other effects than large ones (p under 0.001)" in step.sentence


def test_fewer_than_ten_studies_are_not_assessable(tmp_path):
    found = certainty(library_of(tmp_path, [0.48, 0.5, 0.52, 0.5]))
    assert "not assessable: 4 studies" in found.step("small-study effects").sentence


def test_a_retracted_study_has_no_weight_and_is_told(tmp_path):
    library_of(tmp_path, [0.48, 0.5, 0.52, 0.5])
    study(tmp_path, "gone", effect(2.0, 0.05), source_more='status = "retracted"')
    found = certainty(open_library(tmp_path))
    assert "retracted: 1" in found.step("integrity").sentence
    assert found.word == "high"


def test_without_a_worthwhile_effect_precision_cannot_be_judged(tmp_path):
    for at, value in enumerate((0.48, 0.5, 0.52, 0.5)):
        study(tmp_path, f"s{at}", effect(value, 0.05) + GOOD)
    question(tmp_path)
    found = certainty(open_library(tmp_path))
    assert found.word == "moderate"
    assert "no smallest worthwhile effect is set" in found.step("imprecision").sentence


def test_the_table_has_a_row_per_domain_with_fact_rule_step_and_sentence(tmp_path):
    found = certainty(library_of(tmp_path, [0.48, 0.5, 0.52, 0.5]))
    rows = found.table().rows
    assert [row[0] for row in rows] == ["start", *(s.domain for s in found.steps), "certainty"]
    assert all(all(row) for row in rows[1:-1])


@pytest.mark.parametrize("metric", ["percent", "risk-ratio", "raw"])
def test_facts_are_told_in_the_unit_of_the_question(tmp_path, metric):
    cells = {
        "percent": "log_ratio_of_means = { value = 0.05, se = 0.01 }",
        "risk-ratio": "log_risk_ratio = { value = -0.5, se = 0.1 }",
        "raw": "difference = { value = 5, se = 1 }",
    }
    worthwhile = {"percent": "2", "risk-ratio": "0.8", "raw": "2"}[metric]
    words = {"better": "lower"} if metric == "risk-ratio" else {}
    for at in range(4):
        key, value = cells[metric].split(" = ", 1)
        study(tmp_path, f"s{at}", comparison(**{key: value}), **words)
    question(tmp_path, more=f'metric = "{metric}"\nsmallest_worthwhile = {worthwhile}')
    found = certainty(open_library(tmp_path))
    facts = dict(found.step("imprecision").facts)
    unit = {"percent": " %", "risk-ratio": "", "raw": " N"}[metric]
    assert facts["smallest worthwhile effect"] == worthwhile + unit
    assert found.tipping


def test_shifts_and_spreads_of_ratios_are_told_as_what_they_are():
    """Not turned into ratios near 1: no spread is 0, and a shift is a factor."""
    library = open_library()
    steps = library.certainty("slow-lowering-strains").steps
    facts = {name: text for step in steps for name, text in step.facts}
    weighing = library.weigh("slow-lowering-strains")
    assert weighing.tau2 == 0 and facts["between-study SD"] == "0 on the log scale"
    line = small_study_test(weighing).regression
    factor = np.exp(abs(line.limit - weighing.estimate))
    assert factor > 1 and facts["shift at unlimited size"] == f"a factor of {factor:.3g}"
    # Fisher's z is no correlation; in Python, since no shipped question asks for one.
    asked = weighing.question.model_copy(update={"metric": "correlation"})
    assert shift_text(replace(weighing, question=asked), 0.25) == "0.25 of z"
