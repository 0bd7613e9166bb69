from dataclasses import replace

import numpy as np
import pytest

from steelyard.effects import (
    PrePost,
    adjusted_difference,
    change_difference,
    standardised_adjusted_difference,
)
from steelyard.errors import DesignError

INTERVENTION = PrePost(12, 200.0, 30.0, 225.0, 33.0, 0.88)
COMPARATOR = PrePost(11, 204.0, 28.0, 212.0, 29.0, 0.92)


def test_no_correlation_leaves_the_difference_after_training():
    found = adjusted_difference(replace(INTERVENTION, r=0.0), replace(COMPARATOR, r=0.0))
    assert found.effect == pytest.approx(13.0, rel=1e-14)


def test_equal_starts_make_adjusted_and_change_agree():
    level = replace(INTERVENTION, pre_mean=204.0, post_mean=229.0)
    adjusted = adjusted_difference(level, COMPARATOR)
    assert adjusted.effect == pytest.approx(change_difference(level, COMPARATOR).effect, rel=1e-14)


def test_standard_error_in_simulation():
    draw = np.random.default_rng(12)
    repeats, r = 60_000, 0.7
    arms = []
    for n, shift in ((9, 0.8), (13, 0.0)):
        pre = draw.standard_normal((repeats, n))
        post = 1.3 * (r * pre + np.sqrt(1 - r**2) * draw.standard_normal((repeats, n))) + shift
        pre_off = pre - pre.mean(axis=1, keepdims=True)
        post_off = post - post.mean(axis=1, keepdims=True)
        pre_sd, post_sd = pre.std(axis=1, ddof=1), post.std(axis=1, ddof=1)
        found_r = (pre_off * post_off).sum(axis=1) / ((n - 1) * pre_sd * post_sd)
        sizes = np.full(repeats, n)
        arms.append(PrePost(sizes, pre.mean(axis=1), pre_sd, post.mean(axis=1), post_sd, found_r))
    raw = adjusted_difference(*arms)
    assert raw.effect.mean() == pytest.approx(0.8, abs=0.008)
    assert np.sqrt(raw.variance.mean()) == pytest.approx(raw.effect.std(), rel=0.02)
    found = standardised_adjusted_difference(*arms)
    assert found.effect.mean() == pytest.approx(0.8, abs=0.008)
    assert np.sqrt(found.variance.mean()) == pytest.approx(found.effect.std(), rel=0.03)


def test_standardised_is_raw_over_the_pooled_pre_sd():
    raw = adjusted_difference(INTERVENTION, COMPARATOR)
    d = standardised_adjusted_difference(INTERVENTION, COMPARATOR, correction="none")
    pooled = np.sqrt((11 * 30.0**2 + 10 * 28.0**2) / 21)
    assert d.effect == pytest.approx(raw.effect / pooled, rel=1e-14)


def test_refusals():
    with pytest.raises(DesignError, match="pre-post correlation"):
        adjusted_difference(replace(INTERVENTION, r=1.0), COMPARATOR)
    with pytest.raises(DesignError, match="number of people less two must be greater than 2"):
        standardised_adjusted_difference(replace(INTERVENTION, n=2), replace(COMPARATOR, n=2))
