"""Answers without each study, chances, and missing studies: against plain routes, in words."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import stdtr

from steelyard import open_library
from steelyard.errors import DesignError
from steelyard.pooling import leave_one_out, pool, posterior, small_study_regression
from steelyard.pooling.belief import belief, belief_data
from steelyard.pooling.small_studies import funnel_data, small_studies
from steelyard.pooling.turns import turns, turns_data
from tests.small_library import correlations, result, study
from tests.small_library import question as ask


def _used(weighing):
    return weighing.studies[weighing.studies["used"]]


def test_leaving_a_study_out_is_weighing_the_library_without_it(shipped):
    # A second route for every way of handling several effects: the record itself taken away.
    for question in ("slow-lowering-strength", "slow-lowering-strains", "weekly-sets-size"):
        weighing = shipped.weigh(question)
        found = turns(weighing).without.set_index("study")
        study = _used(weighing)["study"].iloc[1]
        fewer = {name: each for name, each in shipped.studies.items() if name != study}
        again = shipped.weigh_question(weighing.question, studies=fewer)
        if again.dependence != weighing.dependence:
            continue
        assert found.loc[study, "estimate"] == pytest.approx(again.estimate, rel=1e-9)
        assert found.loc[study, "low"] == pytest.approx(again.low, rel=1e-9)
        assert found.loc[study, "verdict"] == again.verdict.word


def test_one_effect_per_study_is_plain_leave_one_out(shipped):
    weighing = shipped.weigh("one-leg-or-two-strength")
    studies = _used(weighing)
    plain = leave_one_out(studies["effect"].to_numpy(), studies["variance"].to_numpy())
    found = turns(weighing).without.set_index("study").loc[list(studies["study"])]
    assert found["estimate"].to_numpy() == pytest.approx(plain.pooled.estimate, rel=1e-9)
    assert found["shift"].to_numpy() == pytest.approx(plain.shift, rel=1e-6)


def test_the_most_telling_come_first_and_the_sentence_names_them(shipped):
    found = turns(shipped.weigh("one-leg-or-two-strength"))
    single = found.without[found.without["study"] != ""]
    turned = single["turned"].to_numpy()
    assert (np.diff(turned.astype(int)) <= 0).all()
    assert single.iloc[0]["label"] in found.sentence
    kinds = list(found.without.loc[found.without["study"] == "", "label"])
    assert set(kinds) == {"figure readings", "an assumed r"}
    data = turns_data(found)
    assert (data.without["turns"] != "").sum() == found.without["turned"].sum()


def test_two_studies_are_too_few_to_leave_one_out(shipped):
    weighing = shipped.weigh("one-leg-or-two-strength")
    two = set(_used(weighing)["study"].iloc[:2])
    fewer = {name: each for name, each in shipped.studies.items() if name in two}
    with pytest.raises(DesignError, match="leaves too little"):
        turns(shipped.weigh_question(weighing.question, studies=fewer))


def test_chances_add_up_and_match_the_posterior(shipped):
    weighing = shipped.weigh("slow-lowering-strains")
    found = belief(weighing)
    for each in found.posteriors:
        total = each.effect.below + each.effect.within + each.effect.above
        assert total == pytest.approx(1, abs=1e-6)
    studies, prior = _used(weighing), found.priors[0]
    plain = posterior(
        studies["effect"].to_numpy(),
        studies["variance"].to_numpy(),
        tau_scale=prior.tau_scale,
        prior_sd=prior.prior_sd,
        worthwhile=weighing.worthwhile,
    )
    assert found.used.effect.above == plain.effect.above
    # A risk ratio's axis runs the other way: what favours the intervention lies below.
    data = belief_data(found)
    assert data.average.below == f"{100 * plain.effect.above:.0f} in 100"
    assert data.priors["above"].iloc[0] == data.average.below


def test_chances_hold_only_if_the_studies_are_sound(shipped):
    weighing = shipped.weigh("slow-lowering-strength")
    for each in (weighing, replace(weighing, worthwhile=None)):
        assert "If the studies are sound, the chance that" in belief(each).sentence


def test_a_weak_prior_gives_nearly_the_pooled_answer(shipped):
    for question in shipped.questions:
        weighing = shipped.weigh(question)
        found = belief(weighing).used.effect
        studies = _used(weighing)
        whole = pool(studies["effect"], studies["variance"], interval="normal")
        assert found.median == pytest.approx(whole.estimate, abs=0.35 * whole.standard_error)


def test_fewer_than_ten_studies_are_met_with_silence(shipped):
    found = small_studies(shipped.weigh("short-rest-size"))
    assert (found.test, found.filled, found.selection) == (None, None, None)
    assert "cannot be told" in found.sentence
    data = funnel_data(found)
    assert data.filled.empty and np.isnan(data.estimate_filled)
    assert len(data.notes) == 4


def test_the_test_uses_a_precision_that_the_effect_does_not_enter(shipped):
    weighing = shipped.weigh("slow-lowering-strength")
    found, studies = small_studies(weighing), _used(weighing)
    precision = 1 / np.sqrt(1 / studies["n_intervention"] + 1 / studies["n_comparator"])
    plain = small_study_regression(
        studies["effect"].to_numpy(), studies["variance"].to_numpy(), precision=precision.to_numpy()
    )
    assert found.test.regression.p == plain.p
    data = funnel_data(found)
    assert len(data.filled) == found.filled.added
    # At standard error s the 95 % contour stands at 1.96 s: any table of the normal distribution.
    row = data.contours.iloc[-1]
    assert row["high_95"] / row["standard_error"] == pytest.approx(1.959964, abs=1e-6)


def test_pictures_of_every_shipped_question_have_what_they_need(shipped):
    for question in shipped.questions:
        weighing = shipped.weigh(question)
        belief_, turns_, funnel_ = (
            belief_data(belief(weighing)),
            turns_data(turns(weighing)),
            funnel_data(small_studies(weighing)),
        )
        assert belief_.curves["value"].is_monotonic_increasing
        assert (turns_.without["low"] <= turns_.without["high"]).all()
        assert funnel_.studies["weight"].sum() == pytest.approx(100)
        for data in (belief_, turns_, funnel_):
            assert data.title and data.subtitle and "Invented data" in data.notes[0]


def test_an_imprecise_selection_model_is_not_leant_on(shipped):
    found = small_studies(shipped.weigh("slow-lowering-strength"))
    pooled, selection = found.weighing.pooled, found.selection
    width = pooled.high - pooled.low
    middle = selection.estimate

    def sentence(*, p, half):
        other = replace(selection, p=p, low=middle - half, high=middle + half)
        return replace(found, selection=other).sentence

    told = "too imprecise to lean on"
    assert told not in sentence(p=0.01, half=width / 2)
    assert told in sentence(p=0.40, half=width / 2)
    assert told in sentence(p=0.01, half=width)
    assert told in sentence(p=0.01, half=np.nan)


def test_a_large_p_is_no_sameness(shipped):
    found = small_studies(shipped.weigh("slow-lowering-strength"))
    line, weighing = found.test.regression, found.weighing

    def told(**changes):
        test = replace(found.test, regression=replace(line, **changes))
        return replace(found, test=test).sentence

    assert line.p > 0.1 and line.limit_high - weighing.estimate > weighing.worthwhile
    assert found.sentence.startswith("Whether small studies tell another story than large ones ")
    assert f"cannot be told from these (p {line.p:.3f})" in found.sentence
    span = weighing.span(line.limit_low, line.limit_high)
    loose = "their trend, too loose to lean on, would put the average of very large studies at"
    assert f": {loose} {weighing.text(line.limit)} ({span}), where all" in found.sentence
    near = 0.99 * weighing.worthwhile
    ends = {"limit_low": weighing.estimate - near, "limit_high": weighing.estimate + near}
    assert "do not differ by enough to matter" in told(**ends)
    for known in (told(**ends), told(p=0.05, **ends)):
        assert "their trend would put the average of very large studies at" in known
        assert "too loose to lean on" not in known
    assert "cannot be told" in told(**ends | {"limit_low": weighing.estimate - 2 * near})
    assert told(p=0.05, **ends).startswith("Small studies tell another story than large ones (p")
    (step,) = (
        each
        for each in shipped.certainty("slow-lowering-strength").steps
        if each.domain == "small-study effects"
    )
    assert "cannot be told from these" in step.sentence
    assert f": {loose} {weighing.text(line.limit)} ({span}), where all" in step.sentence


def test_the_two_ranges_for_the_next_study_have_two_names(shipped):
    weighing = shipped.weigh("slow-lowering-strength")
    one, other = dict(weighing._rows()), dict(belief(weighing)._rows())
    ranges = [name for rows in (one, other) for name in rows if name.startswith("next study")]
    assert len(ranges) == len(set(ranges)) == 2
    assert "Bayesian" in ranges[1]


def test_belief_gives_way_where_studies_scatter_more_than_it_foresees(tmp_path):
    # Correlations of 0.1 to 0.99 in four studies of 20: the pool settles nothing, and a prior
    # that knows only small scatter would be all but certain.
    library = correlations(tmp_path, (0.1, 0.3, 0.5, 0.99), n=20, more="smallest_worthwhile = 0.1")
    weighing = library.weigh("asked")
    found = belief(weighing)
    assert weighing.verdict.word == "not settled" and weighing.low < -weighing.worthwhile
    assert found.posteriors[0].effect.above > 0.99
    assert found.scattered and found.used is found.posteriors[-1]
    # The pool's own t interval, read as chances, as a second route: 3 df, estimate over SE.
    t = (weighing.estimate - weighing.worthwhile) / weighing.standard_error
    assert found.used.effect.above == pytest.approx(stdtr(3, t), abs=0.06)
    assert found.sentence.startswith("The studies differ more than was expected beforehand")
    assert "over 99 in 100 on average" not in found.sentence
    assert any(row["used"] and "far apart" in row["words"] for row in _priors(found))


def test_belief_takes_the_usual_prior_where_the_scatter_is_usual(shipped):
    for name in shipped.questions:
        found = belief(shipped.weigh(name))
        assert not found.scattered and found.used is found.posteriors[0]
        assert found.priors[-1].tau_scale == 2 * found.priors[0].tau_scale
        assert "under 1 in 100 and under 1 in 100" not in found.sentence


def _priors(found):
    return belief_data(found).priors.to_dict("records")


def test_ten_studies_of_one_size_are_told_why_they_cannot_tell(tmp_path):
    for number in range(10):
        body = result(
            "slow",
            pre="{ mean = 100.0, sd = 20.0 }",
            post=f"{{ mean = {105 + number % 7}.0, sd = 20.0 }}",
            r=0.9,
        ) + result(
            "usual", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 104.0, sd = 20.0 }", r=0.9
        )
        study(tmp_path, f"s{number}", body)
    ask(tmp_path)
    found = small_studies(open_library(tmp_path).weigh("asked"))
    assert found.sentence.startswith(
        "Whether small studies tell another story cannot be told (all studies are of one size)"
    )
    nothing = replace(found, filled=None, selection=None, why_not={"trim and fill": "no"})
    assert nothing.sentence == "No method gives an answer: no."
