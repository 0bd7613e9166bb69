"""Egger's regression and trim and fill: edges, refusals, invariances and error rates."""

import numpy as np
import pytest
from scipy import stats

from steelyard.errors import DesignError
from steelyard.pooling import pool, small_study_regression, trim_and_fill

RNG = np.random.default_rng(21)
V = RNG.uniform(0.01, 0.3, 15)
Y = 0.2 + 0.8 * np.sqrt(V) + RNG.normal(size=15) * np.sqrt(V)


def test_precision_given_as_one_over_the_standard_error_is_the_default():
    plain = small_study_regression(Y, V)
    given = small_study_regression(Y, V, precision=1 / np.sqrt(V))
    assert (given.intercept, given.p) == (plain.intercept, plain.p)


def test_precision_in_another_unit_changes_no_verdict():
    size = RNG.integers(8, 60, 15)
    one = small_study_regression(Y, V, precision=np.sqrt(size))
    two = small_study_regression(Y, V, precision=10 * np.sqrt(size))
    assert two.t == pytest.approx(one.t, rel=1e-9)
    assert two.limit == pytest.approx(one.limit, rel=1e-9)
    assert two.intercept == pytest.approx(10 * one.intercept, rel=1e-9)


def test_the_interval_of_the_limit_is_that_of_weighted_least_squares():
    """Second way: the constant of the effects on standard errors, weighted by 1/variance."""
    found = small_study_regression(Y, V)
    design = np.column_stack([np.ones(15), np.sqrt(V)])
    whole = np.linalg.inv(design.T @ (design / V[:, None]))
    line = whole @ design.T @ (Y / V)
    scatter = ((Y - design @ line) ** 2 / V).sum() / 13
    reach = stats.t.ppf(0.975, 13) * np.sqrt(scatter * whole[0, 0])
    assert (found.limit_low, found.limit_high) == pytest.approx(
        (line[0] - reach, line[0] + reach), rel=1e-9
    )


def test_shift_moves_the_limit_alone():
    plain, moved = small_study_regression(Y, V), small_study_regression(Y + 2, V)
    assert moved.intercept == pytest.approx(plain.intercept, rel=1e-9)
    assert moved.limit == pytest.approx(plain.limit + 2, rel=1e-9)


def test_error_rate_without_small_study_effects():
    """With one common effect the t test is exact: 5 % of 2,000 sets come out below 0.05."""
    rng = np.random.default_rng(77)
    found = sum(
        small_study_regression(0.3 + rng.normal(size=15) * np.sqrt(V), V).p < 0.05
        for _ in range(2000)
    )
    assert stats.binom.ppf(1e-4, 2000, 0.05) <= found <= stats.binom.ppf(1 - 1e-4, 2000, 0.05)


def test_own_size_as_precision_spares_a_false_alarm():
    """Standardised differences correlate with their own variance; sample size does not.

    Trials of 5 to 30 a side with a large true difference and no selection: the default test
    raises false alarms well above 5 %, the one on sample sizes near it.
    """
    rng = np.random.default_rng(78)
    alarms = {"variance": 0, "size": 0}
    for _ in range(600):
        n = rng.integers(5, 31, 20)
        difference = 1.2 + rng.normal(size=20) * np.sqrt(2 / n)
        sd = np.sqrt(rng.chisquare(2 * n - 2) / (2 * n - 2))
        d = difference / sd
        v = 2 / n + d**2 / (4 * n)
        alarms["variance"] += small_study_regression(d, v).p < 0.05
        alarms["size"] += small_study_regression(d, v, precision=np.sqrt(n / 2)).p < 0.05
    assert alarms["variance"] > 0.12 * 600
    # 95 % of binomial counts at 5 % in 600 lie from 20 to 41 (SciPy, binom.interval).
    low, high = stats.binom.interval(0.95, 600, 0.05)
    assert low <= alarms["size"] <= high


@pytest.mark.parametrize(
    ("effect", "variance", "precision", "words"),
    [
        (Y[:2], V[:2], None, "at least 3 effects"),
        (Y[:4], [0.1] * 4, None, "precisions must differ"),
        (Y, V, [1.0] * 14, "shape"),
        (Y, V, [0.0, *range(1, 15)], "above 0"),
        ([0.3] * 5, V[:5], None, "exactly on a line"),
        (Y, -V, None, "above 0"),
    ],
)
def test_regression_refuses(effect, variance, precision, words):
    with pytest.raises(DesignError, match=words):
        small_study_regression(effect, variance, precision=precision)


def test_notes():
    few = small_study_regression(np.append(Y[:8], np.nan), np.append(V[:8], np.nan))
    assert few.k == 8 and few.df == 6
    assert "1 effect absent and left out" in few.notes
    assert any("fewer than 10" in note for note in few.notes)
    assert "asymmetry" in str(few)


def test_trim_and_fill_by_hand():
    """Worked on paper, with equal variances so that centres are plain means.

    -1, 0, 1, 5: centre 1.25; distances -2.25, -1.25, -0.25, 3.75 have ranks 3, 2, 1, 4. Above
    the centre lies 5 alone: T = 4, L0 = (16 - 20)/7, none missing.

    0, 0.3, 0.5, 0.6, 0.7, 4, 5, 6: centre 2.1375; the three above have ranks 5, 7, 8: T = 20,
    L0 = (80 - 72)/15 = 0.53, one missing. Without 6 the centre is 1.5857 and their ranks 6, 7,
    8: T = 21, L0 = 0.8, one as before. The mirror image of 6 is 2(1.5857) - 6.
    """
    assert trim_and_fill([-1, 0, 1, 5], [1.0] * 4, side="left").added == 0
    effects = [0, 0.3, 0.5, 0.6, 0.7, 4, 5, 6]
    result = trim_and_fill(effects, [1.0] * 8, side="left")
    assert result.added == 1
    assert result.effects[0] == pytest.approx(2 * 11.1 / 7 - 6)
    assert result.estimate == pytest.approx((17.1 + 2 * 11.1 / 7 - 6) / 9)
    assert result.standard_error == pytest.approx(1 / 3)


def test_trim_and_fill_mirrors():
    plain, turned = trim_and_fill(Y, V), trim_and_fill(-Y, V)
    assert turned.added == plain.added
    assert {plain.side, turned.side} == {"left", "right"}
    assert turned.estimate == pytest.approx(-plain.estimate)
    assert turned.low == pytest.approx(-plain.high)


def test_trim_and_fill_undoes_a_plain_cut():
    """Cut the lowest effects from a symmetrical funnel: the filled pool moves back down."""
    v = np.repeat(np.linspace(0.01, 0.25, 15), 2)
    y = 0.3 + np.tile([1.0, -1.0], 15) * np.sqrt(v) * np.tile([1.2, 1.2, 0.5, 0.5], 8)[:30]
    kept = y > -0.02
    assert 3 <= (~kept).sum() <= 10
    cut = pool(y[kept], v[kept], between="common").estimate
    filled = trim_and_fill(y[kept], v[kept])
    assert filled.side == "left" and filled.added >= 3
    assert abs(filled.estimate - 0.3) < abs(cut - 0.3)
    assert (filled.effects < cut).all() and filled.variances.size == filled.added


@pytest.mark.parametrize("between", ["common", "dl", "reml", "pm", "ml"])
def test_trim_and_fill_edges(between):
    same = trim_and_fill([0.3] * 5, [0.1] * 5, between=between)
    assert same.added == 0 and same.estimate == pytest.approx(0.3)
    absent = trim_and_fill(np.append(Y, np.nan), np.append(V, np.nan), between=between)
    assert absent.estimate == trim_and_fill(Y, V, between=between).estimate
    assert absent.notes and "added" in str(absent)


@pytest.mark.parametrize(
    ("options", "words"),
    [({"between": "best"}, "common"), ({"side": "up"}, "left"), ({"level": 3}, "between 0 and 1")],
)
def test_trim_and_fill_refuses(options, words):
    with pytest.raises(DesignError, match=words):
        trim_and_fill(Y, V, **options)
    with pytest.raises(DesignError, match="at least 3"):
        trim_and_fill(Y[:2], V[:2])
