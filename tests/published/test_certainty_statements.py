"""What published guidance says in words on rating certainty, against whole small libraries.

No published judgement could be cited that prints every number our rules ask for (effects, people,
correlation before to after, threshold), so none is recomputed here as a number. What is held
against the rules are statements of the guidance, each on a library made for it, from both sides.

Sources and how they are known:

- Zeng et al. (2022). GRADE guidance 34: update on rating imprecision using a minimally
  contextualized approach. Journal of Clinical Epidemiology 150, 216-224. Seen as a summary in a
  public page: the interval against thresholds first, the information size second, up to three
  levels. How many levels for which thresholds: from memory.
- Guyatt et al. (2023). GRADE guidance 36: updates to GRADE's approach to addressing
  inconsistency. Journal of Clinical Epidemiology 158, 70-83. Seen as a summary in a public page:
  not I squared alone. That it counts on which side of a threshold the studies lie: from memory.
- Guyatt et al. (2011). GRADE guidelines 1: introduction. Journal of Clinical Epidemiology 64,
  383-394. Randomised trials start high, others low: from memory.
- Guyatt et al. (2011). GRADE guidelines 8: indirectness. Journal of Clinical Epidemiology 64,
  1303-1310. Surrogate outcomes are rated down: from memory. That they cap at very low is our own
  rule, and not theirs.
- Cochrane Handbook for Systematic Reviews of Interventions, chapter 13: tests of small-study
  effects where there are at least ten studies. From memory.
"""

from __future__ import annotations

import pytest

from steelyard import open_library
from tests.judging.test_certainty import certainty, library_of

WORTHWHILE = 0.2


def imprecision(folder, values, *, se, n):
    library = library_of(folder, values, se=se, n=n, worthwhile=WORTHWHILE)
    weighing = library.weigh("asked")
    return weighing, certainty(library).step("imprecision")


def test_an_interval_on_one_side_of_the_threshold_with_people_enough_is_not_rated_down(tmp_path):
    weighing, step = imprecision(tmp_path, [0.48, 0.5, 0.52, 0.5], se=0.05, n=150)
    assert weighing.low > WORTHWHILE
    assert step.step == 0


def test_an_interval_that_crosses_one_threshold_is_rated_down_one(tmp_path):
    weighing, step = imprecision(tmp_path, [0.2, 0.3, 0.25, 0.25], se=0.1, n=150)
    assert -WORTHWHILE < weighing.low < WORTHWHILE < weighing.high
    assert step.step == -1


def test_an_interval_with_appreciable_good_and_harm_is_rated_down_two(tmp_path):
    weighing, step = imprecision(tmp_path, [-0.5, 0.6, 0.1, 0.0], se=0.3, n=150)
    assert weighing.low < -WORTHWHILE
    assert weighing.high > WORTHWHILE
    assert step.step == -2


def test_a_very_wide_interval_from_very_few_people_is_rated_down_three(tmp_path):
    weighing, step = imprecision(tmp_path, [0.1], se=0.5, n=10)
    assert weighing.low < -WORTHWHILE < WORTHWHILE < weighing.high
    assert step.step == -3


def test_the_information_size_comes_second(tmp_path):
    """Settled by the interval, and by too few people: one level for the people."""
    weighing, step = imprecision(tmp_path / "few", [0.9, 0.9, 0.9], se=0.2, n=12)
    assert weighing.low > WORTHWHILE
    assert step.step == -1
    assert "fewer than" in step.sentence
    # Crossing the threshold already takes that level: too few people do not take another.
    weighing, step = imprecision(tmp_path / "both", [0.3, 0.3, 0.3], se=0.2, n=12)
    assert weighing.low < WORTHWHILE < weighing.high
    assert step.step == -1
    assert "takes in both" in step.sentence


def test_great_heterogeneity_on_one_side_of_the_threshold_is_not_rated_down(tmp_path):
    values = [1.0, 1.6, 1.2, 1.5, 1.1, 1.4, 1.3, 1.55, 1.05, 1.25]
    library = library_of(tmp_path, values, worthwhile=WORTHWHILE)
    weighing = library.weigh("asked")
    assert weighing.i2 > 0.75
    assert weighing.prediction_low > WORTHWHILE
    assert certainty(library).step("inconsistency").step == 0


def test_the_same_heterogeneity_across_the_threshold_is_rated_down(tmp_path):
    values = [round(value - 0.8, 2) for value in (1.0, 1.6, 1.2, 1.5, 1.1, 1.4, 1.3, 1.55, 1.2)]
    library = library_of(tmp_path, values, worthwhile=WORTHWHILE)
    weighing = library.weigh("asked")
    assert weighing.low > WORTHWHILE > weighing.prediction_low
    assert certainty(library).step("inconsistency").step < 0


@pytest.mark.parametrize(("randomised", "start"), [("true", 4), ("false", 2)])
def test_randomised_trials_start_high_and_others_low(tmp_path, randomised, start):
    library = library_of(tmp_path, [0.48, 0.5, 0.52, 0.5], randomised=randomised)
    assert certainty(library).start == start


def test_a_stand_in_for_the_outcome_is_rated_down(tmp_path):
    library_of(tmp_path, [0.48, 0.5, 0.52, 0.5])
    (tmp_path / "vocabulary.toml").write_text(
        '[[construct]]\nid = "strength"\nlabel = "strength"\nsurrogate = true\n'
        '[[tag]]\nid = "slow"\nlabel = "slow"\n[[tag]]\nid = "usual"\nlabel = "usual"\n',
        encoding="utf-8",
    )
    assert certainty(open_library(tmp_path)).step("indirectness").step < 0


@pytest.mark.parametrize(("studies", "said"), [(9, "fewer than ten"), (10, "p ")])
def test_small_study_effects_are_tested_from_ten_studies(tmp_path, studies, said):
    values = [0.5 + 0.02 * (-1) ** at for at in range(studies)]
    library_of(tmp_path, values)
    for at in range(studies):
        path = tmp_path / "studies" / f"s{at}.toml"
        text = path.read_text(encoding="utf-8").replace("n = 150", f"n = {100 + 20 * at}")
        path.write_text(text, encoding="utf-8")
    sentence = certainty(open_library(tmp_path)).step("small-study effects").sentence
    assert said in sentence
    assert ("not assessable" in sentence) is (studies < 10)
