from dataclasses import replace

import numpy as np
import pytest

from steelyard.effects import Group, PrePost, log_ratio_of_changes, log_ratio_of_means
from steelyard.effects.ratio_of_means import (
    paired_log_ratio_of_changes,
    paired_log_ratio_of_means,
)
from steelyard.errors import DesignError

INTERVENTION = PrePost(14, 100.0, 15.0, 120.0, 18.0, 0.9)
COMPARATOR = PrePost(16, 102.0, 16.0, 106.0, 16.0, 0.85)


def test_ratio_of_ratios():
    found = log_ratio_of_changes(INTERVENTION, COMPARATOR)
    assert np.exp(found.effect) == pytest.approx((120 / 100) / (106 / 102), rel=1e-12)


def test_unit_does_not_matter():
    found = log_ratio_of_means(Group(10, 50.0, 8.0), Group(12, 45.0, 7.0))
    pounds = log_ratio_of_means(Group(10, 110.0, 17.6), Group(12, 99.0, 15.4))
    assert pounds.effect == pytest.approx(found.effect, rel=1e-12)
    assert pounds.variance == pytest.approx(found.variance, rel=1e-12)


def test_uncorrelated_times_are_four_independent_means():
    found = log_ratio_of_changes(replace(INTERVENTION, r=0.0), replace(COMPARATOR, r=0.0))
    after = log_ratio_of_means(Group(14, 120.0, 18.0), Group(16, 106.0, 16.0))
    before = log_ratio_of_means(Group(14, 100.0, 15.0), Group(16, 102.0, 16.0))
    assert found.effect == pytest.approx(after.effect - before.effect, rel=1e-12)
    assert found.variance == pytest.approx(after.variance + before.variance, rel=1e-12)


def test_variance_in_simulation():
    draw = np.random.default_rng(21)
    repeats, n, r = 40_000, 20, 0.85
    pre = draw.standard_normal((repeats, n))
    post = 120 + 18 * (r * pre + np.sqrt(1 - r**2) * draw.standard_normal((repeats, n)))
    log_change = np.log(post.mean(axis=1) / (100 + 15 * pre).mean(axis=1))
    group = PrePost(n, 100.0, 15.0, 120.0, 18.0, r)
    one_group_variance = log_ratio_of_changes(group, group).variance / 2
    assert np.sqrt(one_group_variance) == pytest.approx(log_change.std(), rel=0.02)


@pytest.mark.parametrize("mean", [0.0, -3.0])
def test_means_must_be_positive(mean):
    with pytest.raises(DesignError, match="mean of the intervention group must be greater than 0"):
        log_ratio_of_means(Group(10, mean, 8.0), Group(12, 45.0, 7.0))
    with pytest.raises(DesignError, match="post mean of the comparator group"):
        log_ratio_of_changes(INTERVENTION, replace(COMPARATOR, post_mean=mean))


def test_uncorrelated_conditions_in_the_same_people_are_two_groups():
    first, second = Group(10, 50.0, 8.0), Group(10, 45.0, 7.0)
    paired = paired_log_ratio_of_means(first, second, r=0.0)
    assert paired.effect == log_ratio_of_means(first, second).effect
    assert paired.variance == pytest.approx(log_ratio_of_means(first, second).variance, rel=1e-12)
    limbs = INTERVENTION, replace(COMPARATOR, n=14)
    changes = paired_log_ratio_of_changes(*limbs, r_changes=0.0)
    assert changes.variance == pytest.approx(log_ratio_of_changes(*limbs).variance, rel=1e-12)


def test_agreement_between_limbs_narrows_the_paired_ratios():
    draw = np.random.default_rng(22)
    n, repeats, r = 16, 40_000, 0.7
    second = draw.standard_normal((repeats, n))
    first = r * second + np.sqrt(1 - r**2) * draw.standard_normal((repeats, n))
    logs = np.log((50 + 8 * first).mean(axis=1) / (45 + 7 * second).mean(axis=1))
    found = paired_log_ratio_of_means(Group(n, 50.0, 8.0), Group(n, 45.0, 7.0), r=r)
    assert np.sqrt(found.variance) == pytest.approx(logs.std(), rel=0.02)
