"""Two one-sided tests: against the interval, raw data and another library."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.weightstats import ttost_ind

from steelyard.errors import DesignError
from steelyard.pooling import (
    equivalence,
    equivalence_of_groups,
    equivalence_of_interval,
    equivalence_of_pool,
    pool,
)

SENSIBLE = {"margin": st.floats(0.01, 3), "df": st.sampled_from([1.0, 4.0, 30.0, np.inf])}


@given(estimate=st.floats(-3, 3), error=st.floats(0.01, 2), **SENSIBLE)
def test_interval_and_p_say_the_same(estimate, error, margin, df):
    result = equivalence(estimate, error, margin=margin, df=df)
    if abs(result.p - 0.05) > 1e-9:
        assert (result.p < 0.05) == (-margin < result.low and result.high < margin)
    assert result.wide_low <= result.low <= estimate <= result.high <= result.wide_high
    if result.verdict.word == "equivalent":
        assert result.p < 0.05
    if result.p < 0.05:
        assert result.verdict.word == "equivalent"


@given(estimate=st.floats(-3, 3), error=st.floats(0.01, 2), **SENSIBLE)
def test_turning_the_sign_turns_the_answer(estimate, error, margin, df):
    one = equivalence(estimate, error, margin=margin, df=df)
    other = equivalence(-estimate, error, margin=margin, df=df)
    assert one.p == pytest.approx(other.p) and one.p_lower == pytest.approx(other.p_upper)
    turned = {"better": "worse", "worse": "better"}
    word = other.verdict.word
    assert one.verdict.word == turned.get(word, word)


@pytest.mark.parametrize("equal", [True, False])
def test_summaries_give_what_raw_data_give(equal):
    rng = np.random.default_rng(11)
    a, b = rng.normal(10, 2, 23), rng.normal(10.3, 3, 17)
    ours = equivalence_of_groups(
        means=(a.mean(), b.mean()),
        sds=(a.std(ddof=1), b.std(ddof=1)),
        ns=(23, 17),
        margin=1.5,
        equal_variances=equal,
    )
    p, lower, upper = ttost_ind(a, b, -1.5, 1.5, usevar="pooled" if equal else "unequal")
    assert ours.p == pytest.approx(p, rel=1e-10)
    assert ours.against_lower == pytest.approx(lower[0], rel=1e-10)
    assert ours.against_upper == pytest.approx(upper[0], rel=1e-10)
    assert ours.df == pytest.approx(lower[2], rel=1e-10)


def test_margin_in_standard_deviations():
    groups = {"means": (5.0, 4.8), "sds": (1.0, 1.0), "ns": (40, 40)}
    in_sd = equivalence_of_groups(**groups, margin=0.5, margin_in="sd")
    assert in_sd.p == equivalence_of_groups(**groups, margin=0.5).p
    doubled = equivalence_of_groups(
        means=(10.0, 9.6), sds=(2.0, 2.0), ns=(40, 40), margin=0.5, margin_in="sd"
    )
    assert doubled.margin == pytest.approx(1.0) and doubled.p == pytest.approx(in_sd.p)


@pytest.mark.parametrize("interval", ["knapp-hartung", "normal"])
def test_tests_of_a_pool_never_disagree_with_its_intervals(interval):
    """Pools that agree by chance, where the common-effect width counts at 90 % and not at 95 %.

    Second route for the equality: an interval of t or z inside the margin is p below 5 %.
    """
    rng = np.random.default_rng(20)
    contradicted = 0
    for _ in range(1500):
        k = rng.integers(2, 10)
        v = rng.uniform(0.01, 0.1, k)
        y = rng.normal(0, np.sqrt(v * rng.uniform(0.2, 1.2)))
        wide, ninety = (pool(y, v, interval=interval, level=level) for level in (0.95, 0.90))
        tests = equivalence_of_pool(ninety, wide=wide, margin=0.2)
        inside = -0.2 < ninety.low and ninety.high < 0.2
        assert (tests.p < 0.05) == inside == (tests.verdict.word == "equivalent")
        assert (tests.low, tests.high) == (ninety.low, ninety.high)
        assert (tests.wide_low, tests.wide_high) == (wide.low, wide.high)
        from_wide = equivalence(wide.estimate, wide.standard_error, margin=0.2, df=wide.df)
        contradicted += (from_wide.p < 0.05) != inside
    # The fit at 95 % would have contradicted some of them; the normal interval has no floor.
    assert (contradicted > 0) == (interval == "knapp-hartung")


def test_levels_of_the_two_fits_must_go_together():
    y, v = [0.1, -0.1, 0.05], [0.02, 0.03, 0.02]
    with pytest.raises(DesignError, match=r"wide must be pooled at level 0\.95"):
        equivalence_of_pool(pool(y, v, level=0.9), wide=pool(y, v, level=0.9), margin=0.2)


def test_shows_the_answer():
    text = str(equivalence(0.0, 0.05, margin=0.2))
    assert "about the same" in text and "90 % interval" in text


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: equivalence(0.1, 0, margin=0.2), "standard_error must be above 0"),
        (lambda: equivalence(0.1, 0.1, margin=-1), "margin must be above 0"),
        (lambda: equivalence(np.nan, 0.1, margin=1), "estimate must be finite"),
        (lambda: equivalence("x", 0.1, margin=1), "estimate must be one number"),
        (lambda: equivalence(0.1, 0.1, margin=1, alpha=0.7), "alpha must lie between"),
        (lambda: equivalence(0.1, 0.1, margin=1, df=-2), "df must be above 0"),
        (lambda: equivalence_of_interval(0.3, 0.1, margin=1), "low must lie below high"),
        (
            lambda: equivalence_of_groups(means=(1, 2), sds=(1, 1), ns=(9, 1), margin=1),
            "each n must be a whole number at least 2",
        ),
        (
            lambda: equivalence_of_groups(means=1, sds=(1, 1), ns=(9, 9), margin=1),
            "means must be two numbers",
        ),
    ],
)
def test_refusals(call, words):
    with pytest.raises(DesignError, match=words):
        call()
