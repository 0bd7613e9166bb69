"""Adjusted tests printed without the adjusted difference, and the r a test is rescaled with."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from steelyard import open_library
from steelyard.effects import (
    PrePost,
    adjusted_difference,
    standardised_adjusted_difference,
    standardised_from_f,
    standardised_from_p,
    standardised_from_t,
)
from steelyard.effects.adjusted_test import correlations_behind, difference_at
from steelyard.errors import DesignError
from tests.small_library import comparison, question, result, study

SLOW = PrePost(20, 104.0, 12.0, 116.0, 14.0, 0.8)
USUAL = PrePost(20, 100.0, 11.0, 107.0, 12.0, 0.8)
RAW = 'metric = "raw"'


def printed_arms(cells="{{ mean = {0}, sd = {1} }}", **more):
    return "".join(
        result(
            name,
            pre=cells.format(arm.pre_mean, arm.pre_sd),
            post=cells.format(arm.post_mean, arm.post_sd),
            **more,
        )
        for name, arm in (("slow", SLOW), ("usual", USUAL))
    )


def only(folder, body, more="", **words):
    study(folder, "one", body, **words)
    question(folder, more=more)
    found = open_library(folder).effect_table("asked")
    assert len(found.rows) == 1, found.left_out
    return found.rows.iloc[0]


def t_of(*arms):
    raw = adjusted_difference(*arms)
    return float(raw.effect / np.sqrt(raw.variance))


@pytest.mark.parametrize("r", [0.0, 0.35, 0.8, 0.97])
@pytest.mark.parametrize("gap", [-6.0, 0.0, 4.0])
def test_the_correlation_behind_a_test_is_found_again(r, gap):
    arms = [replace(SLOW, pre_mean=100.0 + gap, r=r), replace(USUAL, r=r)]
    found = correlations_behind(*arms, t=t_of(*arms))
    assert min(abs(one - r) for one in found) < 1e-6
    for one in found:  # second way: each leads back to the test by the covariance formula
        assert abs(t_of(*(replace(arm, r=one) for arm in arms))) == pytest.approx(
            abs(t_of(*arms)), rel=1e-9
        )


def test_no_correlation_makes_the_arms_differ_so_little():
    assert correlations_behind(SLOW, USUAL, t=0.01) == ()
    with pytest.raises(DesignError, match="size of t"):
        correlations_behind(SLOW, USUAL, t=0.0)


@pytest.mark.parametrize("kind", ["t", "f", "p"])
def test_the_adjusted_difference_not_the_change_counts(tmp_path, kind):
    t = t_of(SLOW, USUAL)
    cells = {"t": t, "f": t**2, "p": 2 * stats.t.sf(t, 37)}
    body = printed_arms() + comparison(adjusted="true", **{kind: f"{cells[kind]:.12f}"})
    truth = adjusted_difference(SLOW, USUAL)
    raw = only(tmp_path / "raw", body, RAW)
    assert raw["effect"] == pytest.approx(truth.effect, rel=1e-6)
    assert raw["variance"] == pytest.approx(truth.variance, rel=1e-6)
    assert (raw["r_from"], raw["flags"], raw["df"]) == ("derived", "", 37)
    assert raw["r_used"] == pytest.approx(0.8, abs=1e-6)
    assert "pre-post r 0.80 from the adjusted test" in raw["route"]
    assert abs(truth.effect - 5) > 0.3  # the change differs by 5, which is not what was tested
    row = only(tmp_path / "standardised", body)
    wanted = standardised_adjusted_difference(SLOW, USUAL)
    assert row["effect"] == pytest.approx(wanted.effect, rel=1e-6)
    assert row["variance"] == pytest.approx(wanted.variance, rel=1e-6)
    assert row["tier"] == "derived"


def test_where_two_correlations_fit_the_nearer_to_the_usual_is_taken_and_told(tmp_path):
    arms = replace(SLOW, r=0.6), replace(USUAL, r=0.6)
    both = correlations_behind(*arms, t=t_of(*arms))
    assert len(both) == 2
    body = printed_arms() + comparison(adjusted="true", t=f"{t_of(*arms):.10f}")
    row = only(tmp_path, body, RAW)
    assert row["r_used"] == pytest.approx(0.6, abs=1e-6)
    assert row["effect"] == pytest.approx(adjusted_difference(*arms).effect, rel=1e-6)
    assert (row["r_from"], row["flags"]) == ("assumed", "assumed r")
    assert f"{both[0]:.2f} and {both[1]:.2f} both fit the adjusted test" in row["assumed"]


def test_a_bound_on_p_assumes_r_for_the_gap_at_the_start(tmp_path):
    body = printed_arms() + comparison(adjusted="true", p='"< 0.05"')
    study(tmp_path, "one", body.replace("post = { mean = 116.0, sd = 14.0 }", "post = {mean=116}"))
    question(tmp_path, more=RAW + '\ncontrast = "adjusted"')
    row = open_library(tmp_path).effect_table("asked").rows.iloc[0]
    # The slow arm's SD after training stands as before: 12; default r 0.85 for strength.
    arms = replace(SLOW, post_sd=12.0), USUAL
    a = difference_at(*arms, r=0.85)
    assert row["effect"] == pytest.approx(a, rel=1e-9)
    assert row["variance"] == pytest.approx((a / stats.t.isf(0.025, 37)) ** 2, rel=1e-9)
    assert {"assumed r", "p as a bound"} == set(row["flags"].split("; "))


def test_arms_that_start_level_need_no_r(tmp_path):
    body = printed_arms().replace("mean = 104.0", "mean = 100.0")
    row = only(tmp_path, body + comparison(adjusted="true", t="2.0"), RAW)
    assert (row["effect"], row["variance"]) == pytest.approx((9.0, 4.5**2))
    assert (row["r_from"], row["flags"]) == ("", "")
    assert "start level" in row["route"]


def test_a_test_that_fits_the_arms_under_no_r_gives_way_to_the_arms(tmp_path):
    row = only(tmp_path, printed_arms() + comparison(adjusted="true", t="0.01"))
    assert row["contrast"] == "change"
    assert "assumed r" in row["flags"]


def test_changes_without_a_start_stand_in_and_say_so(tmp_path):
    body = result("slow", change="{ mean = 9 }") + result("usual", change="{ mean = 4 }")
    row = only(tmp_path, body + comparison(adjusted="true", t="2.5"), RAW)
    assert (row["effect"], row["variance"]) == pytest.approx((5.0, 4.0))
    assert "stands in for the adjusted one" in row["assumed"]


def test_means_after_training_alone_give_no_adjusted_difference(tmp_path):
    body = result("slow", post="{ mean = 9 }") + result("usual", post="{ mean = 4 }")
    study(tmp_path, "one", body + comparison(adjusted="true", t="2.5"))
    question(tmp_path, more=RAW)
    (left,) = open_library(tmp_path).effect_table("asked").left_out
    assert "an adjusted test without means before and after" in left.reason


def test_against_the_raw_data_in_simulation():
    """Trials of 12 a group, printed to one decimal, t to two: the routes' typical errors.

    In units of the adjusted difference's own standard error: by the r behind the test under
    0.1, by an r that is 0.1 too low 0.2 to 0.3, by the difference in changes over 0.3, and from
    t with that r over 1.
    """
    draw = np.random.default_rng(8)
    n, r, off = 12, 0.85, {"solved": [], "assumed": [], "change": [], "from t": []}
    for _ in range(400):
        pre = draw.normal(100, 10, (2, n))
        post = 100 + r * (pre - 100) + draw.normal(0, 10 * math.sqrt(1 - r**2), (2, n))
        post[0] += 5.0
        exact = [
            PrePost(n, a.mean(), a.std(ddof=1), b.mean(), b.std(ddof=1), np.corrcoef(a, b)[0, 1])
            for a, b in zip(pre, post, strict=True)
        ]
        truth = adjusted_difference(*exact)
        se, t = float(np.sqrt(truth.variance)), round(t_of(*exact), 2)
        arms = [
            PrePost(n, *(round(float(getattr(arm, name)), 1) for name in PrePost.__slots__[1:5]), r)
            for arm in exact
        ]
        found = correlations_behind(*arms, t=t)
        if not found:
            continue
        low = r - 0.1
        start = arms[0].pre_mean - arms[1].pre_mean
        routes = {
            "solved": difference_at(*arms, r=min(found, key=lambda one: abs(one - r))),
            "assumed": difference_at(*arms, r=low),
            "change": arms[0].post_mean - arms[1].post_mean - start,
            "from t": t * arms[1].post_sd * math.sqrt((1 - low**2) * 2 / n),
        }
        for name, value in routes.items():
            off[name].append((value - truth.effect) / se)
    typical = {name: float(np.sqrt(np.mean(np.square(values)))) for name, values in off.items()}
    assert len(off["solved"]) > 360
    assert typical["solved"] < 0.1
    assert 0.15 < typical["assumed"] < 0.3
    assert typical["change"] > 0.28
    assert typical["from t"] > 0.9


def test_covariates_cost_degrees_of_freedom():
    sizes = {"n_intervention": 8, "n_comparator": 7}
    p = 2 * stats.t.sf(2.3, 12)
    by_t = standardised_from_t(2.3, covariates=1, **sizes)
    assert by_t.df == 12
    assert by_t.effect == pytest.approx(2.3 * math.sqrt(1 / 8 + 1 / 7) * (1 - 3 / (4 * 12 - 1)))
    for found in (
        standardised_from_p(p, sign=1, covariates=1, **sizes),
        standardised_from_f(2.3**2, sign=1, covariates=1, **sizes),
    ):
        assert found.effect == pytest.approx(by_t.effect, rel=1e-9)
        assert found.variance == pytest.approx(by_t.variance, rel=1e-9)
    plain = standardised_from_p(p, sign=1, **sizes)
    assert plain.effect < 0.997 * by_t.effect  # as it came out on a degree too many
    with pytest.raises(DesignError, match="number of covariates must be at least 0"):
        standardised_from_t(2.3, covariates=-1, **sizes)


# Only the slow arm prints three SDs: r = (12² + 14² − 8.4²)/(2·12·14).
@pytest.mark.parametrize("adjusted", ["true", "false"])
def test_r_from_three_sds_rescales_a_test(tmp_path, adjusted):
    body = result(
        "slow",
        pre="{ mean = 100, sd = 12 }",
        post="{ mean = 109, sd = 14 }",
        change="{ mean = 9, sd = 8.4 }",
    )
    body += comparison(adjusted=adjusted, t="2.2", of='"change"')
    row = only(tmp_path, body)
    r = (144 + 196 - 8.4**2) / (2 * 12 * 14)
    factor = math.sqrt(1 - r**2 if adjusted == "true" else 2 * (1 - r))
    bare = standardised_from_t(
        2.2, n_intervention=20, n_comparator=20, covariates=int(adjusted == "true")
    )
    assert row["r_used"] == pytest.approx(r)
    assert (row["r_from"], row["flags"]) == ("derived", "")
    assert row["effect"] == pytest.approx(bare.effect * factor)
    assert f"pre-post r {r:.2f} derived from the three SDs" in row["route"]


def test_a_resting_arm_has_its_own_assumed_r_in_a_test_too(tmp_path):
    path = study(tmp_path, "one", comparison(t="2.2", of='"change"'))
    text = path.read_text().replace('tags = ["usual"]', 'tags = ["usual", "no-training"]')
    path.write_text(text)
    question(tmp_path)
    row = open_library(tmp_path).effect_table("asked").rows.iloc[0]
    assert row["r_used"] == pytest.approx((0.85 + 0.90) / 2)  # the two defaults for strength
