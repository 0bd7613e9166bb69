"""What risk a study could tell from that of its comparator, against simulation and the normal."""

from __future__ import annotations

import numpy as np
import pytest

from steelyard.effects import Counts, log_risk_ratio
from steelyard.errors import DesignError
from steelyard.pooling import detectable_counts
from steelyard.pooling.detectable_counts import detectable_ratio


@pytest.mark.parametrize(("n", "risk", "fewer"), [(60, 0.3, True), (120, 0.2, False)])
def test_at_the_ratio_found_four_in_five_simulated_studies_tell_it(n, risk, fewer):
    found = detectable_ratio(n_intervention=n, n_comparator=n, risk=risk, fewer=fewer)
    true = risk * np.exp(-found if fewer else found)
    generator = np.random.default_rng(1)
    one, other = generator.binomial(n, true, 40_000), generator.binomial(n, risk, 40_000)
    someone = one + other > 0
    ratio = log_risk_ratio(Counts(one[someone], n), Counts(other[someone], n))
    reach = 1.959964 * np.sqrt(ratio.variance)
    told = ratio.effect + reach < 0 if fewer else ratio.effect - reach > 0
    # A 400th of the risk is one step of the search; the chance of missing by three standard
    # errors of the simulation is below 1 in 300.
    assert told.sum() / 40_000 == pytest.approx(0.8, abs=0.012)


def test_few_people_and_a_small_risk_tell_nothing():
    """22 a group at 1 in 22: with nobody at all in the one group, at most 5 events would be
    needed in the other to leave 1 out, which are rare."""
    assert detectable_ratio(n_intervention=22, n_comparator=22, risk=1 / 22) == np.inf
    alone = log_risk_ratio(Counts(0.0, 22.0), Counts(4.0, 22.0))
    assert alone.effect + 1.96 * alone.variance**0.5 > 0


def test_more_people_tell_less():
    found = [
        detectable_ratio(n_intervention=n, n_comparator=n, risk=0.2) for n in (100, 200, 400, 800)
    ]
    assert found == sorted(found, reverse=True) and np.isfinite(found).all()


def test_with_many_people_both_routes_agree(monkeypatch):
    asked = {"n_intervention": 900, "n_comparator": 900, "risk": 0.25}
    counted = detectable_ratio(**asked)
    monkeypatch.setattr(detectable_counts, "MOST_TABLES", 10)
    assert detectable_ratio(**asked) == pytest.approx(counted, rel=0.03)


@pytest.mark.parametrize(
    "wrong", [{"risk": 0.0}, {"risk": 1.0}, {"n_comparator": 0}, {"power": 1.0}]
)
def test_numbers_out_of_range_are_refused(wrong):
    asked = {"n_intervention": 20, "n_comparator": 20, "risk": 0.2}
    with pytest.raises(DesignError):
        detectable_ratio(**asked | wrong)


def test_a_study_says_what_it_could_have_told(shipped):
    reading = shipped.read("brackwater-2011")
    strains = reading.effects.set_index("outcome").loc["hamstring-strain"]
    assert strains["detectable"] == np.inf
    text = " ".join(reading.findings)
    assert "at a usual risk of 5 in 100, the study would not have told even a fall to 0" in text
    told = reading.as_json()["detectable"][1]
    assert told["at"] is None and told["beyond_reach"]
    ratios = shipped.read("ashlocke-2021")
    assert ratios.effects["detectable"].isna().all()
    assert "not worked out for hamstring strains and any strain" in " ".join(ratios.findings)
