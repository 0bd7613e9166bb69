"""Matched groups, before and after, and crossover trials against published worked examples."""

import numpy as np
import pytest
from scipy import stats

from steelyard.effects import (
    Group,
    paired_difference,
    small_sample_factor_approximate,
    standardised_paired_difference,
    standardised_paired_from_differences,
)

FOUR_PLACES = 5.0e-5

# Borenstein, Hedges, Higgins & Rothstein (2009), Introduction to Meta-Analysis, ch. 4, eq.
# 4.8-4.30. Printed digits recalled, the page was not seen; the formula recomputed agrees.
TEXTBOOK = Group(50, 3.0, 5.5)
TEXTBOOK_R = 0.7


def test_textbook_raw_difference():
    group = Group(50, 3.0, 5.0)
    found = paired_difference(group, Group(50, 0.0, 5.0), sd_difference=5.5)
    assert found.effect == 3.0
    assert found.variance == pytest.approx(0.6050, abs=FOUR_PLACES)
    assert np.sqrt(found.variance) == pytest.approx(0.7778, abs=FOUR_PLACES)


def test_textbook_standardised_difference():
    d = standardised_paired_from_differences(
        TEXTBOOK, r=TEXTBOOK_R, variance="handbook", correction="none"
    )
    g = standardised_paired_from_differences(TEXTBOOK, r=TEXTBOOK_R, variance="handbook")
    # Eq. 4.27: the SD within groups from that of the differences and r; printed 7.1005, recalled.
    assert TEXTBOOK.mean / d.effect == pytest.approx(7.1005, abs=FOUR_PLACES)
    # Eq. 4.22 on 49 degrees of freedom; printed 0.9846, recalled.
    assert g.effect / d.effect == pytest.approx(0.9846, abs=FOUR_PLACES)
    assert small_sample_factor_approximate(49) == pytest.approx(0.9846, abs=FOUR_PLACES)
    assert d.effect == pytest.approx(0.4225, abs=FOUR_PLACES)
    assert d.variance == pytest.approx(0.0131, abs=FOUR_PLACES)
    assert g.effect == pytest.approx(0.4160, abs=FOUR_PLACES)
    assert g.variance == pytest.approx(0.0127, abs=FOUR_PLACES)


def test_textbook_point_estimate_does_not_depend_on_the_variance_chosen():
    by_moments = standardised_paired_from_differences(TEXTBOOK, r=TEXTBOOK_R)
    assert by_moments.effect == pytest.approx(0.4160, abs=FOUR_PLACES)
    # The printed variance is 0.0127; by moments it is 0.0140. The printed form is known to be
    # too small; see test_paired.py for both against simulation.
    assert by_moments.variance == pytest.approx(0.013984, abs=1e-6)


# Student (1908), extra hours of sleep with two drugs, ten people; open data.
SLEEP_FIRST = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
SLEEP_SECOND = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])


def _sleep_groups():
    return tuple(
        Group(10, scores.mean(), scores.std(ddof=1)) for scores in (SLEEP_FIRST, SLEEP_SECOND)
    )


@pytest.mark.parametrize("given", ["r", "sd_difference"])
def test_sleep_paired_t(given):
    known = {
        "r": np.corrcoef(SLEEP_FIRST, SLEEP_SECOND)[0, 1],
        "sd_difference": (SLEEP_FIRST - SLEEP_SECOND).std(ddof=1),
    }
    found = paired_difference(*_sleep_groups(), **{given: known[given]})
    se = np.sqrt(found.variance)
    # t, p and interval: standard textbook output of the paired t test, recalled.
    assert found.effect == pytest.approx(-1.58, abs=1e-12)
    t = found.effect / se
    assert t == pytest.approx(-4.0621, abs=FOUR_PLACES)
    assert found.df == 9
    assert 2 * stats.t.sf(abs(t), found.df) == pytest.approx(0.002833, abs=5e-7)
    half = stats.t.ppf(0.975, found.df) * se
    assert found.effect - half == pytest.approx(-2.4598858, abs=5e-8)
    assert found.effect + half == pytest.approx(-0.7001142, abs=5e-8)
    # Second route: the raw data through scipy.
    reference = stats.ttest_rel(SLEEP_FIRST, SLEEP_SECOND)
    assert t == pytest.approx(reference.statistic, rel=1e-12)
    assert 2 * stats.t.sf(abs(t), found.df) == pytest.approx(reference.pvalue, rel=1e-9)


def test_sleep_standardised():
    differences = SLEEP_SECOND - SLEEP_FIRST
    r = np.corrcoef(SLEEP_FIRST, SLEEP_SECOND)[0, 1]
    group = Group(10, differences.mean(), differences.std(ddof=1))
    d = standardised_paired_from_differences(group, r=r, variance="handbook", correction="none")
    g = standardised_paired_from_differences(group, r=r, variance="handbook")
    # Recomputed from the raw data with the formulas of Borenstein (2009), eq. 4.26-4.30.
    assert d.effect == pytest.approx(0.8221764, abs=1e-6)
    assert d.variance == pytest.approx(0.0548119, abs=1e-6)
    assert g.effect == pytest.approx(0.7517044, abs=1e-6)
    assert g.variance == pytest.approx(0.0458183, abs=1e-6)


# Cochrane Handbook 5.1 (archived online), 16.4.6.4: crossover trial; 0.632, 0.583, 0.218 and
# 0.256 confirmed in a stored copy of the page.
EXPERIMENTAL = Group(10, 7.0, 2.38)
CONTROL = Group(10, 6.5, 2.21)


def test_handbook_crossover_raw():
    by_sd = paired_difference(EXPERIMENTAL, CONTROL, sd_difference=2.0)
    by_r = paired_difference(EXPERIMENTAL, CONTROL, r=0.68)
    assert np.sqrt(by_sd.variance) == pytest.approx(0.632, abs=5e-4)
    assert np.sqrt(by_r.variance) == pytest.approx(0.583, abs=5e-4)


def test_handbook_crossover_standardised():
    found = standardised_paired_difference(
        EXPERIMENTAL, CONTROL, r=0.68, variance="handbook", correction="none"
    )
    assert found.effect == pytest.approx(0.218, abs=5e-4)
    # The Handbook takes r = 0.68 into the SE as it stands.
    assert np.sqrt(found.variance) == pytest.approx(0.256, abs=5e-4)


@pytest.mark.parametrize(("r", "between_people"), [(0.3, 1.1832160), (0.5, 1.0), (0.8, 0.6324555)])
def test_from_units_of_change_to_units_between_people(r, between_people):
    # Morris & DeShon (2002), Psychological Methods 7:105-125, eq. 11: d = d_change·√(2(1 − r));
    # from memory, recomputed from the formula.
    found = standardised_paired_from_differences(Group(50, 1.0, 1.0), r=r, correction="none")
    assert found.effect == pytest.approx(between_people, abs=1e-7)
