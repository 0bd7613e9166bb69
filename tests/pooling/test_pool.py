"""Edges, refusals and the results' promises."""

import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.pooling import pool, pool_many

Y = [0.10, 0.42, -0.05, 0.61, 0.30]
V = [0.04, 0.09, 0.02, 0.12, 0.05]
BETWEEN = ["reml", "dl", "pm", "ml", "common"]


@pytest.mark.parametrize("between", BETWEEN)
def test_one_study_keeps_its_own_normal_interval(between):
    result = pool([0.4], [0.09], between=between)
    assert result.estimate == 0.4
    # 1.959963984540054 is the 97.5 % point of the normal distribution (any table).
    assert result.high - 0.4 == pytest.approx(1.959963984540054 * 0.3, rel=1e-12)
    assert (result.tau2, result.i2, result.q, result.q_df, result.k) == (0, 0, 0, 0, 1)
    assert np.isnan([result.tau2_low, result.tau2_high, result.prediction_low, result.q_p]).all()
    assert result.interval == "normal" and result.df == np.inf
    assert result.weights.tolist() == [1.0]
    assert between == "common" or "one study" in result.notes[0]
    assert pool(0.4, 0.09, between=between).low == result.low


def test_two_studies():
    result = pool([0.1, 0.9], [0.04, 0.04])
    # Equal variances: Knapp-Hartung is the one-sample t interval; t(1) at 97.5 % is 12.706
    # (any table), the standard error of the mean of 0.1 and 0.9 is 0.4.
    assert result.estimate == pytest.approx(0.5)
    assert result.high - result.estimate == pytest.approx(12.7062 * 0.4, rel=1e-5)
    assert result.tau2 == pytest.approx(0.32 - 0.04)  # sample variance less 0.04
    assert np.isnan(result.prediction_low)
    assert any("no prediction interval" in note for note in result.notes)


@pytest.mark.parametrize("between", BETWEEN)
def test_identical_effects(between):
    result = pool([0.3] * 4, [0.01, 0.02, 0.03, 0.04], between=between)
    assert result.estimate == pytest.approx(0.3, rel=1e-14)
    assert (result.tau2, result.q, result.i2) == (0, 0, 0)
    common_error = (1 / (100 + 50 + 100 / 3 + 25)) ** 0.5
    assert result.standard_error == pytest.approx(common_error)
    assert result.high - 0.3 == pytest.approx(1.959963984540054 * common_error)
    if between != "common":
        assert any("narrower than the common-effect interval" in note for note in result.notes)
        assert any("zero alone" in note for note in result.notes)


def test_effects_that_differ_by_next_to_nothing():
    result = pool([0.0, 8e-155], [1.0, 1.0])
    assert result.i2 == 0 and result.tau2 == 0


def test_knapp_hartung_may_shrink_only_when_asked():
    agreeing = [0.30, 0.31, 0.29, 0.30]
    variances = [0.02, 0.03, 0.04, 0.05]
    free = pool(agreeing, variances, allow_narrower=True)
    held = pool(agreeing, variances)
    common = pool(agreeing, variances, between="common")
    assert free.high - free.low < common.high - common.low
    assert held.high - held.low == pytest.approx(common.high - common.low)
    assert held.df == np.inf and free.df == 3


@pytest.mark.parametrize("ratio", [1e6, 1e9, 1e12])
@pytest.mark.parametrize("between", BETWEEN)
def test_one_huge_study(ratio, between):
    v = np.array([0.04 / ratio, 0.05, 0.06, 0.04, 0.07, 0.05])
    y = np.array([0.1, 0.6, -0.5, 0.9, 0.3, -0.2])
    result = pool(y, v, between=between)
    assert np.isfinite([result.estimate, result.low, result.high, result.tau2]).all()
    assert result.weights.sum() == pytest.approx(1)
    if between == "common":
        assert result.estimate == pytest.approx(0.1, abs=1e-4)
    if between in ("reml", "ml"):
        # Second route: a fine grid over the likelihood, written out plainly.
        grid = np.append(np.linspace(0, 1, 4001), result.tau2)
        w = 1 / (v[:, None] + grid)
        mean = (w * (y[:, None] - 0.1)).sum(axis=0) / w.sum(axis=0)
        height = np.log(w).sum(axis=0) - (w * (y[:, None] - 0.1 - mean) ** 2).sum(axis=0)
        if between == "reml":
            height -= np.log(w.sum(axis=0))
        assert height[-1] >= height[:-1].max() - 1e-9
    if between == "pm":
        w = 1 / (v + result.tau2)
        mean = (w * (y - 0.1)).sum() / w.sum()
        assert (w * (y - 0.1 - mean) ** 2).sum() == pytest.approx(5, rel=1e-9)


def test_absent_effects_are_left_out_and_said():
    result = pool([*Y[:2], np.nan, *Y[2:]], [*V[:2], np.nan, *V[2:]])
    without = pool(Y, V)
    assert result.estimate == pytest.approx(without.estimate, rel=1e-14)
    assert result.k == 5 and result.weights[2] == 0 and result.weights.size == 6
    assert "1 effect of 6 absent and left out (index 2)" in result.notes


@pytest.mark.parametrize(
    ("effect", "variance", "options", "words"),
    [
        ([], [], {}, "at least one value"),
        ([np.nan], [0.1], {}, "at least one value"),
        ([0.1, 0.2], [0.1, 0.0], {}, r"variance\[1\] = 0"),
        ([0.1, 0.2], [-0.5, 0.1], {}, r"variance\[0\] = -0.5"),
        ([0.1, 0.2], [0.1, np.inf], {}, r"variance\[1\] = inf"),
        ([0.1, 0.2], [np.nan, 0.1], {}, r"variance\[0\] = nan"),
        ([0.1, np.inf], [0.1, 0.1], {}, r"effect\[1\] = inf"),
        ([0.1, 0.2], [0.1], {}, "same shape"),
        ([[0.1, 0.2]], [[0.1, 0.2]], {}, "1 dimension"),
        (["a"], [0.1], {}, "must be numbers"),
        (Y, V, {"between": "best"}, "reml, dl, pm, ml, common"),
        (Y, V, {"interval": "wide"}, "knapp-hartung, normal"),
        (Y, V, {"level": 95}, "between 0 and 1"),
        (Y, V, {"level": 0}, "between 0 and 1"),
        (Y, V, {"level": float("nan")}, "between 0 and 1"),
        (Y, V, {"level": "high"}, "between 0 and 1"),
        ([0.0, 1e200], [1e-200, 1.0], {}, "near enough in size"),
    ],
)
def test_refusals_name_the_rule_and_the_value(effect, variance, options, words):
    with pytest.raises(DesignError, match=words):
        pool(effect, variance, **options)


def test_pool_many_names_the_place():
    with pytest.raises(DesignError, match=r"variances\[1, 0\] = -1"):
        pool_many([[0.1, 0.2], [0.3, 0.4]], [[0.1, 0.2], [-1, 0.4]])


def test_common_effect_takes_the_normal_interval():
    result = pool(Y, V, between="common")
    assert result.interval == "normal"
    assert np.isnan([result.prediction_low, result.tau2_low, result.tau2_high]).all()
    assert any("normal interval" in note for note in result.notes)
    assert len(pool(Y, V, between="common", interval="normal").notes) == 1


def test_interval_is_estimate_and_standard_error():
    from scipy import stats

    for between in BETWEEN:
        for interval in ("knapp-hartung", "normal"):
            r = pool(Y, V, between=between, interval=interval, level=0.9)
            quantile = stats.norm.ppf(0.95) if r.df == np.inf else stats.t.ppf(0.95, r.df)
            assert r.low == pytest.approx(r.estimate - quantile * r.standard_error)
            assert r.high == pytest.approx(r.estimate + quantile * r.standard_error)


def test_prediction_holds_the_interval_for_the_mean():
    # tau2 is zero here while Q exceeds k - 1, so the formula alone would be the narrower one.
    y = [0.03, 0.9, 0.35, 0.28, 0.3, -0.33, 0.3, 0.31, 0.29, 0.3, 0.3, 0.31]
    v = [0.002, 0.07, 0.08, 0.2, 0.1, 0.09, 0.02, 0.03, 0.02, 0.03, 0.02, 0.02]
    for between in ("reml", "ml", "dl"):
        result = pool(y, v, between=between, allow_narrower=True)
        assert result.prediction_low <= result.low < result.high <= result.prediction_high


def test_result_shows_and_cannot_be_changed():
    result = pool(Y, V)
    text = str(result)
    assert "95 % interval" in text and "REML; Knapp–Hartung" in text and "5 effects" in text
    assert "<table" in result._repr_html_()
    assert "no prediction interval" in str(pool([0.1], [0.1]))
    with pytest.raises(AttributeError):
        result.estimate = 1.0
    assert not hasattr(result, "__dict__")
