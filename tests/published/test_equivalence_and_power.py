"""Equivalence, detectable differences and information size against published figures."""

import numpy as np
import pytest
from statsmodels.stats.power import TTestIndPower

from steelyard.pooling import (
    chance_any_significant,
    detectable_difference,
    equivalence,
    equivalence_of_groups,
    equivalence_of_interval,
    information_size,
)


def test_two_groups():
    # Lakens (2017), Soc Psychol Personal Sci 8, 355-362, replication example: summaries and
    # the printed t(182) = -2.69, p = 0.004 recalled, page not viewed; the further digits are
    # recomputed from the published formula.
    result = equivalence_of_groups(
        means=(5.25, 5.22), sds=(0.95, 0.83), ns=(95, 89), margin=0.43, margin_in="sd"
    )
    assert round(result.against_upper, 2) == -2.69
    assert round(result.p, 3) == 0.004
    assert result.df == 182
    assert result.standard_error == pytest.approx(0.13188199739513284, abs=1e-6)
    assert result.margin == pytest.approx(0.3844163635297677, abs=1e-6)
    assert result.against_lower == pytest.approx(3.1423270174482676, abs=4e-6)
    assert result.against_upper == pytest.approx(-2.6873748542638265, abs=3e-6)
    assert result.p_lower == pytest.approx(0.0009785152974083888, abs=1e-6)
    assert result.p == result.p_upper == pytest.approx(0.003934585686943877, abs=1e-6)
    assert result.low == pytest.approx(-0.1880364210777772, abs=1e-6)
    assert result.high == pytest.approx(0.2480364210777777, abs=1e-6)
    assert result.verdict.word == "equivalent"


def test_pooled_effect():
    # Lakens (2017): the version for a pooled effect takes the normal distribution. Inputs from
    # memory, values recomputed from the published formula; no printed figures.
    result = equivalence(0.12, 0.09, margin=0.3)
    assert result.against_lower == pytest.approx(4.666666666666667, abs=5e-6)
    assert result.against_upper == pytest.approx(-2.0, abs=2e-6)
    assert result.p_lower == pytest.approx(1.530626736531063e-06, abs=1e-12)
    assert result.p == pytest.approx(0.022750131948179195, abs=1e-6)
    assert result.low == pytest.approx(-0.02803682642563249, abs=1e-6)
    assert result.high == pytest.approx(0.2680368264256325, abs=1e-6)


@pytest.mark.parametrize(
    ("low", "high", "word"),
    [
        # Refalo et al. (2022), training to failure and muscle size: 0.12 (-0.13 to 0.37).
        (-0.13, 0.37, "not settled"),
        (-0.1, 0.1, "equivalent"),
        (0.21, 0.5, "better"),
        (-0.5, -0.21, "worse"),
        (0.05, 0.5, "not settled"),
    ],
)
def test_four_answers_at_a_margin_of_one_fifth(low, high, word):
    assert equivalence_of_interval(low, high, margin=0.2).verdict.word == word


def test_people_per_arm():
    # Cohen (1988), Statistical Power Analysis, table 2.4.1, from memory: 64 per group for
    # d = 0.5, 26 for 0.8, 393 for 0.2 at 80 % power, two-sided 5 %. His are t tests, which
    # need one or two more than the normal approximation.
    for d, cohen in ((0.2, 393), (0.5, 64), (0.8, 26)):
        size = information_size(d, r_pre_post=0, contrast="post")
        assert 0 <= cohen - size.per_arm <= 2
    # The normal approximation itself, 2 (1.96 + 0.8416)**2 / 0.25 = 62.8 (any textbook).
    assert information_size(0.5, r_pre_post=0.9, contrast="post").exact == pytest.approx(
        62.8, abs=0.05
    )
    # Working rule of the trade, from memory: 31.4 (1 - r) / d**2 per arm; d = 0.2 and
    # r = 0.89 give 86.
    assert information_size(1, r_pre_post=0).exact == pytest.approx(31.4, abs=0.01)
    assert round(information_size(0.2, r_pre_post=0.89).exact) == 86


@pytest.mark.parametrize("n", [6, 12, 40])
def test_detectable_difference_is_that_of_a_t_test(n):
    theirs = TTestIndPower().solve_power(nobs1=n, alpha=0.05, power=0.8)
    ours = detectable_difference(2 / n, df=2 * n - 2)
    # Theirs also counts the rare significant result on the wrong side.
    assert float(ours) == pytest.approx(theirs, abs=2e-4)


def test_detectable_difference_normal():
    # 1.959964 + 0.841621 standard errors (any table of the normal distribution).
    found = detectable_difference([[0.04], [0.09]])
    assert found.shape == (2, 1)
    assert found[:, 0] == pytest.approx(2.801585 * np.array([0.2, 0.3]), rel=1e-6)


def test_several_independent_tests():
    # 1 - 0.95**k: 22.6 % for 5 and 40.1 % for 10 (any textbook on multiple testing).
    assert chance_any_significant(5, correlation=0).chance == pytest.approx(0.2262, abs=5e-5)
    assert chance_any_significant(10, correlation=0).chance == pytest.approx(0.4013, abs=5e-5)
