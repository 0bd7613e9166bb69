"""Sizes turned into things: the same by simulation, by identity, and at the edges."""

from __future__ import annotations

import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.explaining import sizes
from steelyard.explaining.sizes import Spanned

DRAWS = 400_000
# Three standard errors of a share near one half, in points of 100.
CLOSE = 3 * 100 * 0.5 / DRAWS**0.5


@pytest.fixture(scope="module")
def people():
    """Before and after of two groups, SD 1, r 0.89, the second 0.2 further on."""
    generator = np.random.default_rng(20)
    r, effect, usual = 0.89, 0.2, 0.5
    groups = []
    for gain in (usual, usual + effect):
        before = generator.standard_normal(DRAWS)
        after = r * before + (1 - r**2) ** 0.5 * generator.standard_normal(DRAWS) + gain
        groups.append((before, after))
    return groups


def point(value):
    return Spanned(value, value, value)


def test_who_is_ahead_and_who_gains_more(people):
    (before_b, after_b), (before_a, after_a) = people
    ahead = 100 * (after_a > after_b).mean()
    gains_more = 100 * (after_a - before_a > after_b - before_b).mean()
    assert sizes.chance_of_superiority(point(0.2)).value == pytest.approx(ahead, abs=CLOSE)
    on_gains = sizes.chance_of_superiority(point(0.2), r=0.89).value
    assert on_gains == pytest.approx(gains_more, abs=CLOSE)


def test_people_who_gain_a_worthwhile_amount(people):
    shares = [100 * (after - before >= 0.4).mean() for before, after in people]
    words = {"usual_gain": 0.5, "worthwhile": 0.4, "r": 0.89, "source": "s"}
    anyway = sizes.reaching(point(0.0), **words).value
    with_it = sizes.reaching(point(0.2), **words).value
    assert [anyway, with_it] == pytest.approx(shares, abs=CLOSE)
    more = sizes.people_for_one_more(
        point(sizes.on_change_scale(0.2, r=0.89)), share_anyway=anyway / 100
    )
    assert more.value == pytest.approx(100 / (with_it - anyway), rel=1e-9)


def test_overlap_is_the_shared_area():
    x = np.linspace(-9, 9, 200_001)

    def hill(centre):
        return np.exp(-((x - centre) ** 2) / 2) / (2 * np.pi) ** 0.5

    shared = np.minimum(hill(0), hill(0.7)).sum() * (x[1] - x[0])
    assert sizes.overlap(point(0.7)).value == pytest.approx(100 * shared, abs=1e-3)
    across = sizes.overlap(Spanned(0.1, -0.1, 0.4))
    assert across.high == 100
    assert across.low == pytest.approx(sizes.overlap(point(0.4)).value)


def test_unit_and_back():
    effect = Spanned(0.37, 0.28, 0.47)
    size = sizes.in_unit(effect, reference_sd=44, unit="N", source="here")
    assert (size.value, size.low, size.high) == pytest.approx((16.28, 12.32, 20.68))
    back = sizes.standardised(
        Spanned(size.value, size.low, size.high), reference_sd=44, source="here"
    )
    assert (back.value, back.low, back.high) == pytest.approx((0.37, 0.28, 0.47))
    percent = sizes.percent_of_start(point(size.value), baseline=209, source="here")
    assert percent.value == pytest.approx(100 * 16.28 / 209)


def test_log_ratio_in_the_unit():
    found = sizes.from_log_ratio(point(np.log(1.05)), baseline=20, unit="mm", source="s")
    assert found.value == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("metric", "effect", "with_it"),
    [
        ("risk-ratio", np.log(0.5), 5.0),
        ("odds-ratio", np.log(0.5), 100 * (0.05 / 0.9) / (1 + 0.05 / 0.9)),
        ("risk-difference", -0.03, 7.0),
        ("risk-difference", -0.3, 0.0),
    ],
)
def test_events_out_of_100(metric, effect, with_it):
    found = sizes.with_risk(point(effect), metric=metric, baseline=0.1, source="s")
    assert found.value == pytest.approx(with_it)


def test_rare_events_make_odds_and_risk_alike():
    values = [
        sizes.with_risk(point(np.log(2)), metric=m, baseline=1e-6, source="s").value
        for m in ("risk-ratio", "odds-ratio")
    ]
    assert values[0] == pytest.approx(values[1], rel=1e-5)


def test_weeks():
    found = sizes.weeks_of_usual_training(Spanned(6, 3, 9), gain_per_week=1.5, source="s")
    assert (found.value, found.low, found.high) == (4, 2, 6)


def test_no_effect_needs_endlessly_many():
    assert sizes.people_for_one_better(point(0)).value == float("inf")
    assert sizes.people_for_one_better(point(0)).as_json()["value"] is None


@pytest.mark.parametrize(
    "call",
    [
        lambda: sizes.in_unit(point(1), reference_sd=0, unit="kg", source="s"),
        lambda: sizes.percent_of_start(point(1), baseline=-1, source="s"),
        lambda: sizes.on_change_scale(1, r=1),
        lambda: sizes.people_for_one_more(point(1), share_anyway=1),
        lambda: sizes.with_risk(point(1), metric="risk-ratio", baseline=1.2, source="s"),
        lambda: sizes.with_risk(point(1), metric="raw", baseline=0.2, source="s"),
        lambda: sizes.weeks_of_usual_training(point(1), gain_per_week=0, source="s"),
    ],
)
def test_what_cannot_be_computed_is_refused(call):
    with pytest.raises(DesignError):
        call()
