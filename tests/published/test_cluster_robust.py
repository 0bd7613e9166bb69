"""Cluster-robust errors with the simple correction (CR1), against published figures.

Petersen, M. A. (2009). Estimating standard errors in finance panel data sets. Review of Financial
Studies 22, 435-480; figures of the test data he gives on his page. The page was not seen: the
printed digits are recalled, and those by firm and by year also stand in statsmodels' own test of
these data. The further digits are recomputed from the formula. The 5,000 rows are read from
statsmodels, which carries them for that test.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm
import statsmodels.stats

from steelyard.errors import DesignError
from steelyard.pooling import pool_nested, regress
from steelyard.pooling.robust_variance import (
    StudyStack,
    robust_variance,
    robust_variance_of_stacks,
)


@cache
def petersen():
    """Columns firm, year, x and y: 500 firms in 10 years."""
    path = Path(statsmodels.stats.__file__).parent / "tests" / "test_data.txt"
    firm, year, x, y = np.loadtxt(path).T
    return {"firm": firm, "year": year, "x": x, "y": y}


@cache
def least_squares():
    """Intercept and slope of y on x, and what the regression leaves."""
    data = petersen()
    b = regress(data["y"], np.ones(5000), data["x"], between="common", interval="normal")
    return b.coefficients, data["y"] - b.coefficients[0] - b.coefficients[1] * data["x"]


def clustered(x, residual, cluster, *, correction):
    """Standard errors of intercept and slope, and their degrees of freedom."""
    groups = [cluster == each for each in np.unique(cluster)]
    found = robust_variance(
        design=[np.column_stack([np.ones(here.sum()), x[here]]) for here in groups],
        residual=[residual[here] for here in groups],
        working=[np.eye(here.sum()) for here in groups],
        correction=correction,
    )
    return np.sqrt(np.diag(found.covariance)), found.df


def test_the_regression_itself():
    data = petersen()
    assert [np.unique(data[name]).size for name in ("firm", "year", "y")] == [500, 10, 5000]
    b, residual = least_squares()
    assert b == pytest.approx([0.02967972, 1.03483344], abs=1e-6)
    spread = residual @ residual / 4998
    plain = regress(
        data["y"], np.full(5000, spread), data["x"], between="common", interval="normal"
    )
    assert plain.standard_errors == pytest.approx([0.0284, 0.0286], abs=5e-5)
    assert plain.standard_errors == pytest.approx([0.028359316, 0.028583288], abs=1e-6)


@pytest.mark.parametrize(
    ("cluster", "printed", "exact", "df"),
    [
        ("firm", [0.0670, 0.0506], [0.067012704, 0.050595726], 499),
        ("year", [0.0234, 0.0334], [0.023386721, 0.033388913], 9),
    ],
)
def test_petersen(cluster, printed, exact, df):
    data, (_, residual) = petersen(), least_squares()
    errors, found = clustered(data["x"], residual, data[cluster], correction="CR1")
    assert errors == pytest.approx(printed, abs=5e-5)
    assert errors == pytest.approx(exact, abs=1e-6)
    assert list(found) == [df, df]


def test_two_corrections_agree_with_many_equal_clusters_and_part_with_few_unequal_ones():
    data, (_, residual) = petersen(), least_squares()
    (one, df), (other, satterthwaite) = (
        clustered(data["x"], residual, data["firm"], correction=each) for each in ("CR1", "CR2")
    )
    assert one == pytest.approx(other, rel=2e-3)
    assert satterthwaite[0] == pytest.approx(df[0], rel=1e-3)
    cluster, x, y = unequal()
    left = sm.OLS(y, sm.add_constant(x)).fit().resid
    (one, df), (other, satterthwaite) = (
        clustered(x, left, cluster, correction=each) for each in ("CR1", "CR2")
    )
    # Here the simple correction is the smaller one, and claims more degrees of freedom.
    assert (one < 0.97 * other).all()
    assert (satterthwaite < df - 2).all()


def unequal():
    """Clusters of 1 to 9, effects of clusters in x and in y."""
    rng = np.random.default_rng(20)
    cluster = np.repeat(np.arange(11), [1, 2, 9, 4, 3, 1, 6, 2, 5, 8, 3])
    x = rng.normal(size=11)[cluster] + rng.normal(size=cluster.size)
    y = 0.4 * x + rng.normal(size=11)[cluster] + rng.normal(size=cluster.size)
    return cluster, x, y


def test_against_statsmodels_with_unequal_clusters():
    cluster, x, y = unequal()
    fitted = sm.OLS(y, sm.add_constant(x)).fit(
        cov_type="cluster", cov_kwds={"groups": cluster}, use_t=True
    )
    errors, df = clustered(x, fitted.resid, cluster, correction="CR1")
    assert errors == pytest.approx(fitted.bse, rel=1e-10)
    assert list(df) == [fitted.df_resid_inference] * 2


def test_effects_that_an_analysis_lacks_are_not_counted():
    """Two analyses side by side in one stack: the second lacks a study and three effects."""
    rng = np.random.default_rng(3)
    x, y = rng.normal(size=(2, 6, 3))
    there = np.ones((2, 6, 3), dtype=bool)
    there[1, 0] = there[1, 1, 2] = there[1, 3, 1] = there[1, 5, 0] = False
    design = np.stack([np.ones((6, 3)), x], axis=-1) * there[..., None]
    residual = np.zeros((2, 6, 3))
    alone = []
    for at in (0, 1):
        flat = design[at].reshape(-1, 2)
        b = np.linalg.lstsq(flat, (y * there[at]).ravel(), rcond=None)[0]
        residual[at] = (y - design[at] @ b) * there[at]
        rows = [np.flatnonzero(each) for each in there[at]]
        alone.append(
            robust_variance(
                design=[design[at, j, row] for j, row in enumerate(rows) if row.size],
                residual=[residual[at, j, row] for j, row in enumerate(rows) if row.size],
                working=[np.eye(row.size) for row in rows if row.size],
                correction="CR1",
            )
        )
    working = np.broadcast_to(np.eye(3), (2, 6, 3, 3))
    side_by_side = robust_variance_of_stacks(
        [StudyStack(design, residual, working, there)], correction="CR1"
    )
    for at in (0, 1):
        np.testing.assert_allclose(side_by_side.covariance[at], alone[at].covariance, rtol=1e-12)
    assert side_by_side.df.tolist() == [[5, 5], [4, 4]]


def test_pooled_with_the_simple_correction():
    """An intercept alone: the weighted mean's scores by study, times studies over studies less
    one, since N − 1 over N − p is 1."""
    cluster, _, y = unequal()
    found = pool_nested(y, np.full(y.size, 0.3), study=cluster, correction="CR1")
    scores = [(found.weights * (y - found.estimate))[cluster == each].sum() for each in range(11)]
    assert found.standard_error == pytest.approx(np.sqrt(11 / 10 * np.sum(np.square(scores))))
    assert (found.df, found.interval) == (10, "cluster-robust-cr1")
    usual = pool_nested(y, np.full(y.size, 0.3), study=cluster)
    assert (usual.estimate, usual.interval) == (found.estimate, "cluster-robust")
    assert usual.df < 10


def test_what_cannot_be_corrected():
    with pytest.raises(DesignError, match="correction must be one of CR2, CR1; it is 'CR0'"):
        pool_nested([0.1, 0.2], [0.1, 0.1], study=["a", "b"], correction="CR0")
    one = robust_variance(
        design=[np.ones((3, 1))],
        residual=[np.array([0.1, 0.0, -0.1])],
        working=[np.eye(3)],
        correction="CR1",
    )
    assert np.isnan(one.covariance).all() and np.isnan(one.df).all()
