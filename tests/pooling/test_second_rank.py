"""Influence, gathering studies, priors, what could be settled, sameness: each by a second route."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from steelyard import open_library
from steelyard.errors import DesignError
from steelyard.judging.would_change import would_change
from steelyard.pooling import equivalence, pool, posterior, study_influence
from steelyard.pooling.answer import (
    differ_shown,
    margin_sentence,
    next_study_sentence,
    sameness_sentence,
)
from steelyard.pooling.bending import bending, bending_data
from steelyard.pooling.gathering import gathering, gathering_data
from steelyard.pooling.prior_lines import SPREADS, prior_lines, priors_data
from steelyard.pooling.settling import could_settle
from steelyard.pooling.turns import turns
from tests.judging.reviewed_library import effect
from tests.small_library import comparison, result, study
from tests.small_library import question as ask

QUESTIONS = ("slow-lowering-strength", "one-leg-or-two-strength", "slow-lowering-strains")


def used(weighing):
    return weighing.studies[weighing.studies["used"]]


def one_each(folder, values, more=""):
    for name, value in values.items():
        study(folder, name, effect(value, se=0.2))
    ask(folder, more=more)
    return open_library(folder).weigh("asked")


@pytest.mark.parametrize("name", QUESTIONS)
def test_two_parts_of_a_page_give_one_number_without_a_study(shipped, name):
    weighing = shipped.weigh(name)
    one = would_change(weighing, shipped.certainty(name)).without_one
    table = turns(weighing).without.set_index("study")
    row = table.loc[one.study]
    assert (one.estimate, one.low, one.high) == (row["estimate"], row["low"], row["high"])
    single = table[table.index != ""]
    assert abs(row["shift"]) == single["shift"].abs().max()


@pytest.mark.parametrize("name", QUESTIONS)
def test_influence_moves_the_answer_as_leaving_out_does(shipped, name):
    weighing = shipped.weigh(name)
    found = bending(weighing).studies.set_index("study")
    table = turns(weighing).without.set_index("study").loc[found.index]
    assert found["shift"].to_numpy() == pytest.approx(table["shift"].to_numpy(), abs=1e-7)
    assert found["tau2"].to_numpy() == pytest.approx(table["tau2"].to_numpy(), abs=1e-7)
    assert list(found["cook"]) == sorted(found["cook"], reverse=True)
    assert found["weight"].sum() == pytest.approx(1)


def test_a_multilevel_pool_of_hardly_dependent_effects_has_the_plain_residuals(shipped):
    # Second route: with one composite per study the residuals are those of the plain pool; four
    # of sixteen studies gave several effects, so the two agree closely, not to the digit.
    weighing = shipped.weigh("slow-lowering-strength")
    assert weighing.dependence == "multilevel"
    found = bending(weighing).studies.set_index("study").loc[list(used(weighing)["study"])]
    plain = study_influence(used(weighing)["effect"], used(weighing)["variance"])
    assert found["residual"].to_numpy() == pytest.approx(plain.residual, abs=0.25)


def test_a_study_far_off_is_named_with_what_it_does(tmp_path):
    values = {name: 0.3 for name in ("ash", "birch", "cedar", "elder", "fir")} | {"oak": 2.0}
    found = bending(one_each(tmp_path, values))
    far = found.studies.iloc[0]
    assert far["study"] == "oak" and far["residual"] > 2
    assert "lies far from the others" in found.sentence
    assert "studies would differ less than half as much" in found.sentence
    data = bending_data(found)
    assert data.studies["move"].iloc[0] == pytest.approx(np.sqrt(far["cook"]))
    assert far["label"] in str(found)


@pytest.mark.parametrize("name", QUESTIONS)
def test_each_step_is_a_pool_and_both_orders_end_alike(shipped, name):
    weighing = shipped.weigh(name)
    rows, found = used(weighing), gathering(weighing)
    for order, key in (("year", rows["year"].astype(float)), ("size", rows["variance"])):
        part = found.steps[found.steps["order"] == order].reset_index(drop=True)
        assert list(part["studies"]) == list(range(1, len(rows) + 1))
        first = rows.iloc[np.argsort(key.to_numpy(), kind="stable")[:4]]
        plain = pool(first["effect"].to_numpy(), first["variance"].to_numpy())
        assert part["estimate"][3] == pytest.approx(plain.estimate, abs=1e-6)
        assert part["low"][3] == pytest.approx(plain.low, abs=1e-5)
    ends = found.steps.groupby("order").tail(1)
    assert ends["estimate"].iloc[0] == pytest.approx(ends["estimate"].iloc[1])
    assert len(gathering_data(found).steps) == 2 * len(rows)
    assert "most precise" in found.sentence


def test_two_studies_are_too_few_for_influence_and_gathering(tmp_path):
    weighing = one_each(tmp_path, {"ash": 0.2, "birch": 0.4})
    for look in (bending, gathering):
        with pytest.raises(DesignError, match="2 studies"):
            look(weighing)


def test_each_point_of_the_prior_lines_is_a_posterior(shipped):
    weighing = shipped.weigh("slow-lowering-strains")
    found = prior_lines(weighing)
    assert len(found.chances) == 2 * len(SPREADS)
    row = found.chances.iloc[4]
    one = posterior(
        used(weighing)["effect"],
        used(weighing)["variance"],
        tau_scale=row["spread"] * weighing.worthwhile,
        prior_sd=10 * weighing.worthwhile,
        worthwhile=weighing.worthwhile,
    )
    assert row["chance"] == pytest.approx(100 * one.effect.above, abs=1e-6)
    assert "goes from" in found.sentence
    assert priors_data(found).curves["chance"].between(0, 100).all()


def test_what_could_be_settled_is_settled_four_times_in_five(tmp_path):
    # Second route: simulated pools of five studies with the very variances, true effect at the
    # size named; 2,000 draws give the share to about 0.01.
    weighing = one_each(
        tmp_path,
        {"ash": 0.3, "birch": 0.3, "cedar": 0.3, "elder": 0.3, "fir": 0.3},
        "smallest_worthwhile = 0.2\n[model]\nbetween = 'common'\ninterval = 'normal'",
    )
    found = could_settle(weighing).found
    draws = np.random.default_rng(3).normal(found.worth_having, 0.2, (2000, 5)).mean(axis=1)
    assert (draws - 1.959964 * 0.2 / np.sqrt(5) > 0.2).mean() == pytest.approx(0.8, abs=0.03)
    assert "80 times in 100" in could_settle(weighing).sentence


def test_two_one_sided_tests_agree_with_the_interval_that_decides(shipped):
    for name in QUESTIONS:
        weighing = shipped.weigh(name)
        tests = weighing.equivalence
        assert (tests.low, tests.high) == pytest.approx((weighing.low_90, weighing.high_90))
        inside = -weighing.worthwhile < weighing.low_90 and weighing.high_90 < weighing.worthwhile
        assert (tests.p < 0.05) == inside
        assert weighing.as_json()["equivalence"]["p"] == tests.p
        assert "two one-sided tests" in str(weighing)
        ninety = weighing.ninety
        plain = equivalence(
            ninety.estimate, ninety.standard_error, margin=weighing.worthwhile, df=ninety.df
        )
        assert plain.p == pytest.approx(tests.p)


# Found by search: the Knapp-Hartung interval is (-0.03, 0.19) at 90 %, narrower than the
# common-effect one, (-0.06, 0.21); at 95 % it is the wider of the two.
CLOSE = {"ash": (0.06, 0.1), "birch": (0.14, 0.15), "cedar": (-0.14, 0.45)}


def test_sameness_is_not_shown_where_the_answer_is_not_settled(tmp_path):
    for name, (value, error) in CLOSE.items():
        study(
            tmp_path,
            name,
            comparison(standardised=f"{{ value = {value}, se = {error}, over = 'pre-sd' }}"),
        )
    ask(tmp_path, more="smallest_worthwhile = 0.2")
    weighing = open_library(tmp_path).weigh("asked")
    tests = weighing.equivalence
    assert weighing.pooled.df == 2 and tests.df == np.inf
    assert weighing.verdict.word == tests.verdict.word == "not settled"
    assert tests.p > 0.05 and (tests.low, tests.high) == (weighing.low_90, weighing.high_90)
    assert "sameness is not shown" in sameness_sentence(weighing)
    rows = dict(weighing._rows())
    assert "narrower than the common-effect one): sameness not shown" in rows["two one-sided tests"]


def test_leaving_a_study_out_judges_as_a_weighing_without_it(tmp_path):
    for name, (value, error) in {**CLOSE, "fir": (0.15, 0.05)}.items():
        study(
            tmp_path,
            name,
            comparison(standardised=f"{{ value = {value}, se = {error}, over = 'pre-sd' }}"),
        )
    ask(tmp_path, more="smallest_worthwhile = 0.2")
    library = open_library(tmp_path)
    weighing = library.weigh("asked")
    for row in turns(weighing).without.itertuples():
        fewer = {name: each for name, each in library.studies.items() if name != row.study}
        again = library.weigh_question(weighing.question, studies=fewer)
        assert (row.low, row.high) == pytest.approx((again.low, again.high))
        assert row.verdict == again.verdict.word


def test_the_margin_is_told_before_the_estimate_or_how_to_set_it(shipped, tmp_path):
    rows = [name for name, _ in shipped.weigh("slow-lowering-strength")._rows()]
    assert rows.index("too small to matter") < rows.index("answer") < rows.index("estimate")
    bare = one_each(tmp_path, {"ash": 0.2, "birch": 0.4, "cedar": 0.3})
    assert "not set, so no verdict is given on the size" in str(bare)
    assert "smallest_worthwhile" in margin_sentence(bare)
    assert sameness_sentence(bare) == ""
    assert bare.equivalence is None


def test_studies_are_only_said_to_differ_where_chance_would_not_do(shipped):
    weighing = shipped.weigh("one-leg-or-two-strength")
    assert weighing.tau2 > 0 and weighing.q_p > 0.05
    assert not differ_shown(weighing)
    assert "studies may differ" in next_study_sentence(weighing)
    assert "from Q (p 0.36" in str(weighing)


def test_the_interval_of_their_spread_decides_whether_studies_differ(shipped):
    """Rest has an SD of 0.002 and an I² of 0 %; where there is no interval, Q decides."""
    weighing = shipped.weigh("short-rest-size")
    assert weighing.tau2 > 0
    for low, p, differ in [
        (0.0, 0.03, False),
        (1e-6, 0.03, True),
        (float("nan"), 0.03, True),
        (float("nan"), 0.06, False),
    ]:
        other = replace(weighing, pooled=replace(weighing.pooled, tau2_low=low, q_p=p))
        assert differ_shown(other) is differ
        assert ("differ by more than chance" in next_study_sentence(other)) is differ
    for question in shipped.questions:
        found = shipped.weigh(question)
        if found.tau2_low == 0:
            assert "by more than chance" not in next_study_sentence(found)


def test_designs_stand_in_the_weighing_with_their_studies(shipped):
    notes = shipped.weigh("one-leg-or-two-strength").design_notes
    assert any("hazelmire-2014, ivelsham-2016: limbs of the same people" in each for each in notes)
    assert any("morvenside-2022: the same people did both" in each for each in notes)


def test_spread_relative_to_the_mean_is_its_own_metric(tmp_path):
    for number, (mean, sd) in enumerate(((112, 28), (110, 33), (120, 30))):
        cells = {"n": "40", "pre": "{ mean = 100.0, sd = 20.0 }"}
        body = result("slow", **cells, post=f"{{ mean = {mean}.0, sd = {sd}.0 }}")
        body += result("usual", **cells, post="{ mean = 104.0, sd = 20.0 }")
        study(tmp_path, f"place-{number}", body, n_slow=40, n_usual=40)
    ask(tmp_path, more='metric = "relative-variability-ratio"\nsmallest_worthwhile = 1.1')
    weighing = open_library(tmp_path).weigh("asked")
    row = weighing.effects.iloc[0]
    # By hand: ln of the ratio of SD/mean, the small-sample terms equal and so gone; variance
    # 1/(2(n − 1)) + CV²/n of each group (Nakagawa et al. 2015).
    assert row["effect"] == pytest.approx(np.log((28 / 112) / (20 / 104)))
    assert row["variance"] == pytest.approx(2 / 78 + (0.25**2 + (20 / 104) ** 2) / 40)
    assert row["comparator_variance"] == pytest.approx(1 / 78 + (20 / 104) ** 2 / 40)
    text = str(weighing)
    assert "people vary more relative to their mean with" in text
    assert weighing.scale.kind == "log" and weighing.scale.no_effect == 1
    assert weighing.worthwhile == pytest.approx(np.log(1.1))
    assert isinstance(weighing.studies, pd.DataFrame)


def test_a_relative_spread_of_changes_is_refused_with_the_reason(tmp_path):
    body = result("slow", change="{ mean = 3, sd = 5 }")
    body += result("usual", change="{ mean = 1, sd = 5 }")
    study(tmp_path, "one", body)
    ask(tmp_path, more='metric = "relative-variability-ratio"')
    left = open_library(tmp_path).effect_table("asked").left_out
    assert "no mean and SD after training" in left[0].reason


def test_every_assumption_of_a_shipped_question_is_one_whole_sentence(shipped):
    told = {name: shipped.weigh(name).assumptions for name in shipped.questions}
    assert told["slow-lowering-strains"][0].startswith("one half added to each of the four cells")
    for lines in told.values():
        assert not any(line.startswith("common practice") for line in lines)
        assert all(line.count("(") == line.count(")") for line in lines)
