"""Regressions on moderators against published examples; sources stand in the data file."""

import json
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm

from steelyard.pooling import pool, regress

TEXT = Path(__file__).with_name("regression_cases.json").read_text(encoding="utf-8")
CASES = {case["id"]: case for case in json.loads(TEXT)}
ESTIMATORS = {"dl": "mm", "reml": "reml", "ml": "ml", "pm": "pm"}


def data(name):
    given = CASES[name]["inputs"]
    if "trials" in given:
        a, n1, c, n2, latitude = (
            np.array([trial[key] for trial in given["trials"]])
            for key in ("a", "n1", "c", "n2", "latitude")
        )
        return np.log(a / n1 / (c / n2)), 1 / a - 1 / n1 + 1 / c - 1 / n2, latitude
    return np.array(given["d"]), np.array(given["se"]) ** 2, np.array(given["weeks"])


def check(values, case):
    for name, expected in case["expected"].items():
        if name not in values:
            raise AssertionError(f"{name} is not checked")
        tolerance = expected.get("tol", 1e-9)
        assert values[name] == pytest.approx(expected["value"], abs=tolerance), name
        if "published" in expected:
            printed = float(expected["published"])
            assert values[name] == pytest.approx(printed, abs=expected["published_tol"]), name


@pytest.mark.parametrize("name", ["q8-bcg-latitude-rr", "q8-raudenbush-weeks"])
def test_published_regression(name):
    y, v, moderator = data(name)
    common = regress(y, v, moderator, between="common")
    values = {
        "fe_b0": common.coefficients[0],
        "fe_b1": common.coefficients[1],
        "fe_se0": common.standard_errors[0],
        "fe_se1": common.standard_errors[1],
        "fe_z1": common.coefficients[1] / common.standard_errors[1],
        "Q_resid": common.q_residual,
        "Q_model": common.q_moderators,
        "Q_total": pool(y, v).q,
    }
    assert common.q_residual + common.q_moderators == pytest.approx(values["Q_total"])
    for between, label in ESTIMATORS.items():
        result = regress(y, v, moderator, between=between)
        adjusted = result.interval_standard_errors[1]
        values |= {
            f"tau2_{label}": result.tau2,
            f"b0_{label}": result.coefficients[0],
            f"b1_{label}": result.coefficients[1],
            f"se0_{label}": result.standard_errors[0],
            f"se1_{label}": result.standard_errors[1],
            f"hk_se1_{label}": adjusted,
            f"hk_t1_{label}": result.coefficients[1] / adjusted,
            f"R2_{label}": result.r2,
        }
        assert result.df.tolist() == [y.size - 2] * 2
        assert result.q_residual == common.q_residual
    check(values, CASES[name])


def test_subgroups_are_a_regression_on_a_yes_or_no():
    # Borenstein et al. (2009) ch. 19: recalled, page not viewed.
    case = CASES["q8-bor-subgroups-fe"]
    y = {g: [study["y"] for study in case["inputs"][g]] for g in "AB"}
    v = {g: [study["v"] for study in case["inputs"][g]] for g in "AB"}
    a, b = (pool(y[g], v[g], between="common") for g in "AB")
    whole = pool(y["A"] + y["B"], v["A"] + v["B"], between="common")
    result = regress(y["A"] + y["B"], v["A"] + v["B"], [0] * 5 + [1] * 5, between="common")
    values = {
        "M_A": a.estimate,
        "V_A": a.standard_error**2,
        "Q_A": a.q,
        "M_B": b.estimate,
        "V_B": b.standard_error**2,
        "Q_B": b.q,
        "M_all": whole.estimate,
        "Q_total": whole.q,
        "Q_within": result.q_residual,
        "Q_between": result.q_moderators,
        "z_diff": result.coefficients[1] / result.standard_errors[1],
        "p": result.p[1],
    }
    check(values, case)
    assert result.coefficients[0] == pytest.approx(a.estimate)
    assert result.q_moderators_p == pytest.approx(result.p[1], rel=1e-9)


def test_against_weighted_least_squares():
    y, v, latitude = data("q8-bcg-latitude-rr")
    result = regress(y, v, latitude)
    fitted = sm.WLS(y, sm.add_constant(latitude), weights=1 / (v + result.tau2)).fit()
    np.testing.assert_allclose(result.coefficients, fitted.params, rtol=1e-9)
    np.testing.assert_allclose(result.interval_standard_errors, fitted.bse, rtol=1e-9)
    np.testing.assert_allclose(result.p, fitted.pvalues, rtol=1e-8)
    np.testing.assert_allclose(np.column_stack([result.low, result.high]), fitted.conf_int())
