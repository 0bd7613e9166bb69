"""Nested effects: edges, refusals, identities and coverage."""

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import minimize

from steelyard.errors import DesignError
from steelyard.pooling import pool, pool_many, pool_nested, pool_nested_many

Y = np.array([0.2, 0.4, 0.1, 0.7, 0.5, -0.1, 0.3, 0.9])
V = np.array([0.04, 0.05, 0.02, 0.08, 0.06, 0.03, 0.05, 0.09])
STUDY = ["a", "a", "b", "c", "c", "c", "d", "e"]


def log_likelihood(y, covariance, study, between, within):
    """Restricted log-likelihood written out with dense matrices: a second route."""
    same = np.equal.outer(study, study)
    total = covariance + within * np.eye(y.size) + between * same
    inverse = np.linalg.inv(total)
    information = inverse.sum()
    residual = y - inverse.sum(axis=0) @ y / information
    return -0.5 * (
        np.linalg.slogdet(total)[1]
        + np.log(information)
        + residual @ inverse @ residual
        + (y.size - 1) * np.log(2 * np.pi)
        - np.log(y.size)
    )


@pytest.mark.parametrize("seed", range(6))
def test_maximum_by_a_second_route(seed):
    rng = np.random.default_rng(seed)
    study = np.repeat(np.arange(7), rng.integers(1, 5, 7))
    k = study.size
    v = 10 ** rng.uniform(-2, 0, k)
    correlation = np.where(np.equal.outer(study, study), 0.5, 0.0) + 0.5 * np.eye(k)
    covariance = correlation * np.sqrt(np.outer(v, v))
    scatter = rng.choice([0.0, 0.3, 1.0], 2)
    y = rng.normal(size=7)[study] * scatter[0] + rng.normal(size=k) * scatter[1]
    y += rng.multivariate_normal(np.zeros(k), covariance)
    result = pool_nested(y, covariance, study=study)
    at = (result.variance_between_studies, result.variance_within_studies)
    ours = log_likelihood(y, covariance, study, *at)
    assert result.log_likelihood == pytest.approx(ours, abs=1e-9)
    for start in ([0.01, 0.01], [1, 0.01], [0.01, 1], [1, 1]):
        other = minimize(
            lambda s: -log_likelihood(y, covariance, study, *s),
            start,
            bounds=[(0, None)] * 2,
            method="L-BFGS-B",
        )
        assert ours >= -other.fun - 1e-8
    inverse = np.linalg.inv(covariance + at[1] * np.eye(k) + at[0] * np.equal.outer(study, study))
    weights = inverse.sum(axis=0) / inverse.sum()
    np.testing.assert_allclose(result.weights, weights, rtol=1e-7, atol=1e-10)
    assert result.estimate == pytest.approx(weights @ y, rel=1e-8)


def test_one_effect_per_study_is_a_plain_pool():
    nested = pool_nested(Y, V, study=range(8), robust=False)
    plain = pool(Y, V, interval="normal")
    for name in ("estimate", "standard_error", "low", "high", "tau2", "q", "i2", "q_p"):
        assert getattr(nested, name) == pytest.approx(getattr(plain, name), rel=1e-9), name
    assert nested.prediction_low == pytest.approx(plain.prediction_low, rel=1e-9)
    assert nested.variance_within_studies == 0
    assert any("one effect" in note for note in nested.notes)


def test_repeating_one_study_hardly_moves_the_robust_interval():
    """Ten studies, one of whose effects is entered five times with full correlation nearly."""
    rng = np.random.default_rng(2)
    y, v = rng.normal(0.3, 0.4, 10), rng.uniform(0.03, 0.1, 10)
    once = pool(y, v)
    repeated_y = np.append(y, [y[0]] * 4)
    repeated_v = np.append(v, [v[0]] * 4)
    study = [*range(10), 0, 0, 0, 0]
    same = np.equal.outer(study, study)
    covariance = np.sqrt(np.outer(repeated_v, repeated_v)) * np.where(same, 0.999, 0)
    covariance[np.diag_indices(14)] = repeated_v
    nested = pool_nested(repeated_y, covariance, study=study)
    naive = pool(repeated_y, repeated_v)
    assert nested.standard_error == pytest.approx(once.standard_error, rel=0.05)
    assert naive.standard_error < 0.9 * once.standard_error


@pytest.mark.parametrize("robust", [True, False])
def test_order_and_labels_do_not_matter(robust):
    order = np.random.default_rng(1).permutation(8)
    plain = pool_nested(Y, V, study=STUDY, robust=robust)
    mixed = pool_nested(Y[order], V[order], study=[hash(STUDY[i]) for i in order], robust=robust)
    for name in ("estimate", "standard_error", "df", "low", "tau2", "variance_between_studies"):
        assert getattr(mixed, name) == pytest.approx(getattr(plain, name), rel=1e-8), name
    np.testing.assert_allclose(mixed.weights, plain.weights[order], rtol=1e-8)


def test_shift_and_scale():
    plain = pool_nested(Y, V, study=STUDY)
    moved = pool_nested((Y + 100) * 1e3, V * 1e6, study=STUDY)
    assert moved.estimate == pytest.approx((plain.estimate + 100) * 1e3, rel=1e-10)
    assert moved.standard_error == pytest.approx(plain.standard_error * 1e3, rel=1e-8)
    assert moved.df == pytest.approx(plain.df, rel=1e-8)
    assert moved.tau2 == pytest.approx(plain.tau2 * 1e6, rel=1e-8, abs=1e-3)


def test_absent_effects_are_left_out():
    y = np.append(Y, np.nan)
    for covariance in (np.append(V, np.nan), np.diag(np.append(V, np.nan))):
        result = pool_nested(y, covariance, study=[*STUDY, None])
        assert result.estimate == pytest.approx(pool_nested(Y, V, study=STUDY).estimate)
        assert "1 effect of 9 absent and left out (index 8)" in result.notes
        assert result.weights[8] == 0


def test_one_study_and_one_effect():
    one = pool_nested([0.1, 0.5, 0.3], [0.02] * 3, study=["a"] * 3)
    assert one.interval == "normal" and one.variance_between_studies == 0
    assert any("one study" in note for note in one.notes)
    single = pool_nested([0.4], [0.09], study=["a"])
    assert single.standard_error == pytest.approx(0.3)
    assert np.isnan(single.q_p) and np.isnan(single.prediction_low)


def test_two_studies_warn_of_their_degrees_of_freedom():
    result = pool_nested(Y[:4], V[:4], study=["a", "a", "b", "b"])
    assert result.df < 4 or result.df == np.inf
    assert result.notes and np.isnan(result.prediction_low)


def test_identical_effects_keep_the_common_effect_width():
    result = pool_nested([0.3] * 6, [0.02] * 6, study=[1, 1, 2, 2, 3, 3])
    assert result.tau2 == 0 and result.df == np.inf
    assert result.standard_error == pytest.approx((0.02 / 6) ** 0.5)
    assert any("narrower" in note for note in result.notes)


def test_a_study_that_outweighs_all_others_gets_the_model_interval():
    result = pool_nested([0.1, 0.3, 0.2], [1e6, 2e6, 1e-6], study=["a", "a", "b"])
    assert result.interval == "normal" and result.df == np.inf
    assert any("outweighs all others" in note for note in result.notes)
    assert result.standard_error == pytest.approx(1e-3, rel=1e-3)


@pytest.mark.parametrize("ratio", [1e6, 1e10])
def test_one_huge_study(ratio):
    v = V.copy()
    v[2] /= ratio
    for robust in (True, False):
        result = pool_nested(Y, v, study=STUDY, robust=robust)
        assert np.isfinite([result.estimate, result.low, result.high, result.tau2]).all()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"effect": []}, "shape"),
        ({"effect": [np.nan] * 8}, "at least one value"),
        ({"covariance": V[:3]}, "shape"),
        ({"covariance": np.append(V[:7], 0)}, r"covariance\[7\] = 0"),
        ({"covariance": np.diag(V) + 0.001}, "different studies must be 0"),
        ({"study": STUDY[:5]}, "one label per effect"),
        ({"study": [*STUDY[:7], None]}, r"study\[7\]"),
        ({"method": "dl"}, "reml, ml"),
        ({"level": 2}, "between 0 and 1"),
    ],
)
def test_refusals(changes, words):
    given = {"effect": Y, "covariance": V, "study": STUDY} | changes
    with pytest.raises(DesignError, match=words):
        pool_nested(given.pop("effect"), given.pop("covariance"), **given)


def test_effects_that_repeat_each_other_exactly_are_refused():
    with pytest.raises(DesignError, match="invertible within each study"):
        pool_nested([0.1, 0.1], [[0.04, 0.04], [0.04, 0.04]], study=[1, 1])


def test_result_shows():
    text = str(pool_nested(Y, V, study=STUDY))
    assert "8 effects in 5 studies" in text and "study as cluster" in text


def test_cluster_robust_interval_covers_at_its_level():
    """Working model wrong on purpose: errors correlate 0.6 within studies, none is assumed.

    Fifteen studies of one to six effects; 500 replicates. Two percentage points are allowed
    either way beside binomial bounds, as CR2 with Satterthwaite degrees of freedom is
    approximate (Tipton 2015 reports rejection rates near the nominal ones; from memory).
    """
    rng = np.random.default_rng(12)
    study = np.repeat(np.arange(15), [1, 2, 6, 3, 4, 2, 5, 1, 3, 2, 4, 6, 2, 3, 1])
    v = rng.uniform(0.05, 0.2, study.size)
    root = np.sqrt(v)
    shape = (500, study.size)
    shared = rng.normal(size=(500, 15))[:, study]
    error = root * (np.sqrt(0.6) * shared + np.sqrt(0.4) * rng.normal(size=shape))
    y = 0.3 + rng.normal(0, 0.3, (500, 15))[:, study] + error
    found = pool_nested_many(y, np.broadcast_to(v, shape), study=study)
    hits = int(((found.low <= 0.3) & (0.3 <= found.high)).sum())
    single = pool_many(y, np.broadcast_to(v, shape))
    naive = int(((single.low <= 0.3) & (0.3 <= single.high)).sum())
    assert stats.binom.ppf(1e-3, 500, 0.93) <= hits <= stats.binom.ppf(1 - 1e-3, 500, 0.97)
    assert naive < 0.9 * 500
