"""Regression on moderators: edges, refusals, identities and coverage."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from steelyard.errors import DesignError
from steelyard.pooling import pool_nested, regress, regress_many
from steelyard.pooling.residual_variance import residual_between_study_variance
from steelyard.pooling.robust_variance import robust_variance

RNG = np.random.default_rng(31)
K = 24
X = RNG.uniform(2, 20, K)
GROUP = (np.arange(K) % 2).astype(float)
V = RNG.uniform(0.02, 0.2, K)
Y = 0.1 + 0.03 * X - 0.2 * GROUP + RNG.normal(size=K) * np.sqrt(V + 0.05)


@pytest.mark.parametrize("between", ["reml", "ml"])
def test_variance_maximises_the_likelihood(between):
    """Against the likelihood written out with dense matrices, on a fine grid."""
    rng = np.random.default_rng(5)
    for _ in range(25):
        v = 10 ** rng.uniform(-3, 1, 9)
        design = np.column_stack([np.ones(9), rng.normal(size=9)])
        y = rng.standard_t(2, 9) * np.sqrt(v) * 2
        found = residual_between_study_variance(y, v, design, between=between)

        def height(t, y=y, v=v, design=design):
            w = 1 / (v + t)
            information = design.T @ (w[:, None] * design)
            b = np.linalg.solve(information, design.T @ (w * y))
            total = np.log(w).sum() - (w * (y - design @ b) ** 2).sum()
            return total - np.linalg.slogdet(information)[1] if between == "reml" else total

        grid = [0, *np.logspace(-5, 4, 300)]
        assert height(found) >= max(height(t) for t in grid) - 1e-9


def test_shifting_and_scaling_a_moderator():
    plain = regress(Y, V, X)
    moved = regress(Y, V, 1000 + 5 * X)
    assert moved.coefficients[1] == pytest.approx(plain.coefficients[1] / 5, rel=1e-9)
    assert moved.standard_errors[1] == pytest.approx(plain.standard_errors[1] / 5, rel=1e-9)
    assert moved.coefficients[0] == pytest.approx(
        plain.coefficients[0] - 200 * plain.coefficients[1], rel=1e-9
    )
    assert moved.tau2 == pytest.approx(plain.tau2, rel=1e-9)
    assert moved.q_moderators == pytest.approx(plain.q_moderators, rel=1e-9)


def test_table_gives_names():
    table = pd.DataFrame({"weeks": X, "trained": GROUP})
    result = regress(Y, V, table)
    assert result.names == ("intercept", "weeks", "trained")
    assert "weeks" in str(result) and "trained" in str(result)
    assert result.q_moderators_df == 2 and result.q_residual_df == K - 3
    bare = regress(Y, V, np.column_stack([X, GROUP]))
    np.testing.assert_allclose(bare.coefficients, result.coefficients)
    assert regress(Y, V, pd.Series(X, name="weeks")).names == ("intercept", "weeks")


def test_absent_effects_and_their_moderators_are_left_out():
    y, v, x = np.append(Y, np.nan), np.append(V, np.nan), np.append(X, np.nan)
    result = regress(y, v, x)
    np.testing.assert_allclose(result.coefficients, regress(Y, V, X).coefficients)
    assert result.notes[0] == "1 effect absent and left out"


def test_few_studies():
    with pytest.raises(DesignError, match=r"at least 4 studies per moderator; there are 3"):
        regress(Y[:3], V[:3], X[:3])
    with pytest.raises(DesignError, match=r"7 studies for 2 moderators"):
        regress(Y[:7], V[:7], np.column_stack([X, GROUP])[:7])
    assert any("chance" in note for note in regress(Y[:9], V[:9], X[:9]).notes)
    assert not any("chance" in note for note in regress(Y[:10], V[:10], X[:10]).notes)


@pytest.mark.parametrize(
    ("moderators", "words"),
    [
        (np.full(K, 3.0), "moderator 1 is 3 in all"),
        (np.zeros(K), "moderator 1 is 0 in all"),
        (np.where(np.arange(K) == 4, np.nan, X), r"moderator 1\[4\] = nan"),
        (np.column_stack([X, 2 * X + 1]), "moderator 2 follows from moderator 1"),
        (np.column_stack([X, GROUP, X - GROUP]), "moderator 3 follows"),
        (X[:5], "24 rows"),
        (np.empty((K, 0)), "at least one column"),
        (["many"] * K, "must be numbers"),
    ],
)
def test_moderators_that_cannot_be_used(moderators, words):
    with pytest.raises(DesignError, match=words):
        regress(Y, V, moderators)


def test_unknown_options():
    with pytest.raises(DesignError, match="reml, dl, pm, ml, common"):
        regress(Y, V, X, between="best")
    with pytest.raises(DesignError, match="knapp-hartung, normal"):
        regress(Y, V, X, interval="wide")


def test_interval_is_never_narrower_than_with_sampling_error_alone():
    straight = 0.1 + 0.02 * X
    result = regress(straight, V, X)
    common = regress(straight, V, X, between="common")
    np.testing.assert_allclose(result.high - result.low, common.high - common.low)
    assert any("narrower" in note for note in result.notes)
    assert result.tau2 == 0


def test_one_huge_study():
    v = V.copy()
    v[3] /= 1e8
    for between in ("reml", "dl", "pm", "ml", "common"):
        result = regress(Y, v, X, between=between)
        assert np.isfinite(result.coefficients).all() and np.isfinite(result.tau2)


def test_cluster_robust_identities():
    """An intercept alone gives what `pool_nested` gives; balanced groups give a t test."""
    study = np.repeat(np.arange(8), 3)
    nested = pool_nested(Y, V, study=study)
    total = nested.variance_within_studies
    working = [np.diag(V[study == j] + total) + nested.variance_between_studies for j in range(8)]
    alone = robust_variance(
        design=[np.ones((3, 1))] * 8,
        residual=[Y[study == j] - nested.estimate for j in range(8)],
        working=working,
    )
    assert np.sqrt(alone.covariance[0, 0]) == pytest.approx(nested.standard_error)
    assert alone.df[0] == pytest.approx(nested.df)

    # Equal variances, equal sizes, moderator constant within studies: the comparison of two
    # groups of cluster means, with its exact 6 degrees of freedom (Bell & McCaffrey 2002).
    arm = np.repeat([0.0, 0, 0, 0, 1, 1, 1, 1], 3)
    result = regress(Y, np.full(K, 0.05), arm, study=study, between="common")
    means = Y.reshape(8, 3).mean(axis=1)
    difference = means[4:].mean() - means[:4].mean()
    error = np.sqrt(means[:4].var(ddof=1) / 4 + means[4:].var(ddof=1) / 4)
    assert result.coefficients[1] == pytest.approx(difference)
    assert result.standard_errors[1] == pytest.approx(error)
    sandwich = robust_variance(
        design=[np.column_stack([np.ones(3), arm[3 * j : 3 * j + 3]]) for j in range(8)],
        residual=[np.zeros(3)] * 8,
        working=[np.eye(3)] * 8,
    )
    assert sandwich.df[1] == pytest.approx(6)
    assert sandwich.df[0] == pytest.approx(3)


def test_a_coefficient_that_one_study_fixes_gets_the_model_interval():
    """Only study 0 has the moderator, so its scatter about its own mean shows nowhere."""
    study = np.repeat(np.arange(8), 3)
    result = regress(Y, V, (study == 0).astype(float), study=study)
    model = regress(Y, V, (study == 0).astype(float), interval="normal")
    assert any("one study alone" in note and "moderator 1" in note for note in result.notes)
    assert result.df[1] == np.inf and np.isfinite(result.df[0])
    assert result.low[1] == pytest.approx(model.low[1])


def test_cluster_robust_in_the_units_given():
    study = np.repeat(np.arange(8), 3)
    plain, moved = regress(Y, V, X, study=study), regress(Y, V, 100 + 5 * X, study=study)
    assert plain.interval == "cluster-robust"
    assert moved.standard_errors[1] == pytest.approx(plain.standard_errors[1] / 5, rel=1e-8)
    assert moved.df[1] == pytest.approx(plain.df[1], rel=1e-8)


def test_slope_is_covered_at_its_level():
    """Knapp-Hartung slopes with 12 studies; 800 replicates.

    A percentage point is allowed either way beside binomial bounds: the level is exact only
    with equal variances.
    """
    rng = np.random.default_rng(44)
    x, v = np.linspace(2, 20, 12), rng.uniform(0.03, 0.2, 12)
    y = 0.1 + 0.03 * x + rng.normal(size=(800, 12)) * np.sqrt(v + 0.08)
    found = regress_many(y, np.broadcast_to(v, y.shape), x)
    hits = int(((found.low[:, 1] <= 0.03) & (0.03 <= found.high[:, 1])).sum())
    assert stats.binom.ppf(1e-3, 800, 0.94) <= hits <= stats.binom.ppf(1 - 1e-3, 800, 0.96)


def test_cluster_robust_slope_is_covered():
    """Studies share errors that the regression does not know of; 600 replicates, 20 studies.

    Two percentage points are allowed either way beside binomial bounds, as in
    `test_pool_nested`.
    """
    rng = np.random.default_rng(45)
    study = np.repeat(np.arange(20), 3)
    x = rng.uniform(2, 20, 60)
    v = rng.uniform(0.03, 0.2, 60)
    y = 0.03 * x + rng.normal(0, 0.4, (600, 20))[:, study] + rng.normal(size=(600, 60)) * np.sqrt(v)
    found = regress_many(y, np.broadcast_to(v, y.shape), x, study=study)
    hits = int(((found.low[:, 1] <= 0.03) & (0.03 <= found.high[:, 1])).sum())
    assert stats.binom.ppf(1e-3, 600, 0.93) <= hits <= stats.binom.ppf(1 - 1e-3, 600, 0.97)
