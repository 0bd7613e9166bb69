"""Two independent groups against published worked examples and open data."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.meta_analysis import effectsize_smd

from steelyard.effects import (
    Group,
    mean_difference,
    small_sample_factor,
    small_sample_factor_approximate,
    standardised_difference,
)
from steelyard.effects.standardising import pooled_sd

# Borenstein, Hedges, Higgins & Rothstein (2009), Introduction to Meta-Analysis, ch. 4, eq. 4.2 to
# 4.24. Printed digits are recalled, the page was not seen; each agrees with the formula recomputed.
TEXTBOOK = (Group(50, 103, 5.5), Group(50, 100, 4.5))
FOUR_PLACES = 5.0e-5


def test_textbook_mean_difference():
    found = mean_difference(*TEXTBOOK)
    assert found.effect == pytest.approx(3.0, abs=FOUR_PLACES)
    assert found.variance == pytest.approx(1.0100, abs=FOUR_PLACES)
    assert np.sqrt(found.variance) == pytest.approx(1.0050, abs=FOUR_PLACES)


def test_textbook_pooled_sd():
    # Eq. 4.3; printed 5.0249, recalled. The standardised difference is the raw one in its units.
    pooled = pooled_sd(50, 5.5, 50, 4.5)
    assert pooled == pytest.approx(5.0249, abs=FOUR_PLACES)
    d = standardised_difference(*TEXTBOOK, correction="none")
    assert mean_difference(*TEXTBOOK).effect / d.effect == pytest.approx(pooled, rel=1e-12)


def test_textbook_standardised_difference():
    d = standardised_difference(*TEXTBOOK, correction="none")
    g = standardised_difference(*TEXTBOOK)
    assert d.effect == pytest.approx(0.5970, abs=FOUR_PLACES)
    assert g.effect == pytest.approx(0.5924, abs=FOUR_PLACES)
    assert g.effect / d.effect == pytest.approx(0.9923, abs=FOUR_PLACES)
    # The printed variances are not recalled with certainty (0.0417/0.0410 or 0.0418/0.0411), so
    # these two are the formula's own digits, recomputed.
    assert d.variance == pytest.approx(0.041782, abs=1e-6)
    assert g.variance == pytest.approx(0.041143, abs=1e-6)


def test_textbook_effect_is_the_same_with_the_exact_correction_to_the_printed_digits():
    exact = standardised_difference(*TEXTBOOK, correction="exact")
    # Recomputed with the gamma form: 0.5924396, against 0.5924416 with the approximation.
    assert exact.effect == pytest.approx(0.5924396, abs=1e-7)
    assert exact.effect == pytest.approx(0.5924, abs=FOUR_PLACES)


@pytest.mark.parametrize(
    ("df", "printed"),
    # Hedges (1981), J Educ Stat 6:107-128, table 1; digits recalled, page not seen.
    [(2, 0.5642), (3, 0.7236), (4, 0.7979)],
)
def test_exact_factor_matches_the_printed_table(df, printed):
    assert small_sample_factor(df) == pytest.approx(printed, abs=FOUR_PLACES)


def test_exact_factor_where_recalled_table_entries_disagree():
    # Recalled entries 0.8408 (df 5) and 0.9228 (df 10) are one off in the last digit against the
    # gamma form, which is taken as the truth: 0.8407 and 0.9227.
    assert small_sample_factor(np.array([5, 10])) == pytest.approx([0.8407487, 0.9227456], abs=1e-7)


def test_approximate_factor_at_98_degrees_of_freedom():
    # Borenstein (2009), eq. 4.22, J for 50 and 50 people; printed 0.9923, recalled.
    assert small_sample_factor_approximate(98) == pytest.approx(0.9923, abs=FOUR_PLACES)


# Crampton (1947), tooth length by supplement, an open data set (ToothGrowth): summaries
# recomputed from the raw data; t, df and p of Welch's test are the standard textbook output,
# recalled.
ORANGE_JUICE = Group(30, 20.663333333333334, 6.605561049722362)
ASCORBIC_ACID = Group(30, 16.96333333333333, 8.266028664664638)


def test_open_data_welch():
    found = mean_difference(ORANGE_JUICE, ASCORBIC_ACID)
    t = found.effect / np.sqrt(found.variance)
    assert t == pytest.approx(1.9153, abs=FOUR_PLACES)
    assert found.df == pytest.approx(55.309, abs=5e-4)
    assert 2 * stats.t.sf(t, found.df) == pytest.approx(0.06063, abs=5e-6)


def test_open_data_welch_agrees_with_scipy():
    found = mean_difference(ORANGE_JUICE, ASCORBIC_ACID)
    reference = stats.ttest_ind_from_stats(
        ORANGE_JUICE.mean,
        ORANGE_JUICE.sd,
        30,
        ASCORBIC_ACID.mean,
        ASCORBIC_ACID.sd,
        30,
        equal_var=False,
    )
    assert found.effect / np.sqrt(found.variance) == pytest.approx(reference.statistic, rel=1e-12)


def test_open_data_standardised():
    found = standardised_difference(ORANGE_JUICE, ASCORBIC_ACID)
    # Recomputed from the raw data with the formulas of Borenstein (2009), ch. 4.
    assert found.effect == pytest.approx(0.4880978, abs=1e-6)
    assert found.variance == pytest.approx(0.0669316, abs=1e-6)


# Borenstein et al. (2009), ch. 14, Tables 14.1-14.2: six studies; digits recalled, page not seen.
SIX_STUDIES = (
    Group(
        n=np.array([60, 65, 40, 200, 50, 85]),
        mean=np.array([94, 98, 98, 94, 98, 96]),
        sd=np.array([22, 21, 28, 19, 21, 21]),
    ),
    Group(
        n=np.array([60, 65, 40, 200, 45, 85]),
        mean=np.array([92, 92, 88, 82, 88, 92]),
        sd=np.array([20, 22, 26, 17, 22, 22]),
    ),
)


def test_six_study_example():
    found = standardised_difference(*SIX_STUDIES)
    printed = [0.095, 0.277, 0.367, 0.664, 0.462, 0.185]
    assert found.effect == pytest.approx(printed, abs=5e-4)
    assert found.variance == pytest.approx([0.033, 0.031, 0.050, 0.011, 0.043, 0.023], abs=5e-4)


def test_six_study_example_against_statsmodels():
    first, second = SIX_STUDIES
    found = standardised_difference(first, second)
    effect, variance = effectsize_smd(
        first.mean, first.sd, first.n, second.mean, second.sd, second.n
    )
    assert found.effect == pytest.approx(effect, rel=1e-12)
    # statsmodels puts g itself and N - 3.94 into the last term of the variance, another
    # large-sample form: the two agree within 4 % here.
    assert found.variance == pytest.approx(variance, rel=0.04)
