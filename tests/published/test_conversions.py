"""Log odds ratio, standardised difference and correlation turned into one another."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from steelyard.effects import (
    correlation_from_standardised,
    log_odds_from_standardised,
    standardised_from_correlation,
    standardised_from_log_odds,
)
from steelyard.errors import DesignError

FOUR_PLACES = 5.0e-5
EXACT = 1e-9  # of the full-precision value, recomputed from the printed formula

# Borenstein, Hedges, Higgins & Rothstein (2009), Introduction to Meta-Analysis, ch. 7: figures of
# the worked examples recalled, page not viewed; full-precision values recomputed from the
# formulas, and they round to the recalled figures.


def test_log_odds_ratio_to_standardised():
    found = standardised_from_log_odds(0.9069, variance=0.0676)
    assert found.effect == pytest.approx(0.5000, abs=FOUR_PLACES)
    assert found.effect == pytest.approx(0.5000001752580232, abs=EXACT)
    assert found.variance == pytest.approx(0.0205, abs=FOUR_PLACES)
    assert found.variance == pytest.approx(0.0205479360426661, abs=EXACT)


def test_standardised_to_log_odds_ratio():
    found = log_odds_from_standardised(0.5, variance=0.0205)
    assert found.effect == pytest.approx(0.9069, abs=FOUR_PLACES)
    assert found.effect == pytest.approx(0.9068996821171089, abs=EXACT)
    # 0.0676 went into the example above; 0.0205, rounded, leads back to 0.0674.
    assert found.variance == pytest.approx(0.0205 * np.pi**2 / 3, rel=1e-12)


def test_correlation_to_standardised():
    found = standardised_from_correlation(0.5, variance=0.0058)
    assert found.effect == pytest.approx(1.1547, abs=FOUR_PLACES)
    assert found.effect == pytest.approx(1.1547005383792517, abs=EXACT)
    assert found.variance == pytest.approx(0.0550, abs=FOUR_PLACES)
    assert found.variance == pytest.approx(0.054992592592592586, abs=EXACT)


def test_standardised_to_correlation():
    found = correlation_from_standardised(1.1547, variance=0.0550)
    assert found.effect == pytest.approx(0.5000, abs=FOUR_PLACES)
    assert found.effect == pytest.approx(0.4999998251561787, abs=EXACT)
    assert found.variance == pytest.approx(0.0058, abs=FOUR_PLACES)
    assert found.variance == pytest.approx(0.005800785306923279, abs=EXACT)


@pytest.mark.parametrize("size", [-1.4, -0.2, 0.0, 0.6, 2.3])
def test_there_and_back(size):
    """Second way: each pair of functions undoes the other, variances too."""
    odds = log_odds_from_standardised(size, variance=0.07)
    back = standardised_from_log_odds(odds.effect, variance=odds.variance)
    assert (back.effect, back.variance) == pytest.approx((size, 0.07), rel=1e-12)
    r = correlation_from_standardised(size, variance=0.07)
    back = standardised_from_correlation(r.effect, variance=r.variance)
    assert (back.effect, back.variance) == pytest.approx((size, 0.07), rel=1e-12)


def test_correlation_of_group_and_score_in_raw_data():
    """With d from the SD within groups on N, the formula is the point-biserial correlation."""
    draw = np.random.default_rng(41)
    first, second = draw.normal(2, 3, 14), draw.normal(0, 3, 23)
    within = np.sqrt((14 * first.var() + 23 * second.var()) / 37)
    d = (first.mean() - second.mean()) / within
    found = correlation_from_standardised(d, variance=0.1, n_intervention=14, n_comparator=23)
    by_data = stats.pointbiserialr(np.repeat([1, 0], [14, 23]), np.concatenate([first, second]))
    assert found.effect == pytest.approx(by_data.statistic, rel=1e-12)


def test_odds_of_a_cut_logistic_score():
    """Second way: the odds ratio of any cut of two logistic scores d SDs apart."""
    d, cut, scale = 0.7, 0.4, np.sqrt(3) / np.pi  # scale that makes the SD 1
    above = [stats.logistic.sf(cut, loc=loc, scale=scale) for loc in (d, 0.0)]
    ratio = np.log(above[0] / (1 - above[0])) - np.log(above[1] / (1 - above[1]))
    assert standardised_from_log_odds(ratio, variance=0.1).effect == pytest.approx(d, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: standardised_from_correlation(1.0, variance=0.1), "correlation must lie strictly"),
        (lambda: standardised_from_log_odds(0.4, variance=0.0), "variance must be greater than 0"),
        (lambda: log_odds_from_standardised(np.nan, variance=0.1), "d must be"),
        (
            lambda: correlation_from_standardised(0.4, variance=0.1, n_intervention=0),
            "n of the intervention group must be at least 1",
        ),
    ],
)
def test_refusals(call, message):
    with pytest.raises(DesignError, match=message):
        call()
