"""Small-study effects against recomputed examples; sources stand in the data file.

No figure in print was at hand for these: values come from the published formulas, by two
routes each.
"""

import json
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm

from steelyard.pooling import small_study_regression, trim_and_fill

TEXT = Path(__file__).with_name("small_study_cases.json").read_text(encoding="utf-8")
CASES = {case["id"]: case for case in json.loads(TEXT)}
REAL = ["q9-bcg", "q9-nicotine"]
LABELS = {"fixed": "common", "random": "dl"}


def given(name):
    case = CASES[name]
    expected = {key: entry["value"] for key, entry in case["expected"].items()}
    return np.array(case["inputs"]["y"]), np.array(case["inputs"]["v"]), expected


def test_every_value_of_the_file_is_read_below():
    egger = {f"egger_{part}" for part in ("intercept", "se", "t", "df", "p", "limit")}
    filled = {f"tf_{label}_L0_{part}" for label in LABELS for part in ("k0", "mean", "se")}
    for name in REAL:
        assert set(CASES[name]["expected"]) == egger | filled | {"tf_side"}
    assert set(CASES) == {*REAL, "q9-symmetric-null"}


@pytest.mark.parametrize("name", REAL)
def test_egger_regression(name):
    y, v, expected = given(name)
    result = small_study_regression(y, v)
    assert result.intercept == pytest.approx(expected["egger_intercept"], rel=1e-6)
    assert result.standard_error == pytest.approx(expected["egger_se"], rel=1e-6)
    assert result.t == pytest.approx(expected["egger_t"], rel=1e-6)
    assert result.df == expected["egger_df"]
    assert result.p == pytest.approx(expected["egger_p"], abs=1e-6)
    assert result.limit == pytest.approx(expected["egger_limit"], abs=1e-6)


@pytest.mark.parametrize("name", REAL)
def test_egger_second_route(name):
    """Weighted regression of the effect on its standard error is the same line."""
    y, v, _ = given(name)
    result = small_study_regression(y, v)
    fitted = sm.WLS(y, sm.add_constant(np.sqrt(v)), weights=1 / v).fit()
    assert result.limit == pytest.approx(fitted.params[0], rel=1e-9)
    assert result.intercept == pytest.approx(fitted.params[1], rel=1e-9)
    assert result.standard_error == pytest.approx(fitted.bse[1], rel=1e-9)
    assert result.p == pytest.approx(fitted.pvalues[1], rel=1e-9)


@pytest.mark.parametrize("name", REAL)
@pytest.mark.parametrize("label", LABELS)
def test_trim_and_fill(name, label):
    y, v, expected = given(name)
    between = LABELS[label]
    result = trim_and_fill(y, v, between=between)
    assert result.added == expected[f"tf_{label}_L0_k0"]
    assert result.side == expected["tf_side"]
    assert result.estimate == pytest.approx(expected[f"tf_{label}_L0_mean"], abs=1e-6)
    assert result.standard_error == pytest.approx(expected[f"tf_{label}_L0_se"], abs=1e-6)


def test_symmetrical_effects():
    y, v, expected = given("q9-symmetric-null")
    assert small_study_regression(y, v).intercept == pytest.approx(0, abs=1e-9)
    for between in ("common", "dl", "reml"):
        assert trim_and_fill(y, v, between=between).added == expected["k0"]
