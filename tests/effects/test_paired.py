import numpy as np
import pytest

from steelyard.effects import (
    Group,
    paired_difference,
    standardised_limb_changes,
    standardised_paired_difference,
    standardised_paired_from_differences,
)
from steelyard.errors import DesignError


def simulated_pair(*, n, r, true, seed, repeats=60_000):
    """Many simulated samples of people under two conditions, SD 1 and correlation r."""
    draw = np.random.default_rng(seed)
    second = draw.standard_normal((repeats, n))
    first = r * second + np.sqrt(1 - r**2) * draw.standard_normal((repeats, n)) + true
    groups = tuple(
        Group(np.full(repeats, n), x.mean(axis=1), x.std(axis=1, ddof=1)) for x in (first, second)
    )
    return *groups, (first - second).std(axis=1, ddof=1)


def test_twelve_people_strong_agreement_large_effect():
    # n = 12, r = 0.9, d = 1. The uncorrected d has a true SE near 0.27 (simulated here); the
    # handbook form gives near 0.16, forty percent short, and the moments stay within 15 %.
    first, second, _ = simulated_pair(n=12, r=0.9, true=1.0, seed=1)
    by_moments = standardised_paired_difference(first, second, r=0.9, correction="none")
    handbook = standardised_paired_difference(
        first, second, r=0.9, variance="handbook", correction="none"
    )
    true_se = by_moments.effect.std()
    assert true_se == pytest.approx(0.27, abs=0.01)
    assert np.sqrt(handbook.variance.mean()) == pytest.approx(0.16, abs=0.01)
    assert np.sqrt(handbook.variance.mean()) < 0.65 * true_se
    assert np.sqrt(by_moments.variance.mean()) == pytest.approx(true_se, rel=0.15)
    assert np.sqrt(by_moments.variance.mean()) == pytest.approx(true_se, rel=0.05)


@pytest.mark.parametrize(
    ("n", "r", "true"), [(8, 0.9, 0.3), (12, 0.5, 0.5), (20, 0.95, 1.5), (6, 0.8, 1.0)]
)
def test_moments_hold_elsewhere(n, r, true):
    first, second, sd_difference = simulated_pair(n=n, r=r, true=true, seed=2)
    known_r = standardised_paired_difference(first, second, r=r)
    observed = standardised_paired_difference(first, second, sd_difference=sd_difference)
    for found in (known_r, observed):
        assert found.effect.mean() == pytest.approx(true, abs=0.012)
        assert np.sqrt(found.variance.mean()) == pytest.approx(found.effect.std(), rel=0.10)


def test_differences_with_a_correlation_from_elsewhere():
    first, second, sd_difference = simulated_pair(n=12, r=0.8, true=0.6, seed=3)
    differences = Group(first.n, first.mean - second.mean, sd_difference)
    found = standardised_paired_from_differences(differences, r=0.8)
    assert found.effect.mean() == pytest.approx(0.6, abs=0.005)
    assert np.sqrt(found.variance.mean()) == pytest.approx(found.effect.std(), rel=0.05)


def test_limbs_measured_before_and_after():
    # Both limbs before and after: a person's level is shared by all four, each limb and each
    # time add their own. The correlation that matters is that of the limbs' changes.
    draw = np.random.default_rng(4)
    repeats, n = 60_000, 12
    level = draw.normal(0, 0.9, (repeats, n))
    limb = [draw.normal(0, np.sqrt(1 - 0.9**2), (repeats, n)) for _ in range(2)]
    pre = [level + own for own in limb]
    shared = draw.normal(0, 0.2, (repeats, n))
    change = [shared + draw.normal(shift, 0.3, (repeats, n)) for shift in (0.8, 0.3)]
    groups = [Group(np.full(repeats, n), x.mean(axis=1), x.std(axis=1, ddof=1)) for x in change]
    arguments = {
        "r_changes": 0.2**2 / (0.2**2 + 0.3**2),
        "pre_sd_intervention": pre[0].std(axis=1, ddof=1),
        "pre_sd_comparator": pre[1].std(axis=1, ddof=1),
    }
    known = standardised_limb_changes(*groups, r_pre=0.81, **arguments)
    silent = standardised_limb_changes(*groups, **arguments)
    assert known.effect.mean() == pytest.approx(0.5, abs=0.005)
    assert np.sqrt(known.variance.mean()) == pytest.approx(known.effect.std(), rel=0.05)
    assert np.sqrt(silent.variance.mean()) > np.sqrt(known.variance.mean())
    assert np.sqrt(silent.variance.mean()) == pytest.approx(known.effect.std(), rel=0.10)


def test_raw_by_either_route():
    first, second = Group(10, 7.0, 2.4), Group(10, 6.5, 2.2)
    sd_difference = np.sqrt(2.4**2 + 2.2**2 - 2 * 0.7 * 2.4 * 2.2)
    by_r = paired_difference(first, second, r=0.7)
    by_sd = paired_difference(first, second, sd_difference=sd_difference)
    assert by_r.variance == pytest.approx(by_sd.variance, rel=1e-14)
    assert by_r.df == 9


def test_uncorrelated_conditions_have_both_conditions_degrees_of_freedom():
    found = standardised_paired_difference(Group(10, 7.0, 2.0), Group(10, 6.0, 2.0), r=0.0)
    assert found.df == 18


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({}, "exactly one of r and sd_difference"),
        ({"r": 0.5, "sd_difference": 2.0}, "exactly one of r and sd_difference"),
        ({"r": 1.0}, "correlation between the conditions must lie strictly between -1 and 1"),
        ({"sd_difference": 0.0}, "SD of the differences must be greater than 0"),
    ],
)
def test_refusals(given, message):
    for formula in (paired_difference, standardised_paired_difference):
        with pytest.raises(DesignError, match=message):
            formula(Group(10, 7.0, 2.4), Group(10, 6.5, 2.2), **given)


def test_impossible_sd_of_differences():
    with pytest.raises(DesignError, match="implied by the SD of the differences"):
        standardised_paired_difference(Group(10, 7.0, 2.4), Group(10, 6.5, 2.2), sd_difference=5.0)


def test_different_numbers_of_people():
    with pytest.raises(DesignError, match=r"same in both conditions; got 10\.0 and 9\.0"):
        paired_difference(Group(10, 7.0, 2.4), Group(9, 6.5, 2.2), r=0.5)
