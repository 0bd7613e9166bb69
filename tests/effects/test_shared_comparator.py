"""What effects of one study have in common through their comparator arm."""

from __future__ import annotations

import math

import numpy as np
import pytest

from steelyard.effects import (
    Counts,
    log_odds_ratio,
    log_risk_ratio,
    risk_difference,
    shared_control_covariance,
    shared_control_covariance_raw,
    study_covariance,
)
from steelyard.effects.counts import comparator_part
from steelyard.effects.small_sample import correction_factor
from tests.small_library import SLOW, THIRD, USUAL, only, result, table


def correction(df):
    return float(correction_factor(df, correction="approximate"))


def share(variance, part, *, second=("slow", "also"), outcome=("peak", "peak"), r=0.6):
    return study_covariance(
        variance,
        intervention_arm=list(second),
        comparator_arm=["usual", "usual"],
        n_intervention=[20, 20],
        n_comparator=[20, 20],
        outcome=list(outcome),
        week=[12, 12],
        r_between_outcomes=r,
        comparator_variance=part,
    )


def test_shared_comparator_of_counts_is_exact_in_the_pool(tmp_path):
    # 10/20 and 10/20 against 1/20: each log risk ratio has variance 1/10 − 1/20 + 1/1 − 1/20 = 1,
    # of which 0.95 from the comparator; their mean has (1 + 1 + 2 × 0.95)/4 = 0.975.
    body = result("slow", events="10") + result("also", events="10") + result("usual", events="1")
    found = table(tmp_path, THIRD + body, 'metric = "risk-ratio"', better="lower").rows
    assert list(found["variance"]) == pytest.approx([1.0, 1.0])
    assert list(found["comparator_variance"]) == pytest.approx([0.95, 0.95])
    covariance = share(found["variance"], found["comparator_variance"])
    assert covariance.mean() == pytest.approx(0.975)
    assert share([1.0, 1.0], None).mean() == pytest.approx(0.75)


@pytest.mark.parametrize(
    ("metric", "effect"),
    [
        ("risk-ratio", log_risk_ratio),
        ("odds-ratio", log_odds_ratio),
        ("risk-difference", risk_difference),
    ],
)
def test_the_two_parts_of_a_count_variance_add_up(metric, effect):
    for one, other in (((5, 20), (8, 30)), ((0, 20), (3, 20)), ((4, 9), (0, 12)), ((9, 9), (2, 9))):
        pair = Counts(*one), Counts(*other)
        parts = [comparator_part(*order, metric=metric) for order in (pair, pair[::-1])]
        assert sum(parts) == pytest.approx(float(effect(*pair).variance))


def test_covariance_of_counts_in_simulation():
    draws = np.random.default_rng(3)
    slow, also, usual = (
        draws.binomial(400, 0.4, (2, 40_000)),
        None,
        draws.binomial(400, 0.1, 40_000),
    )
    slow, also = slow
    one, other = (log_risk_ratio(Counts(a, 400), Counts(usual, 400)).effect for a in (slow, also))
    part = comparator_part(Counts(160.0, 400.0), Counts(40.0, 400.0), metric="risk-ratio")
    assert np.cov(one, other)[0, 1] == pytest.approx(part, rel=0.05)


def test_raw_differences_share_the_comparators_own_variance(tmp_path):
    body = result("slow", post="{ mean = 38, sd = 5 }") + result(
        "also", post="{ mean = 36, sd = 6 }"
    )
    body += result("usual", post="{ mean = 30, sd = 20 }")
    found = table(tmp_path, THIRD + body, 'metric = "raw"\ncontrast = "post"').rows
    exact = shared_control_covariance_raw(found["variance"], control_sd=20, n_control=20)
    assert share(found["variance"], found["comparator_variance"]) == pytest.approx(exact)
    by_numbers = share(found["variance"], None)
    assert by_numbers[0, 1] < 0.6 * exact[0, 1]


def test_standardised_differences_share_to_first_order_in_g(tmp_path):
    body = "".join(result(arm, post="{ mean = 30, sd = 8 }") for arm in ("slow", "also", "usual"))
    found = table(tmp_path / "a", THIRD + body, 'contrast = "post"').rows
    exact = shared_control_covariance([0.0, 0.0], n_intervention=[20, 20], n_control=20)
    factor = correction(38) ** 2
    covariance = share(found["variance"], found["comparator_variance"])
    assert covariance == pytest.approx(factor * exact)
    # With r, as changes: 2(1 − r)/n_C, here times f/(f − 2) for the SD divided by.
    body = "".join(
        result(arm, pre="{ mean = 30, sd = 8 }", post="{ mean = 33 }", r="0.7")
        for arm in ("slow", "also", "usual")
    )
    found = table(tmp_path / "b", THIRD + body).rows
    exact = shared_control_covariance(
        [0.0, 0.0], n_intervention=[20, 20], n_control=20, r_pre_post=0.7
    )
    covariance = share(found["variance"], found["comparator_variance"])
    assert covariance == pytest.approx(factor * 38 / 36 * exact)


def test_adjusted_and_percent_rows_know_their_comparators_part(tmp_path):
    for name, more in (("a", 'contrast = "adjusted"'), ("p", 'metric = "percent"')):
        row = only(tmp_path / name, SLOW + USUAL, more)
        turned = SLOW.replace("slow", "x").replace("usual", "slow") + USUAL.replace("usual", "slow")
        turned = turned.replace('"x"', '"usual"')
        other = only(tmp_path / f"{name}-turned", turned, more)
        parts = row["comparator_variance"] + other["comparator_variance"]
        assert parts <= row["variance"] * (1 + 1e-12)
        assert parts == pytest.approx(row["variance"], rel=0.1)


def test_covariance_stays_positive_semi_definite_whatever_is_known():
    draws = np.random.default_rng(8)
    for _ in range(300):
        m = int(draws.integers(2, 7))
        variance = draws.uniform(0.01, 2, m)
        part = np.where(draws.random(m) < 0.3, np.nan, variance * draws.uniform(0, 1.3, m))
        arms = [str(x) for x in draws.integers(0, 3, m)]
        covariance = study_covariance(
            variance,
            intervention_arm=[f"t{x}" for x in arms],
            comparator_arm=[f"c{x}" for x in draws.integers(0, 2, m)],
            n_intervention=draws.integers(5, 40, m),
            n_comparator=draws.integers(5, 40, m),
            outcome=[str(x) for x in draws.integers(0, 2, m)],
            week=draws.integers(1, 3, m),
            r_between_outcomes=float(draws.random()),
            comparator_variance=part,
        )
        assert np.linalg.eigvalsh(covariance).min() > -1e-12
        assert np.diag(covariance) == pytest.approx(variance)


def test_unknown_parts_leave_the_share_by_numbers():
    by_numbers = share([0.1, 0.2], None)
    assert share([0.1, 0.2], [np.nan, np.nan]) == pytest.approx(by_numbers)
    other = share([0.1, 0.2], [0.05, 0.1], outcome=("peak", "lift"), r=0.6)
    assert other[0, 1] == pytest.approx(0.6 * math.sqrt(0.05 * 0.1))


def test_the_comparators_part_is_widened_with_the_variance(tmp_path):
    words = {"kind": "cluster", "design_more": "cluster_size = 11\ncluster_icc = 0.1"}
    row = only(tmp_path / "a", SLOW + USUAL, 'metric = "raw"', **words)
    plain = only(tmp_path / "b", SLOW + USUAL, 'metric = "raw"')
    assert row["comparator_variance"] == pytest.approx(2 * plain["comparator_variance"])
