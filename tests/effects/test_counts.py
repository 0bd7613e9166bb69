import numpy as np
import pytest

from steelyard.effects import Counts, log_odds_ratio, log_risk_ratio, risk_difference
from steelyard.errors import DesignError


def test_zero_cell_adds_one_half_everywhere():
    odds = log_odds_ratio(Counts(0, 20), Counts(4, 20))
    assert odds.effect == pytest.approx(np.log(0.5 * 16.5 / (20.5 * 4.5)), rel=1e-12)
    assert odds.variance == pytest.approx(1 / 0.5 + 1 / 20.5 + 1 / 4.5 + 1 / 16.5, rel=1e-12)
    risk = log_risk_ratio(Counts(0, 20), Counts(4, 20))
    assert risk.effect == pytest.approx(np.log((0.5 / 21) / (4.5 / 21)), rel=1e-12)


def test_only_tables_with_a_zero_are_changed():
    both = log_odds_ratio(Counts([0, 5], [20, 100]), Counts([4, 10], [20, 100]))
    assert both.effect[1] == log_odds_ratio(Counts(5, 100), Counts(10, 100)).effect


def test_everyone_in_one_group_needs_no_change_for_a_risk_ratio():
    found = log_risk_ratio(Counts(20, 20), Counts(10, 20))
    assert found.effect == pytest.approx(np.log(2), rel=1e-12)
    assert found.variance == pytest.approx(1 / 10 - 1 / 20, rel=1e-12)


def test_everyone_in_both_groups():
    assert log_risk_ratio(Counts(20, 20), Counts(15, 15)).variance > 0
    with pytest.raises(DesignError, match="events in everyone in both groups"):
        log_odds_ratio(Counts(20, 20), Counts(15, 15))


def test_risk_difference_keeps_its_effect_and_never_claims_certainty():
    found = risk_difference(Counts(0, 20), Counts(0, 25))
    assert found.effect == 0
    assert found.variance > 0


def test_rare_events_make_odds_and_risk_ratio_agree():
    odds = log_odds_ratio(Counts(30, 10**7), Counts(60, 10**7))
    risk = log_risk_ratio(Counts(30, 10**7), Counts(60, 10**7))
    assert odds.effect == pytest.approx(risk.effect, rel=1e-4)
    assert odds.variance == pytest.approx(risk.variance, rel=1e-4)


def test_risk_difference_variance_in_simulation():
    draw = np.random.default_rng(6)
    first, second = draw.binomial(40, 0.3, 100_000) / 40, draw.binomial(50, 0.5, 100_000) / 50
    found = risk_difference(Counts(12, 40), Counts(25, 50))
    assert np.sqrt(found.variance) == pytest.approx((first - second).std(), rel=0.02)


@pytest.mark.parametrize("formula", [log_risk_ratio, log_odds_ratio])
def test_no_events_at_all(formula):
    with pytest.raises(DesignError, match="no events in both groups at index 1"):
        formula(Counts([3, 0], [20, 20]), Counts([4, 0], [20, 20]))


@pytest.mark.parametrize("formula", [log_risk_ratio, log_odds_ratio, risk_difference])
def test_refusals(formula):
    with pytest.raises(DesignError, match="events of the intervention group"):
        formula(Counts(21, 20), Counts(4, 20))
    with pytest.raises(DesignError, match="events of the comparator group"):
        formula(Counts(2, 20), Counts(-1, 20))
    with pytest.raises(DesignError, match="n of the comparator group must be at least 1"):
        formula(Counts(2, 20), Counts(0, 0))
    with pytest.raises(DesignError, match="zero_cells is 'refuse'"):
        formula(Counts(0, 20), Counts(4, 20), zero_cells="refuse")
