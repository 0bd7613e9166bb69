import numpy as np
import pytest
from scipy import stats

from steelyard.effects import (
    Group,
    difference_from_f,
    difference_from_p,
    difference_from_t,
    from_interval,
    from_standard_error,
    standardised_difference,
    standardised_from_f,
    standardised_from_p,
    standardised_from_t,
    standardised_from_value,
)
from steelyard.errors import DesignError

FIRST, SECOND = Group(12, 40.0, 6.0), Group(15, 36.0, 5.0)
SIZES = {"n_intervention": 12, "n_comparator": 15}


@pytest.fixture
def student():
    """Student's t test of the two groups by scipy."""
    return stats.ttest_ind_from_stats(40.0, 6.0, 12, 36.0, 5.0, 15)


@pytest.fixture
def direct():
    return standardised_difference(FIRST, SECOND)


def test_every_test_statistic_leads_back_to_the_means_and_sds(student, direct):
    t, p = student.statistic, student.pvalue
    routes = [
        standardised_from_t(t, **SIZES),
        standardised_from_f(t**2, sign=1, **SIZES),
        standardised_from_p(p, sign=1, **SIZES),
        standardised_from_p(p / 2, sign=1, sides=1, **SIZES),
    ]
    for found in routes:
        assert found.effect == pytest.approx(direct.effect, rel=1e-9)
        assert found.variance == pytest.approx(direct.variance, rel=1e-9)


def test_sign_turns_the_effect(student, direct):
    found = standardised_from_p(student.pvalue, sign=-1, **SIZES)
    assert found.effect == pytest.approx(-direct.effect, rel=1e-9)


def test_every_test_statistic_gives_one_standard_error(student):
    t, p = student.statistic, student.pvalue
    se = 4.0 / t
    for found in (
        difference_from_t(4.0, t=t, df=25),
        difference_from_f(4.0, f=t**2, df=25),
        difference_from_p(4.0, p=p, df=25),
        difference_from_p(-4.0, p=p, df=25),
    ):
        assert np.sqrt(found.variance) == pytest.approx(se, rel=1e-9)


@pytest.mark.parametrize("level", [0.9, 0.95, 0.99])
@pytest.mark.parametrize("df", [None, 25])
def test_interval_there_and_back(level, df):
    quantile = stats.norm.ppf((1 + level) / 2) if df is None else stats.t.ppf((1 + level) / 2, df)
    found = from_interval(4.0, low=4 - quantile * 1.7, high=4 + quantile * 1.7, level=level, df=df)
    assert np.sqrt(found.variance) == pytest.approx(1.7, rel=1e-10)


def test_standard_error_squared():
    assert from_standard_error(0.4, standard_error=0.2).variance == pytest.approx(0.04)


def test_value_alone_matches_the_formula_for_d():
    d = standardised_difference(FIRST, SECOND, correction="none")
    assert standardised_from_value(d.effect, **SIZES).variance == pytest.approx(d.variance)


@pytest.mark.parametrize("p", ["NS", "p > 0.05", "< 0.05", 0.0, 1.0, 1.4, -0.1])
def test_p_must_be_exact(p):
    with pytest.raises(DesignError, match="p must"):
        standardised_from_p(p, sign=1, **SIZES)
    with pytest.raises(DesignError, match="p must"):
        difference_from_p(4.0, p=p, df=25)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: from_interval(4.0, low=5.0, high=3.0), "width of the interval"),
        (lambda: from_interval(6.0, low=3.0, high=5.0), "value must not exceed high"),
        (lambda: from_interval(4.0, low=3.0, high=5.0, level=95), "level must lie strictly"),
        (lambda: from_standard_error(4.0, standard_error=0.0), "standard error must be greater"),
        (lambda: difference_from_t(4.0, t=0.0, df=25), "size of t"),
        (lambda: difference_from_t(0.0, t=2.0, df=25), "size of the difference"),
        (lambda: difference_from_f(4.0, f=-1.0, df=25), "F must be greater than 0"),
        (lambda: standardised_from_f(4.0, sign=2, **SIZES), "sign must be 1 or -1"),
        (lambda: standardised_from_p(0.03, sign=1, sides=3, **SIZES), "sides must be one of"),
        (
            lambda: standardised_from_t(2.0, n_intervention=1, n_comparator=9),
            "n of the intervention group must be at least 2; got 1",
        ),
    ],
)
def test_refusals(call, message):
    with pytest.raises(DesignError, match=message):
        call()
