"""SD of individual responses: identity, simulation with known truth, words, bad input."""

import numpy as np
import pytest
from scipy.stats import chi2

from steelyard.effects.groups import Group
from steelyard.effects.individual_response import individual_response
from steelyard.errors import DesignError


def test_difference_of_variances():
    # √(5² − 3²) = 4: arithmetic.
    found = individual_response(Group(20, 8.0, 5.0), Group(20, 1.0, 3.0))
    assert found.sd == pytest.approx(4.0, rel=1e-12)
    swapped = individual_response(Group(20, 1.0, 3.0), Group(20, 8.0, 5.0))
    assert swapped.sd == pytest.approx(-4.0, rel=1e-12)
    assert (swapped.low, swapped.high) == pytest.approx((-found.high, -found.low))


def test_a_negative_value_is_no_evidence():
    found = individual_response(Group(20, 8.0, 3.0), Group(20, 1.0, 5.0))
    assert "no sign that people differ" in found.sentence
    assert found.sentence in str(found) and "−" not in str(found)
    # 3 and 5 with 100 times the people: no spread above 0 is left.
    certain = individual_response(Group(2000, 8.0, 3.0), Group(2000, 1.0, 5.0))
    assert certain.high < 0 and "0, and by its 95 % interval no more" in str(certain)


def test_units_scale():
    one = individual_response(Group(15, 8.0, 5.0), Group(18, 1.0, 4.0))
    ten = individual_response(Group(15, 80.0, 50.0), Group(18, 10.0, 40.0))
    assert ten.sd == pytest.approx(10 * one.sd)
    assert (ten.low, ten.high) == pytest.approx((10 * one.low, 10 * one.high))


def test_truth_is_recovered_and_covered():
    # Changes = response (SD 3) + noise (SD 4). s_IR² is unbiased; 4,000 studies of 30 put the
    # mean within 2 % of 9.
    rng = np.random.default_rng(11)
    draws = 4000
    trained = rng.normal(0, 4, (draws, 30)) + rng.normal(0, 3, (draws, 30))
    usual = rng.normal(0, 4, (draws, 30))
    found = [
        individual_response(Group(30, 0.0, one), Group(30, 0.0, other))
        for one, other in zip(trained.std(axis=1, ddof=1), usual.std(axis=1, ddof=1), strict=True)
    ]
    variances = np.array([each.variance for each in found])
    assert variances.mean() == pytest.approx(9, rel=0.03)
    errors = np.array([each.variance_standard_error for each in found])
    assert np.sqrt((errors**2).mean()) == pytest.approx(variances.std(), rel=0.08)
    inside = np.mean([each.low <= 3 <= each.high for each in found])
    assert 0.92 <= inside <= 0.98


@pytest.mark.parametrize(("n", "m", "true"), [(10, 20, 3.0), (10, 10, 6.0), (8, 40, 0.0)])
def test_small_unlike_groups_are_covered_on_both_sides(n, m, true):
    # Noise of SD 4; of 4,000 intervals at 95 %, 99.9 of 100 times 0.938 to 0.961 hold the truth
    # and 0.017 to 0.034 miss on each side (SciPy, binom.interval); a little more is allowed,
    # as the method is near and not exact.
    rng = np.random.default_rng(12)
    spreads = [
        sd * np.sqrt(rng.chisquare(size - 1, 4000) / (size - 1))
        for sd, size in ((np.hypot(4, true), n), (4.0, m))
    ]
    found = [
        individual_response(Group(n, 0.0, one), Group(m, 0.0, other))
        for one, other in zip(*spreads, strict=True)
    ]
    above = np.mean([each.low > true for each in found])
    below = np.mean([each.high < true for each in found])
    assert 0.013 <= above <= 0.036 and 0.013 <= below <= 0.036


def test_against_a_comparator_without_end_it_is_the_interval_of_one_variance():
    """A limit: only the trained group's variance is then uncertain."""
    found = individual_response(Group(12, 0.0, 5.0), Group(10**9, 0.0, 3.0))
    # 11 · 25 / chi-square(0.975 and 0.025 on 11) = 12.55 and 72.07, by SciPy; less 9.
    low, high = 11 * 25 / chi2.ppf([0.975, 0.025], 11) - 9
    assert found.low == pytest.approx(np.sqrt(low), rel=1e-3)
    assert found.high == pytest.approx(np.sqrt(high), rel=1e-3)


def test_bad_input_is_refused():
    with pytest.raises(DesignError, match="changes in the intervention group"):
        individual_response(Group(20, 1.0, 0.0), Group(20, 1.0, 3.0))
    with pytest.raises(DesignError, match="level"):
        individual_response(Group(20, 1.0, 2.0), Group(20, 1.0, 3.0), level=1.0)
