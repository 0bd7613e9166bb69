"""The selection model: known selection by simulation, limits, and a plain likelihood."""

import numpy as np
import pytest
from scipy import stats

from steelyard.errors import DesignError
from steelyard.pooling import pool, selection_model
from steelyard.pooling.selection_likelihood import SelectionLikelihood

Y = np.array([0.52, 0.75, 0.31, 0.12, 0.60, 0.88, -0.10, 0.45, 0.20, 0.71, 0.05, 0.38])
V = np.array([0.04, 0.09, 0.02, 0.05, 0.08, 0.15, 0.06, 0.03, 0.02, 0.10, 0.01, 0.04])


def selected(seed, *, k, mean, tau, weight):
    """Studies as found, when one without a significant result is found `weight` times as often."""
    rng = np.random.default_rng(seed)
    v = rng.uniform(0.01, 0.15, 20 * k)
    y = rng.normal(mean, np.sqrt(v + tau**2))
    found = (y > 1.959963984540054 * np.sqrt(v)) | (rng.random(y.size) < weight)
    return y[found][:k], v[found][:k]


def plain_height(y, v, mean, tau2, weight):
    """Log-likelihood by its definition."""
    s, bar = np.sqrt(v + tau2), stats.norm.isf(0.025) * np.sqrt(v)
    beyond = stats.norm.sf(bar, mean, s)
    density = np.where(y >= bar, 1, weight) * stats.norm.pdf(y, mean, s)
    return np.log(density / (beyond + weight * (1 - beyond))).sum()


@pytest.mark.parametrize(("mean", "tau", "weight"), [(0.2, 0.15, 0.2), (0.0, 0.3, 0.5)])
def test_recovers_known_selection(mean, tau, weight):
    y, v = selected(17, k=3000, mean=mean, tau=tau, weight=weight)
    found = selection_model(y, v)
    # Standard errors at this size: about 0.01 for the mean, 0.1 for the log of the weight.
    assert found.estimate == pytest.approx(mean, abs=0.04)
    assert found.low < mean < found.high and found.high - found.low < 0.08
    assert found.tau2**0.5 == pytest.approx(tau, abs=0.02)
    assert found.weight_low < weight < found.weight_high
    assert found.weight == pytest.approx(weight, rel=0.25)
    assert found.plain_estimate > mean + 0.05
    assert found.p < 1e-6


def test_intervals_hold_the_truth_as_often_as_they_say():
    held = np.zeros(2)
    for seed in range(40):
        y, v = selected(seed, k=60, mean=0.15, tau=0.15, weight=0.3)
        found = selection_model(y, v)
        held += [
            found.low < 0.15 < found.high,
            found.weight_low < 0.3 < found.weight_high,
        ]
    # 95 % of 40 is 38; 34 or fewer has a chance of about 2 % for a true 95 % interval.
    assert (held > 34).all()


def test_without_selection_it_is_maximum_likelihood():
    found, ml = selection_model(Y, V), pool(Y, V, between="ml")
    assert found.plain_estimate == pytest.approx(ml.estimate, abs=1e-6)
    assert found.plain_tau2 == pytest.approx(ml.tau2, abs=1e-6)
    y, v = selected(23, k=3000, mean=0.2, tau=0.15, weight=1.0)
    none, ml = selection_model(y, v), pool(y, v, between="ml")
    assert none.weight_low < 1 < none.weight_high and none.p > 0.01
    assert none.estimate == pytest.approx(ml.estimate, abs=0.03)


def test_nothing_lies_higher_and_profiles_drop_as_they_should():
    found = selection_model(Y, V)
    top = plain_height(Y, V, found.estimate, found.tau2, found.weight)
    assert found.log_likelihood == pytest.approx(top, abs=1e-8)
    rng = np.random.default_rng(2)
    for _ in range(1000):
        near = rng.choice([0.01, 0.3])
        height = plain_height(
            Y,
            V,
            found.estimate + near * rng.normal(),
            abs(found.tau2 + 0.1 * near * rng.normal()),
            found.weight * np.exp(3 * near * rng.normal()),
        )
        assert height <= top + 1e-8
    means, tau2s = np.meshgrid(np.linspace(-0.6, 0.8, 71), np.linspace(0, 0.15, 31))
    for weight in (found.weight_low, found.weight_high):
        heights = [
            plain_height(Y, V, *pair, weight)
            for pair in zip(means.ravel(), tau2s.ravel(), strict=True)
        ]
        # Chi-square on 1 degree of freedom: 3.841 (any table); the grid is a little coarse.
        assert 2 * (top - max(heights)) == pytest.approx(3.841, abs=0.1)


def test_gradient():
    fit = SelectionLikelihood(Y, V, 0.025)
    for at in ([0.3, 0.2, -1.0], [-2.0, 1.5, 2.0], [4.0, 0.01, -6.0]):
        _, slope = fit.height_and_slope(np.array(at))
        for place in range(3):
            step = np.zeros(3)
            step[place] = 1e-6
            up, down = (fit.height_and_slope(np.array(at) + s * step)[0] for s in (1, -1))
            assert slope[place] == pytest.approx((up - down) / 2e-6, rel=1e-5, abs=1e-5)


def test_mirror_and_scale():
    one = selection_model(Y, V)
    lower = selection_model(-Y, V, favoured="lower")
    assert (lower.estimate, lower.low) == pytest.approx((-one.estimate, -one.high), abs=1e-6)
    assert lower.weight == pytest.approx(one.weight, rel=1e-5)
    big = selection_model(1000 * Y, 1e6 * V)
    assert big.high == pytest.approx(1000 * one.high, rel=1e-5)
    assert big.weight_low == pytest.approx(one.weight_low, rel=1e-4)


def test_few_studies_are_hedged():
    few = selection_model(Y[:7], V[:7])
    assert any("fewer than 10" in note for note in few.notes)
    assert not any("fewer than 10" in note for note in selection_model(Y, V).notes)
    assert "without selection" in str(few)
    gap = selection_model(np.append(Y, np.nan), np.append(V, 1.0))
    assert "1 effect absent and left out" in gap.notes


@pytest.mark.parametrize(
    ("y", "v"),
    [
        ([0.5, 0.5, 0.5, 0.5, 0.5], [0.01, 0.02, 0.03, 0.2, 0.3]),
        ([90, -80, 5, 3, 60, -4], [1.0] * 6),
        ([0.1, 0.6, -0.5, 0.9, 0.2], [1e-9, 0.05, 0.04, 0.06, 0.1]),
        ([2, 2.1, 2.2, 2.3, 2.1, 0.1], [1.0] * 6),
        ([0.1, 0.2, 0.0, -0.2, 0.3, 2.5], [1.0] * 6),
    ],
)
def test_hard_data(y, v):
    found = selection_model(y, v)
    assert np.isfinite([found.estimate, found.tau2, found.weight, found.p]).all()
    assert 0 <= found.weight_low <= found.weight <= found.weight_high
    assert not found.low > found.estimate and not found.high < found.estimate
    assert str(found)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: selection_model(Y[:4], V[:4]), "at least 5 effects; there are 4, too few"),
        (lambda: selection_model(Y * 0.01, V), "all 12 have a one-sided p above 0.025"),
        (lambda: selection_model(Y + 9, V), "all 12 have a one-sided p below 0.025"),
        (lambda: selection_model(Y, V, favoured="up"), "higher, lower"),
        (lambda: selection_model(Y, V, cut=0), "cut must lie between"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(DesignError, match=words):
        call()
