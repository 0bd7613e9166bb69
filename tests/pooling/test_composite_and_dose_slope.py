"""Several effects of one study made into one: a mean, or a slope on dose."""

import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.pooling import composite, composite_of_correlated, dose_slope


def test_uncorrelated_composite_is_the_variance_of_a_mean():
    result = composite_of_correlated([0.1, 0.3, 0.5], [0.02, 0.03, 0.04], correlation=0)
    assert result.effect == pytest.approx(0.3)
    assert result.variance == pytest.approx(0.09 / 9)


def test_perfectly_correlated_equal_effects_gain_nothing():
    result = composite_of_correlated([0.2] * 5, [0.04] * 5, correlation=1)
    assert result.variance == pytest.approx(0.04)


def test_composite_variance_by_simulation():
    rng = np.random.default_rng(4)
    covariance = np.array([[0.05, 0.02, 0.01], [0.02, 0.08, 0.03], [0.01, 0.03, 0.04]])
    draws = rng.multivariate_normal([0.1, 0.2, 0.3], covariance, 40_000)
    result = composite([0.1, 0.2, 0.3], covariance=covariance)
    # A variance of 40,000 draws has a relative standard error of 0.7 %.
    assert result.variance == pytest.approx(draws.mean(axis=1).var(), rel=0.03)


def test_absent_effect_is_left_out_of_a_composite():
    result = composite_of_correlated([0.1, np.nan, 0.3], [0.02, 0.5, 0.02], correlation=0.5)
    assert (result.m, result.effect) == (2, pytest.approx(0.2))


@pytest.mark.parametrize(
    ("effects", "covariance", "words"),
    [
        ([], np.zeros((0, 0)), "at least one"),
        ([0.1, np.nan], np.eye(2), "finite"),
        ([0.1, 0.2], np.eye(3), "shape"),
        ([0.1, 0.2], [[1, 0.5], [0.4, 1]], "symmetric"),
        ([0.1, 0.2], [[1, 2], [2, 1]], "positive semidefinite"),
        ([0.1, 0.2], [[0, 0], [0, 1]], r"covariance\[0, 0\]"),
        ([0.1, 0.2], [[1, np.nan], [np.nan, 1]], "finite"),
    ],
)
def test_composite_refuses(effects, covariance, words):
    with pytest.raises(DesignError, match=words):
        composite(effects, covariance=covariance)


@pytest.mark.parametrize("correlation", [1.2, -0.6, float("nan")])
def test_composite_refuses_an_impossible_correlation(correlation):
    with pytest.raises(DesignError, match="correlation of 3 effects"):
        composite_of_correlated([0.1] * 3, [0.1] * 3, correlation=correlation)


def test_slope_of_one_arm_is_effect_over_dose():
    result = dose_slope([0.6], dose_difference=[4], covariance=[[0.08]])
    assert (result.slope, result.variance) == (pytest.approx(0.15), pytest.approx(0.005))


def test_slope_from_raw_arms_is_least_squares_with_an_intercept():
    """Contrasts against a shared arm carry the same slope as the arm means themselves.

    Generalised least squares through the origin on the contrasts equals weighted least
    squares with an intercept on the arm means: the shared arm's mean takes the intercept.
    """
    dose = np.array([3.0, 6.0, 9.0, 15.0])
    mean = np.array([2.0, 3.1, 3.6, 6.2])
    variance = np.array([0.30, 0.25, 0.40, 0.35])
    contrasts = mean[1:] - mean[0]
    covariance = np.diag(variance[1:]) + variance[0]
    result = dose_slope(contrasts, dose_difference=dose[1:] - dose[0], covariance=covariance)
    design = np.column_stack([np.ones(4), dose])
    information = design.T @ (design / variance[:, None])
    coefficients = np.linalg.solve(information, design.T @ (mean / variance))
    assert result.slope == pytest.approx(coefficients[1], rel=1e-12)
    assert result.variance == pytest.approx(np.linalg.inv(information)[1, 1], rel=1e-12)
    assert result.arms == 3


@pytest.mark.parametrize(
    ("effects", "dose", "covariance", "words"),
    [
        ([], [], np.zeros((0, 0)), "at least one"),
        ([0.1, 0.2], [1], np.eye(2), "equally many"),
        ([0.1, 0.2], [1, 0], np.eye(2), "above 0"),
        ([0.1, np.inf], [1, 2], np.eye(2), "finite"),
        ([0.1, 0.2], [1, 2], np.ones((2, 2)), "invertible"),
    ],
)
def test_slope_refuses(effects, dose, covariance, words):
    with pytest.raises(DesignError, match=words):
        dose_slope(effects, dose_difference=dose, covariance=covariance)
