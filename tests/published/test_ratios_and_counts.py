"""Ratios of means and SDs, correlations and counts against published worked examples."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.contingency_tables import Table2x2

from steelyard.effects import (
    Counts,
    Group,
    correlation_from_z,
    fisher_z,
    log_cv_ratio,
    log_odds_ratio,
    log_ratio_of_means,
    log_risk_ratio,
    log_sd_ratio,
    risk_difference,
)

FOUR_PLACES = 5.0e-5


def test_log_ratio_of_means():
    # Borenstein, Hedges, Higgins & Rothstein (2009), ch. 4, eq. 4.31-4.35; digits recalled.
    found = log_ratio_of_means(Group(10, 61.515, 19.475), Group(10, 51.015, 19.475))
    assert np.exp(found.effect) == pytest.approx(1.2058, abs=FOUR_PLACES)
    # Two values: the printed 0.1871 is the log of the rounded ratio 1.2058; full precision is
    # 0.187161, which would be printed as 0.1872.
    assert found.effect == pytest.approx(0.187161, abs=1e-6)
    assert np.log(round(np.exp(found.effect), 4)) == pytest.approx(0.1871, abs=FOUR_PLACES)
    assert found.variance == pytest.approx(0.0246, abs=FOUR_PLACES)


# Crampton (1947), tooth length by supplement, open data (ToothGrowth), recomputed from raw.
ORANGE_JUICE = Group(30, 20.663333333333334, 6.605561049722362)
ASCORBIC_ACID = Group(30, 16.96333333333333, 8.266028664664638)


def test_log_sd_and_cv_ratio():
    # Nakagawa et al. (2015), Methods Ecol Evol 6:143-152, eq. 5-12; from memory, recomputed.
    spread = log_sd_ratio(ORANGE_JUICE, ASCORBIC_ACID)
    relative = log_cv_ratio(ORANGE_JUICE, ASCORBIC_ACID)
    assert spread.effect == pytest.approx(-0.2242423, abs=1e-6)
    assert spread.variance == pytest.approx(0.0344828, abs=1e-6)
    assert relative.effect == pytest.approx(-0.4215489, abs=1e-6)
    assert relative.variance == pytest.approx(0.0458042, abs=1e-6)


def test_fisher_z():
    # Borenstein et al. (2009), ch. 6: r = 0.5, n = 100; digits recalled.
    found = fisher_z(0.5, n=100)
    assert found.effect == pytest.approx(0.5493, abs=FOUR_PLACES)
    assert found.variance == pytest.approx(0.0103, abs=FOUR_PLACES)
    assert np.sqrt(found.variance) == pytest.approx(0.1015, abs=FOUR_PLACES)
    half = stats.norm.ppf(0.975) * np.sqrt(found.variance)
    # Recomputed.
    limits = correlation_from_z(found.effect + np.array([-half, half]))
    assert limits == pytest.approx([0.33664, 0.63414], abs=1e-5)


# Borenstein et al. (2009), ch. 5, Tables 5.1-5.2: 5 of 100 against 10 of 100; digits recalled.
TREATED, UNTREATED = Counts(5, 100), Counts(10, 100)


def test_risk_ratio():
    found = log_risk_ratio(TREATED, UNTREATED)
    assert found.effect == pytest.approx(-0.6931, abs=FOUR_PLACES)
    assert found.variance == pytest.approx(0.2800, abs=FOUR_PLACES)
    assert np.sqrt(found.variance) == pytest.approx(0.5292, abs=FOUR_PLACES)


def test_odds_ratio():
    found = log_odds_ratio(TREATED, UNTREATED)
    assert np.exp(found.effect) == pytest.approx(0.4737, abs=FOUR_PLACES)
    assert found.effect == pytest.approx(-0.7472, abs=FOUR_PLACES)
    assert found.variance == pytest.approx(0.3216, abs=FOUR_PLACES)
    assert np.sqrt(found.variance) == pytest.approx(0.5671, abs=FOUR_PLACES)


def test_risk_difference():
    found = risk_difference(TREATED, UNTREATED)
    assert found.effect == pytest.approx(-0.0500, abs=FOUR_PLACES)
    assert found.variance == pytest.approx(0.00138, abs=5.001e-6)
    assert np.sqrt(found.variance) == pytest.approx(0.0371, abs=FOUR_PLACES)


def test_counts_agree_with_statsmodels():
    table = Table2x2([[5, 95], [10, 90]])
    odds, risk = log_odds_ratio(TREATED, UNTREATED), log_risk_ratio(TREATED, UNTREATED)
    assert odds.effect == pytest.approx(table.log_oddsratio, rel=1e-12)
    assert np.sqrt(odds.variance) == pytest.approx(table.log_oddsratio_se, rel=1e-12)
    assert risk.effect == pytest.approx(table.log_riskratio, rel=1e-12)
    assert np.sqrt(risk.variance) == pytest.approx(table.log_riskratio_se, rel=1e-12)
