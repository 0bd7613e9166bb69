"""Mantel–Haenszel pooling: a reference library, few events, bad input."""

import numpy as np
import pytest
from statsmodels.stats.contingency_tables import StratifiedTable

from steelyard.errors import DesignError
from steelyard.pooling.mantel_haenszel import mantel_haenszel

# Nicotine gum trials (Silagy et al.), as given in Everitt & Hothorn, A Handbook of Statistical
# Analyses, ch. 12; open data, seen. Columns: quit and n with gum, quit and n without.
NICOTINE_GUM = np.array(
    [
        *((37, 92, 24, 90), (21, 107, 21, 105), (30, 50, 23, 50), (23, 180, 15, 172)),
        *((21, 68, 5, 38), (75, 405, 17, 203), (37, 131, 6, 46), (18, 41, 10, 36)),
        *((30, 71, 14, 68), (24, 98, 28, 103), (31, 106, 16, 100), (31, 54, 11, 60)),
        *((22, 58, 9, 58), (90, 211, 28, 82), (16, 44, 6, 20), (129, 600, 112, 617)),
        *((6, 73, 3, 121), (51, 146, 40, 127), (13, 30, 5, 30), (5, 84, 4, 89)),
        *((75, 206, 50, 211), (29, 116, 21, 113), (9, 30, 6, 30), (23, 60, 12, 53)),
        *((11, 21, 10, 26), (23, 58, 18, 58)),
    ],
    dtype=float,
).T


def _stratified(a, n1, c, n2):
    tables = zip(a, n1, c, n2, strict=True)
    return StratifiedTable([np.array([[w, x - w], [y, z - y]]) for w, x, y, z in tables])


def test_against_a_reference_library():
    found = mantel_haenszel(*NICOTINE_GUM)
    table = _stratified(*NICOTINE_GUM)
    assert found.estimate == pytest.approx(table.logodds_pooled, rel=1e-12)
    assert found.standard_error == pytest.approx(table.logodds_pooled_se, rel=1e-12)
    ratio = mantel_haenszel(*NICOTINE_GUM, measure="risk-ratio")
    assert ratio.ratio == pytest.approx(table.riskratio_pooled, rel=1e-12)


def test_one_study_is_its_own_table():
    one = mantel_haenszel([5], [100], [10], [100])
    assert one.ratio == pytest.approx(5 * 90 / (95 * 10), rel=1e-12)
    assert one.standard_error == pytest.approx(np.sqrt(1 / 5 + 1 / 95 + 1 / 10 + 1 / 90), rel=1e-12)
    risk = mantel_haenszel([5], [100], [10], [100], measure="risk-ratio")
    error = np.sqrt(1 / 5 - 1 / 100 + 1 / 10 - 1 / 100)
    assert risk.standard_error == pytest.approx(error, rel=1e-12)
    gap = mantel_haenszel([5], [100], [10], [100], measure="risk-difference")
    assert gap.estimate == pytest.approx(-0.05, rel=1e-12)
    assert gap.standard_error == pytest.approx(
        np.sqrt(0.05 * 0.95 / 100 + 0.1 * 0.9 / 100), rel=1e-12
    )


def test_swapping_the_groups_turns_the_sign():
    a, n1, c, n2 = NICOTINE_GUM
    for measure in ("odds-ratio", "risk-ratio", "risk-difference"):
        there = mantel_haenszel(a, n1, c, n2, measure=measure)
        back = mantel_haenszel(c, n2, a, n1, measure=measure)
        assert back.estimate == pytest.approx(-there.estimate, rel=1e-12)
        assert back.standard_error == pytest.approx(there.standard_error, rel=1e-12)


def test_empty_cells_need_no_help_and_silent_studies_change_nothing():
    few = mantel_haenszel([0, 2, 1, 0], [20, 20, 20, 20], [2, 3, 0, 0], [20, 20, 20, 20])
    without = mantel_haenszel([0, 2, 1], [20, 20, 20], [2, 3, 0], [20, 20, 20])
    assert few.estimate == without.estimate
    assert (few.without_events, few.one_sided, few.k) == (1, 2, 3)
    assert "nothing added" in str(few)
    half = mantel_haenszel([0, 2, 1], [20] * 3, [2, 3, 0], [20] * 3, continuity="half")
    assert "2 studies" in half.continuity
    assert half.estimate != few.estimate


@pytest.mark.parametrize("measure", ["odds-ratio", "risk-ratio", "risk-difference"])
def test_interval_covers_the_truth_with_few_events(measure):
    # 95 % nominal; 600 sets of 12 studies with about three events a group; a binomial count
    # of misses has SD 0.9 points, and the normal interval is known to be a little off at
    # few events, so 92.5 to 98 % is let through.
    rng = np.random.default_rng(5)
    n, base, effect = 40, 0.10, 0.65
    odds = effect * base / (1 - base)
    risk = {"odds-ratio": odds / (1 + odds), "risk-ratio": effect * base}.get(measure, base - 0.03)
    truth = -0.03 if measure == "risk-difference" else np.log(effect)
    inside = 0
    for _ in range(600):
        a, c = rng.binomial(n, risk, 12), rng.binomial(n, base, 12)
        found = mantel_haenszel(a, [n] * 12, c, [n] * 12, measure=measure)
        inside += found.low <= truth <= found.high
    assert 0.925 <= inside / 600 <= 0.98


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        (([5], [4], [1], [4]), "from 0 to n"),
        (([-1], [4], [1], [4]), "from 0 to n"),
        (([0], [4], [0], [4]), "both people with"),
        (([0, 0], [4, 5], [1, 2], [4, 5]), "event on each side"),
        (([1], [4, 5], [1], [4]), "equally long"),
    ],
)
def test_counts_that_hold_no_ratio_are_refused(counts, words):
    with pytest.raises(DesignError, match=words):
        mantel_haenszel(*counts)
