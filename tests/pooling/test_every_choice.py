"""Every way to weigh: agreement with the weighing itself, properties, sentences, refusals."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pandas as pd
import pytest
from scipy.special import ndtri

from steelyard import open_library
from steelyard.errors import DesignError
from steelyard.judging.integrity import suspect_results
from steelyard.pooling.choices_grid import Dial
from steelyard.pooling.choices_turning import turning
from steelyard.pooling.choices_words import choices_data, choices_sentence
from steelyard.pooling.every_choice import every_choice
from steelyard.pooling.worthwhile_elsewhere import worthwhile_in
from tests.small_library import question, result, study


def tried(library, question_id):
    return every_choice(
        library.weigh(question_id),
        library.studies.values(),
        vocabulary=library.vocabulary,
        suspects=suspect_results(library.integrity),
    )


@pytest.fixture(scope="module")
def one_leg(shipped):
    return tried(shipped, "one-leg-or-two-strength")


def test_the_way_used_is_the_weighing(shipped):
    for each in shipped.questions:
        every = tried(shipped, each)
        used, weighing = every.ways.iloc[every.shipped], shipped.weigh(each)
        assert used["estimate"] == weighing.estimate
        assert used["verdict"] == weighing.verdict.word
        assert every.ways["shipped"].sum() == 1


@pytest.mark.parametrize(
    ("changed", "options"),
    [
        ({"model": {"between": "dl"}}, {"between": "DerSimonian–Laird"}),
        ({"model": {"interval": "normal"}}, {"interval": "normal"}),
        ({"assume": {"r_pre_post": "0.70"}}, {"r": "0.70"}),
        ({"metric": "percent", "smallest_worthwhile": None}, {"metric": "percent"}),
        ({"contrast": "adjusted"}, {"contrast": "adjusted for the start"}),
    ],
)
def test_each_way_is_what_weighing_it_that_way_gives(shipped, one_leg, changed, options):
    # A second route: the same question written with the other choice and weighed by itself.
    asked = shipped.questions["one-leg-or-two-strength"]
    update = {}
    for name, value in changed.items():
        inner = getattr(asked, name)
        if isinstance(value, dict):
            typed = {
                key: (type(inner).model_fields[key].annotation and _typed(word))
                for key, word in value.items()
            }
            value = inner.model_copy(update=typed)
        update[name] = value
    weighed = shipped.weigh_question(asked.model_copy(update=update))
    used = one_leg.ways.iloc[one_leg.shipped]
    same = np.ones(len(one_leg.ways), dtype=bool)
    for dial in one_leg.dials:
        wanted = options.get(dial.column, used[dial.column])
        same &= (one_leg.ways[dial.column] == wanted).to_numpy()
    found = one_leg.ways[same]
    assert len(found) == 1
    if "contrast" in changed and weighed.k_studies != found["studies"].iloc[0]:
        # Studies that cannot be adjusted keep their best-founded effect in the way.
        assert weighed.k_studies < found["studies"].iloc[0]
        return
    assert found["estimate"].iloc[0] == pytest.approx(weighed.estimate, rel=1e-9)
    assert found["low"].iloc[0] == pytest.approx(weighed.low, rel=1e-9)


def _typed(word):
    return Decimal(word) if word[0].isdigit() else word


@pytest.mark.parametrize("question_id", ["short-rest-size", "slow-lowering-strength"])
def test_ways_within_studies_are_weighed_as_the_weighing_does(shipped, question_id):
    # A second route: the question written with the other choice and weighed by itself. Other
    # intervals than cluster-robust ones, or other estimators, it could not give.
    every = tried(shipped, question_id)
    asked = shipped.questions[question_id]
    used = every.ways.iloc[every.shipped]
    ways = every.ways[every.ways["dependence"] == "effects within studies"]
    assert set(ways["between"]) == {"REML"}
    assert "no such form" in " ".join(every.notes)
    varied = ("r_between_outcomes", "interval")
    for dial in every.dials:
        if dial.column not in (*varied, "dependence"):
            ways = ways[ways[dial.column] == used[dial.column]]
    assert len(ways) == 6
    for way in ways.itertuples():
        assume = {
            "r_pre_post": Decimal(way.r),
            "r_between_outcomes": Decimal(way.r_between_outcomes),
        }
        model = {"dependence": "multilevel"}
        model["interval"] = "normal" if way.interval == "normal" else "knapp-hartung"
        weighed = shipped.weigh_question(
            asked.model_copy(
                update={
                    "assume": asked.assume.model_copy(update=assume),
                    "model": asked.model.model_copy(update=model),
                }
            )
        )
        assert way.estimate == pytest.approx(weighed.estimate, rel=1e-9, abs=1e-12)
        assert (way.low, way.high) == pytest.approx((weighed.low, weighed.high), rel=1e-9)
        assert way.verdict == weighed.verdict.word


def test_ways_that_agree_in_every_number_are_told(shipped):
    every = tried(shipped, "slow-lowering-strains")
    told = every.ways[["estimate", "low", "high"]].round(8)
    numbers = set(told.itertuples(index=False, name=None))
    assert len(numbers) == every.answers < len(every.ways)
    assert f"({len(numbers)} different answers)" in every.sentence
    more = len(every.ways) - len(numbers)
    assert f"{more} further ways of {len(every.ways)} give the very numbers" in str(every)


def test_ways_are_distinct_and_in_order(one_leg):
    columns = [dial.column for dial in one_leg.dials]
    assert not one_leg.ways.duplicated(columns).any()
    assert one_leg.ways["multiple"].is_monotonic_increasing
    for dial in one_leg.dials:
        assert set(one_leg.ways[dial.column]) <= set(dial.options)
    data = choices_data(one_leg)
    assert data.ways["estimate"].is_monotonic_increasing
    assert data.ways["estimate"].iloc[data.shipped] == pytest.approx(
        one_leg.ways["multiple"].iloc[one_leg.shipped]
    )
    assert (data.ways["low"] <= data.ways["high"]).all()


def test_counts_in_the_sentence_are_those_of_the_table(one_leg):
    verdicts = one_leg.ways["verdict"].value_counts()
    sentence = choices_sentence(one_leg)
    assert f"{len(one_leg.ways):,} ways" in sentence
    for amount in verdicts:
        assert f"{amount:,} " in sentence
    assert one_leg.turning[0].flips == max(each.flips for each in one_leg.turning)
    assert sentence in str(one_leg)


@pytest.mark.parametrize("word", ["better", "worse", "equivalent"])
def test_ways_that_agree_claim_no_more_than_their_intervals(one_leg, word):
    agreed = replace(one_leg, ways=one_leg.ways.assign(verdict=word))
    sentence = choices_sentence(agreed)
    assert sentence.startswith(f"All {len(one_leg.ways):,} ways to weigh this")
    assert "say with all of their" in sentence and "doubt" not in sentence
    assert sentence.endswith("A fault that the studies share is in all of these ways.")


def test_worthwhile_effects_carry_over(shipped):
    # 2.5 kg over an SD of 18 kg and a baseline of 76 kg, as the question states: arithmetic.
    asked = shipped.questions["one-leg-or-two-strength"]
    assert worthwhile_in(asked, "standardised") == pytest.approx(2.5 / 18)
    assert worthwhile_in(asked, "percent") == pytest.approx(np.log1p(2.5 / 76))
    counted = shipped.questions["slow-lowering-strains"]
    fewer = 0.11 * 0.8
    odds = np.log((0.11 / 0.89) / (fewer / (1 - fewer)))
    assert worthwhile_in(counted, "odds-ratio") == pytest.approx(odds)


def _library(tmp_path, *, r=0.9, more="", shift=0.0):
    for number, gain in enumerate((4.0, 9.0, 6.0, 12.0, 7.0)):
        body = result(
            "slow",
            pre="{ mean = 100.0, sd = 20.0 }",
            post=f"{{ mean = {100 + gain + 3 + shift}, sd = 20.0 }}",
        ) + result("usual", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 103.0, sd = 20.0 }")
        study(tmp_path, f"s{number}", body)
    question(tmp_path, more=f"smallest_worthwhile = 0.2\n{more}\n[assume]\nr_pre_post = {r}")
    return open_library(tmp_path)


def test_the_answer_turns_on_r_where_r_decides(tmp_path):
    # All studies hide r, and the interval at r = 0.95 is far narrower than at 0.7: with
    # estimator and interval alike, only r can turn a verdict.
    every = tried(_library(tmp_path, more='metric = "raw"\ncontrast = "change"'), "asked")
    assert set(every.ways["r"]) == {"0.70", "0.90", "0.95"}
    used = every.ways.iloc[every.shipped]
    alike = (every.ways["contrast"] == used["contrast"]) & (every.ways["interval"] == "normal")
    ways = every.ways[alike & (every.ways["between"] == "DerSimonian–Laird")].set_index("r")
    reach = (ways["high"] - ways["low"]).to_dict()
    # Equal variances v = 2(1 − r)·20²·2/20: at r = 0.70 that is 24, more than the gains' own
    # scatter (9.3), so τ² is 0; at r = 0.90 it is 8, and v + τ² is that scatter.
    scatter = np.var([4.0, 9.0, 6.0, 12.0, 7.0], ddof=1)
    assert reach["0.70"] == pytest.approx(2 * ndtri(0.975) * np.sqrt(24 / 5), rel=1e-9)
    assert reach["0.90"] == pytest.approx(2 * ndtri(0.975) * np.sqrt(scatter / 5), rel=1e-9)
    assert "without an assumed r" not in every.ways["inclusion"].unique()
    assert "fewer than two studies are left" in " ".join(every.notes)


def test_turning_counts_pairs_that_differ_in_one_choice():
    # By hand: r decides, the estimator never does.
    ways = pd.DataFrame(
        {
            "r": ["low", "low", "high", "high"],
            "between": ["a", "b", "a", "b"],
            "verdict": ["not settled", "not settled", "better", "better"],
            "multiple": [1.0, 1.0, 2.0, 2.0],
            "estimate": [1.0, 1.0, 2.0, 2.0],
        }
    )
    dials = (Dial("r", "r", ("low", "high")), Dial("between", "estimator", ("a", "b")))
    first, second = turning(ways, dials)
    assert (first.column, first.flips, first.spread, first.pairs) == ("r", 1.0, 1.0, 2)
    assert (second.column, second.flips, second.spread) == ("between", 0.0, 0.0)


def test_adding_a_constant_to_every_gain_shifts_raw_ways(tmp_path):
    more = 'metric = "raw"\ncontrast = "change"'
    one = tried(_library(tmp_path / "one", more=more), "asked")
    two = tried(_library(tmp_path / "two", more=more, shift=5.0), "asked")
    keys = [dial.column for dial in one.dials]
    joined = one.ways.merge(two.ways, on=keys, suffixes=("", "_two"))
    assert len(joined) == len(one.ways)
    assert (joined["estimate_two"] - joined["estimate"]).to_numpy() == pytest.approx(5.0, abs=1e-9)
    assert (joined["low_two"] - joined["low"]).to_numpy() == pytest.approx(5.0, abs=1e-9)


def test_intervals_and_what_was_not_tried_are_told_without_jargon_alone(shipped):
    every = tried(shipped, "slow-lowering-strength")
    (dial,) = (each for each in every.dials if each.column == "interval")
    (said,) = (note for note in every.notes if note.startswith("intervals: "))
    for option in dial.options:
        assert all(name in said for name in option.split(" or "))
    assert "allow for few studies" in said
    rows = shipped.effect_table("slow-lowering-strength").rows
    told = f"no way is in the unit measured: the studies measured in {rows['unit'].nunique()} units"
    assert told in every.notes


def test_one_study_is_refused_in_words(tmp_path):
    body = result(
        "slow", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 109.0, sd = 20.0 }"
    ) + result("usual", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 103.0, sd = 20.0 }")
    study(tmp_path, "only", body)
    question(tmp_path)
    with pytest.raises(DesignError, match="one way only"):
        tried(open_library(tmp_path), "asked")
