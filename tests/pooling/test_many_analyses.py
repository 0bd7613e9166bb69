"""Pools of nested effects and regressions, many at once, against one by one and by other means."""

import sys
import warnings

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from steelyard.errors import DesignError
from steelyard.pooling import (
    covariance_blocks,
    pool_nested,
    pool_nested_many,
    regress,
    regress_many,
)
from steelyard.pooling.zero_crossing import zero_crossing

STUDY = np.repeat(np.arange(7), [1, 3, 2, 4, 1, 3, 2])
K = STUDY.size
NESTED = (
    *("estimate", "standard_error", "df", "low", "high", "prediction_low", "prediction_high"),
    *("variance_between_studies", "variance_within_studies", "tau2", "i2", "q", "q_df", "q_p"),
    *("k", "studies", "log_likelihood"),
)
REGRESSED = (
    *("coefficients", "standard_errors", "interval_standard_errors", "df", "low", "high", "p"),
    *("tau2", "r2", "q_residual", "q_residual_df", "q_residual_p", "q_moderators"),
    *("q_moderators_p", "k", "studies"),
)


def drawn(analyses, *, seed, absent=0.1):
    """Analyses that differ in scale and scatter, with effects absent here and there."""
    rng = np.random.default_rng(seed)
    scale = 10.0 ** rng.integers(-3, 4, (analyses, 1))
    v = rng.uniform(0.02, 0.3, (analyses, K))
    between, within = rng.choice([0.0, 0.3, 1.0], (2, analyses, 1))
    y = 0.4 + between * rng.normal(size=(analyses, 7))[:, STUDY]
    y += rng.normal(size=v.shape) * np.sqrt(v + within**2)
    y[rng.random(y.shape) < absent] = np.nan
    return y * scale, v * scale**2


def agree(one, many, row, names):
    for name in names:
        mine, theirs = np.asarray(getattr(many, name))[row], getattr(one, name)
        np.testing.assert_allclose(mine, theirs, rtol=1e-8, atol=1e-13, err_msg=f"{name} {row}")


@pytest.mark.parametrize("method", ["reml", "ml"])
@pytest.mark.parametrize("robust", [True, False])
@pytest.mark.parametrize("correlated", [True, False])
def test_nested_pools_are_those_of_a_loop(method, robust, correlated):
    y, v = drawn(15, seed=1)
    correlation = np.where(np.equal.outer(STUDY, STUDY), 0.6, 0.0) + 0.4 * np.eye(K)
    options = {"method": method, "robust": robust, "level": 0.9}
    many = pool_nested_many(
        y, v, study=STUDY, correlation=correlation if correlated else None, **options
    )
    for row in range(15):
        error = np.sqrt(v[row])
        given = correlation * np.outer(error, error) if correlated else v[row]
        one = pool_nested(y[row], given, study=STUDY, **options)
        agree(one, many, row, NESTED)
        np.testing.assert_allclose(many.weights[row], one.weights, rtol=1e-7, atol=1e-10)
        assert (one.interval == "cluster-robust") == bool(many.robust[row])


def test_analyses_in_parts_do_not_show(monkeypatch):
    y, v = drawn(30, seed=2)
    whole = pool_nested_many(y, v, study=STUDY)
    line = regress_many(y, v, np.arange(K), study=STUDY, between="dl")
    for function in (pool_nested_many, regress_many):
        monkeypatch.setattr(sys.modules[function.__module__], "EFFECTS_AT_ONCE", 100)
    parts = pool_nested_many(y, v, study=STUDY)
    for name in (*NESTED, "weights"):
        np.testing.assert_allclose(getattr(parts, name), getattr(whole, name), rtol=1e-12)
    again = regress_many(y, v, np.arange(K), study=STUDY, between="dl")
    np.testing.assert_allclose(again.low, line.low, rtol=1e-10)


def test_correlation_may_come_in_blocks():
    y, v = drawn(5, seed=3)
    places = [np.flatnonzero(STUDY == each) for each in range(7)]
    blocks = [0.5 + 0.5 * np.eye(rows.size) for rows in places]
    matrix = np.where(np.equal.outer(STUDY, STUDY), 0.5, 0.0) + 0.5 * np.eye(K)
    held = pool_nested_many(y, v, study=STUDY, correlation=covariance_blocks(places, blocks))
    dense = pool_nested_many(y, v, study=STUDY, correlation=matrix)
    np.testing.assert_array_equal(held.low, dense.low)


@pytest.mark.parametrize("between", ["reml", "ml", "pm", "dl", "common"])
@pytest.mark.parametrize("clustered", [True, False])
def test_regressions_are_those_of_a_loop(between, clustered):
    y, v = drawn(10, seed=4, absent=0.05)
    rng = np.random.default_rng(5)
    shared = rng.normal(size=(K, 1))
    own = rng.normal(size=(10, K, 1))
    # Without clusters every effect counts as a study of its own.
    options = {"between": between, "study": STUDY if clustered else None, "level": 0.9}
    for moderators in (shared, own):
        many = regress_many(y, v, moderators, **options)
        for row in range(10):
            x = moderators if moderators.ndim == 2 else moderators[row]
            one = regress(y[row], v[row], x, **options)
            agree(one, many, row, REGRESSED)
            assert one.interval == many.interval


def test_regression_without_scatter_is_weighted_least_squares():
    """statsmodels' WLS with known variances, whose covariance takes scale 1."""
    y, v = drawn(12, seed=6, absent=0)
    x = np.column_stack([np.linspace(0, 3, K), np.arange(K) % 2])[:, :1]
    many = regress_many(y, v, x, between="common", interval="normal")
    for row in range(12):
        fit = sm.WLS(y[row], sm.add_constant(x), weights=1 / v[row]).fit()
        np.testing.assert_allclose(many.coefficients[row], fit.params, rtol=1e-9)
        np.testing.assert_allclose(many.covariance[row], fit.normalized_cov_params, rtol=1e-8)


def test_equal_variances_are_a_mixed_model():
    """With equal sampling variances the two variances are those of an ordinary mixed model.

    statsmodels' MixedLM estimates the residual variance, which is then the variance within
    studies plus the sampling variance; its optimiser stops at about six digits.
    """
    rng = np.random.default_rng(7)
    study, v = np.repeat(np.arange(12), 4), 0.02
    y = 0.3 + rng.normal(0, 0.5, (6, 12))[:, study] + rng.normal(0, 0.4, (6, 48))
    many = pool_nested_many(y, np.full(y.shape, v), study=study, robust=False)
    for row in range(6):
        with warnings.catch_warnings():
            # Its own doubts about where its search ended; the numbers are compared below.
            warnings.simplefilter("ignore")
            fit = sm.MixedLM(y[row], np.ones((48, 1)), groups=study).fit(reml=True)
        within, between = fit.scale - v, float(fit.cov_re[0, 0])
        assert within > 0.01 and between > 0.01
        assert many.variance_within_studies[row] == pytest.approx(within, rel=1e-4)
        assert many.variance_between_studies[row] == pytest.approx(between, rel=1e-4)
        assert many.estimate[row] == pytest.approx(float(fit.fe_params[0]), rel=1e-7)
        assert many.standard_error[row] == pytest.approx(float(fit.bse_fe[0]), rel=1e-4)


def test_variances_are_recovered():
    """Forty studies of one to five effects, errors correlated 0.5; 400 replicates.

    REML is nearly unbiased where the truth is well away from zero (Searle, Casella & McCulloch
    1992, Variance Components; from memory), so the means of the estimates are held to 3.5 of
    their simulated standard errors.
    """
    rng = np.random.default_rng(8)
    study = np.repeat(np.arange(40), np.tile([1, 2, 3, 4, 5], 8))
    v = rng.uniform(0.02, 0.06, study.size)
    correlation = np.where(np.equal.outer(study, study), 0.5, 0.0) + 0.5 * np.eye(study.size)
    shape, between, within = (400, study.size), 0.09, 0.05
    error = np.sqrt(0.5) * (rng.normal(size=(400, 40))[:, study] + rng.normal(size=shape))
    y = 0.3 + error * np.sqrt(v) + rng.normal(0, between**0.5, (400, 40))[:, study]
    y += rng.normal(0, within**0.5, shape)
    found = pool_nested_many(
        y, np.broadcast_to(v, shape), study=study, correlation=correlation, robust=False
    )
    for values, truth in (
        (found.variance_between_studies, between),
        (found.variance_within_studies, within),
        (found.estimate, 0.3),
    ):
        assert abs(values.mean() - truth) < 3.5 * values.std() / 20
        assert values.std() / 20 < 0.03 * truth


@pytest.mark.parametrize(("studies", "least"), [(6, 0.93), (12, 0.935), (30, 0.94)])
def test_cluster_robust_interval_covers_under_dependence(studies, least):
    """Errors correlate 0.7 within studies and the model is told that they do not.

    One to five effects a study, 2,000 replicates. Beside binomial bounds the level may fall
    short by two points with 6 studies and one with 30, or exceed it by two, as CR2 with
    Satterthwaite degrees of freedom is approximate (Tipton 2015 reports rejection rates near
    the nominal ones down to few clusters; from memory). Effects taken as independent fail.
    """
    rng = np.random.default_rng(90 + studies)
    study = np.repeat(np.arange(studies), np.resize([1, 4, 2, 5, 3], studies))
    v = rng.uniform(0.04, 0.12, study.size)
    shape = (2_000, study.size)
    shared = rng.normal(size=(2_000, studies))[:, study]
    error = np.sqrt(0.7) * shared + np.sqrt(0.3) * rng.normal(size=shape)
    y = 0.3 + error * np.sqrt(v) + rng.normal(0, 0.2, (2_000, studies))[:, study]
    found = pool_nested_many(y, np.broadcast_to(v, shape), study=study)
    hits = int(((found.low <= 0.3) & (0.3 <= found.high)).sum())
    assert stats.binom.ppf(1e-3, 2_000, least) <= hits <= stats.binom.ppf(1 - 1e-3, 2_000, 0.97)
    weight = 1 / v
    naive = y @ weight / weight.sum()
    missed = np.abs(naive - 0.3) > 1.96 / np.sqrt(weight.sum())
    assert missed.mean() > 0.2


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"effects": np.full((2, K), np.nan)}, "analysis 0 has none"),
        ({"correlation": np.full(K, 1.0)}, "must be a matrix"),
        ({"correlation": 2 * np.eye(K)}, "ones on its diagonal"),
        ({"correlation": np.ones((K, K))}, "different studies must be 0"),
        ({"method": "dl"}, "reml, ml"),
        ({"study": STUDY[:3]}, "one label per effect"),
    ],
)
def test_nested_refusals(changes, words):
    given = {"effects": np.zeros((2, K)), "variances": np.ones((2, K)), "study": STUDY} | changes
    with pytest.raises(DesignError, match=words):
        pool_nested_many(given.pop("effects"), given.pop("variances"), **given)


def test_regression_refusals_name_the_analysis():
    y, v = drawn(3, seed=9, absent=0)
    x = np.tile(np.arange(float(K)), (3, 1))[..., None]
    flat, missing = x.copy(), x.copy()
    flat[2] = 4.0
    missing[1, 3] = np.nan
    for moderators, words in (
        (flat, r"moderator 1 is 4 in all \(analysis 2\)"),
        (missing, r"moderator 1\[3\] = nan \(analysis 1\)"),
        (x[:2], "must have shape"),
    ):
        with pytest.raises(DesignError, match=words):
            regress_many(y, v, moderators)
    few = y.copy()
    few[1, 3:] = np.nan
    with pytest.raises(DesignError, match=r"there are 3 studies for 1 moderator \(analysis 1\)"):
        regress_many(few, v, x)
    both = np.concatenate([x, 2 * x + 1], axis=2)
    with pytest.raises(DesignError, match=r"moderator 2 follows from moderator 1 \(analysis 0\)"):
        regress_many(y, v, both)


def test_crossings_are_found_where_functions_are_smooth_and_where_they_jump():
    root = np.array([0.2, 3.0, 1e-7, 700.0])

    def falling(which, at):
        smooth = root[which] ** 3 - at**3
        jump = np.where(at < root[which], 1e9, -1e-9)
        return np.where(which == 2, jump, smooth)

    low, high = np.zeros(4), np.array([1.0, 1e3, 1.0, 1e6])
    every = np.arange(4)
    found = zero_crossing(
        falling,
        low=low,
        high=high,
        at_low=falling(every, low),
        at_high=falling(every, high),
        scale=np.full(4, 1e-6),
    )
    np.testing.assert_allclose(found, root, rtol=1e-10)
