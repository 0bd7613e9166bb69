"""Influence diagnostics against a refit loop and closed forms."""

import numpy as np
import pytest
import statsmodels.api as sm

from steelyard.pooling import pool, study_influence

Y = np.array([0.10, 0.42, np.nan, -0.05, 0.61, 0.30, 1.9])
V = np.array([0.04, 0.09, np.nan, 0.02, 0.12, 0.05, 0.06])
PRESENT = np.flatnonzero(~np.isnan(Y))


@pytest.mark.parametrize("between", ["reml", "dl", "pm", "ml", "common"])
def test_against_refits(between):
    found = study_influence(Y, V, between=between)
    y, v = Y[PRESENT], V[PRESENT]
    whole = pool(y, v, between=between, interval="normal")
    for i in range(len(y)):
        kept = np.arange(len(y)) != i
        w = 1 / (v[kept] + pool(y[kept], v[kept], between=between).tau2)
        tau2, mean = 1 / w[0] - v[kept][0], (w * y[kept]).sum() / w.sum()
        residual = (y[i] - mean) / np.sqrt(v[i] + tau2 + 1 / w.sum())
        assert found.residual[i] == pytest.approx(residual, rel=1e-9)
        cook = (whole.estimate - mean) ** 2 * (1 / (v + whole.tau2)).sum()
        assert found.cook[i] == pytest.approx(cook, rel=1e-8)
        assert found.tau2_change[i] == pytest.approx(tau2 - whole.tau2, abs=1e-12)
        assert found.shift[i] == pytest.approx(mean - whole.estimate, rel=1e-8)
    assert found.hat.sum() == pytest.approx(1)
    assert found.place.tolist() == PRESENT.tolist()


def test_common_effect_in_closed_form():
    """With known variances deletion has closed forms: ``r/sqrt(1 - h)``, ``r**2 h/(1 - h)**2``."""
    found = study_influence(Y, V, between="common")
    y, v = Y[PRESENT], V[PRESENT]
    h = (1 / v) / (1 / v).sum()
    r = (y - (h * y).sum()) / np.sqrt(v)
    assert found.residual == pytest.approx(r / np.sqrt(1 - h), rel=1e-10)
    assert found.cook == pytest.approx(r**2 * h / (1 - h) ** 2, rel=1e-9)


def test_against_regression_diagnostics():
    """Hat values and Cook's distance of weighted least squares, rescaled to known variances."""
    y, v = Y[PRESENT], V[PRESENT]
    fit = sm.OLS(y / np.sqrt(v), 1 / np.sqrt(v)).fit()
    theirs = fit.get_influence()
    found = study_influence(Y, V, between="common")
    assert found.hat == pytest.approx(theirs.hat_matrix_diag, rel=1e-10)
    assert found.cook == pytest.approx(theirs.cooks_distance[0] * fit.scale, rel=1e-9)


def test_points_at_the_odd_study():
    found = study_influence(Y, V)
    assert found.place[np.abs(found.residual).argmax()] == 6
    assert found.tau2_change[-1] < 0
    assert "effect 6" in str(found)


@pytest.mark.parametrize(
    ("y", "v"), [([0.3] * 4, [0.1] * 4), ([0.0, 1.0], [1e-8, 1]), ([0, 9e3, -9e3], [1, 1, 1])]
)
def test_hard_data_stay_finite(y, v):
    found = study_influence(y, v)
    assert np.isfinite([found.residual, found.cook, found.hat, found.tau2_change]).all()
