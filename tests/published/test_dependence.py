"""Effects nested in studies, against published examples; sources stand in the data file."""

import json
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm

from steelyard.pooling import pool, pool_nested

TEXT = Path(__file__).with_name("dependence_cases.json").read_text(encoding="utf-8")
CASES = {case["id"]: case for case in json.loads(TEXT)}


def check(values, case, *, leaving=()):
    expected = case["expected"]
    assert set(values) | set(leaving) == set(expected)
    for name, value in values.items():
        wanted = expected[name]
        assert value == pytest.approx(wanted["value"], abs=wanted["tol"]), name
        if "published" in wanted:
            printed = float(wanted["published"])
            assert value == pytest.approx(printed, abs=wanted["published_tol"]), name


@pytest.mark.parametrize("as_matrix", [False, True])
def test_three_level_model(as_matrix):
    # Konstantopoulos (2011): data and figures recalled from secondary literature.
    case = CASES["q7-kon-3level-reml"]
    y, v, district = (np.array(case["inputs"][name]) for name in ("y", "v", "district"))
    result = pool_nested(y, np.diag(v) if as_matrix else v, study=district, robust=False)
    between, within = result.variance_between_studies, result.variance_within_studies
    w = 1 / v
    typical = (y.size - 1) / (w.sum() - (w**2).sum() / w.sum())
    values = {
        "Q": result.q,
        "fe_mean": pool(y, v, between="common").estimate,
        "sigma2_district": between,
        "sigma2_school": within,
        "mean": result.estimate,
        "se": result.standard_error,
        "ci_lo": result.low,
        "ci_hi": result.high,
        "icc": between / (between + within),
        "reml_ll": result.log_likelihood,
        "I2_between": 100 * between / (between + within + typical),
        "I2_within": 100 * within / (between + within + typical),
    }
    check(values, case)
    assert (result.k, result.studies, result.q_df) == (56, 11, 55)


def test_two_level_model_on_the_same_effects():
    case = CASES["q7-kon-2level"]
    result = pool(case["inputs"]["y"], case["inputs"]["v"], interval="normal")
    values = {"tau2": result.tau2, "mean": result.estimate, "se": result.standard_error}
    check(values, case)
    nested = pool_nested(
        case["inputs"]["y"], case["inputs"]["v"], study=case["inputs"]["district"], robust=False
    )
    assert nested.standard_error > 1.9 * result.standard_error


def test_cluster_robust_interval():
    # Pustejovsky & Tipton (2018), Tipton (2015): recomputed from the formula, from memory.
    case = CASES["q7-kon-cr2"]
    y, v, district = (case["inputs"][name] for name in ("y", "v", "district"))
    result = pool_nested(y, v, study=district)
    values = {
        "mean": result.estimate,
        "se_cr2": result.standard_error,
        "df": result.df,
        "ci_lo": result.low,
        "ci_hi": result.high,
    }
    check(values, case, leaving={"se_cr0"})
    # The uncorrected sandwich, from our weights, is the smaller one.
    residual = np.array(y) - result.estimate
    scores = [
        (result.weights * residual)[np.array(district) == label].sum() for label in set(district)
    ]
    uncorrected = np.sqrt(np.sum(np.square(scores)))
    assert uncorrected == pytest.approx(case["expected"]["se_cr0"]["value"], abs=1e-5)


def test_balanced_clusters_are_a_t_test_of_cluster_means():
    # Bell & McCaffrey (2002): an algebraic special case.
    case = CASES["q7-cr2-balanced"]
    y, cluster = case["inputs"]["y"], case["inputs"]["cluster"]
    for variance in (1e-4, 0.01, 0.05):
        result = pool_nested(y, [variance] * 8, study=cluster)
        check({"mean": result.estimate, "se": result.standard_error, "df": result.df}, case)


def test_against_statsmodels_mixed_model():
    """With equal variances the model is a random intercept; statsmodels fits it by REML."""
    rng = np.random.default_rng(6)
    study = np.repeat(np.arange(12), [2, 3, 5, 4, 2, 6, 3, 4, 2, 5, 3, 4])
    y = 0.3 + rng.normal(0, 0.5, 12)[study] + rng.normal(0, 0.6, study.size)
    fitted = sm.MixedLM(y, np.ones(y.size), groups=study).fit(reml=True)
    result = pool_nested(y, np.full(y.size, 0.1), study=study, robust=False)
    # statsmodels stops its search at a relative tolerance of about 1e-5.
    assert result.variance_between_studies == pytest.approx(float(fitted.cov_re[0, 0]), rel=1e-3)
    assert result.variance_within_studies + 0.1 == pytest.approx(fitted.scale, rel=1e-3)
    assert result.estimate == pytest.approx(fitted.fe_params[0], rel=1e-5)
    assert result.standard_error == pytest.approx(fitted.bse_fe[0], rel=1e-3)
