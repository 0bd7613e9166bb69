import numpy as np
import pytest
from scipy import stats

from steelyard.errors import DesignError
from steelyard.reporting import (
    bounded_p,
    read_p,
    sd_from_p,
    sd_of_change_from_p,
    sd_of_change_from_t,
    se_from_f,
    se_from_p,
    se_from_t,
)

PRE = np.array([212.0, 240.0, 198.0, 255.0, 221.0, 230.0, 205.0])
POST = np.array([225.0, 251.0, 219.0, 262.0, 240.0, 236.0, 214.0])


def test_paired_t_and_p_of_raw_scores_lead_back_to_the_sd_of_change():
    test = stats.ttest_rel(POST, PRE)
    change = (POST - PRE).mean()
    sd = (POST - PRE).std(ddof=1)
    assert sd_of_change_from_t(change, t=test.statistic, n=7).value == pytest.approx(sd)
    assert sd_of_change_from_p(change, p=test.pvalue, n=7).value == pytest.approx(sd)
    assert sd_of_change_from_p(-change, p=test.pvalue, n=7).value == pytest.approx(sd)


def test_unpaired_t_f_and_p_of_raw_scores_lead_to_one_se():
    first, second = PRE, POST[:5] - 30
    test = stats.ttest_ind(first, second)
    difference = first.mean() - second.mean()
    pooled = np.sqrt((6 * first.var(ddof=1) + 4 * second.var(ddof=1)) / 10)
    se = pooled * np.sqrt(1 / 7 + 1 / 5)
    f = stats.f_oneway(first, second).statistic
    assert se_from_t(difference, t=test.statistic).value == pytest.approx(se)
    assert se_from_f(difference, f=f).value == pytest.approx(se)
    assert se_from_p(difference, p=test.pvalue, df=10).value == pytest.approx(se)
    found = sd_from_p(difference, p=test.pvalue, n_intervention=7, n_comparator=5)
    assert found.value == pytest.approx(pooled)
    assert found.tier == "derived"


@pytest.mark.parametrize(
    ("text", "value", "exact"),
    [
        ("0.03", 0.03, True),
        ("p = .03", 0.03, True),
        ("P=0,03", 0.03, True),
        ("< 0.05", 0.05, False),
        ("p<.001", 0.001, False),
        ("p ≤ 0.05", 0.05, False),
        (0.03, 0.03, True),
    ],
)
def test_printed_p(text, value, exact):
    found = read_p(text)
    assert (found.value, found.exact) == (value, exact)
    assert bounded_p(text).tier == ("reported" if exact else "bounded")
    assert bounded_p(text).value == value


def test_a_threshold_gives_the_largest_standard_error_it_allows():
    bound = se_from_p(3.8, p="< 0.05", df=45)
    assert bound.tier == "bounded"
    assert bound.value == se_from_p(3.8, p=0.05, df=45).value
    assert all(se_from_p(3.8, p=p, df=45).value < bound.value for p in (0.04, 0.01, 0.0001))
    assert "SE is at most this" in bound.chain[-1]
    assert sd_of_change_from_p(3.8, p="p < .05", n=12).tier == "bounded"
    assert sd_from_p(3.8, p="p < .05", n_intervention=9, n_comparator=9).tier == "bounded"


def test_without_degrees_of_freedom_the_normal_distribution_is_used():
    se = se_from_p(1.96, p=0.05).value
    assert se == pytest.approx(1.96 / stats.norm.isf(0.025), rel=1e-12)


@pytest.mark.parametrize("p", ["NS", "n.s.", "ns", "p > 0.05", ">.05", "≥ 0.05", "not significant"])
def test_not_significant_is_refused(p):
    for route in (
        lambda: se_from_p(3.8, p=p, df=45),
        lambda: sd_of_change_from_p(3.8, p=p, n=12),
        lambda: sd_from_p(3.8, p=p, n_intervention=9, n_comparator=9),
        lambda: bounded_p(p),
    ):
        with pytest.raises(DesignError, match="no standard error follows"):
            route()


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: se_from_p(3.8, p=0), "p must lie strictly between 0 and 1; got 0"),
        (lambda: se_from_p(3.8, p="0.000"), "p must lie strictly between 0 and 1; got 0"),
        (lambda: se_from_p(0, p=0.03), "size of the difference must be greater than 0"),
        (lambda: se_from_p(3.8, p=0.03, df=0), "degrees of freedom must be greater than 0"),
        (lambda: se_from_t(3.8, t=0), "size of t must be greater than 0"),
        (lambda: se_from_f(3.8, f=4, df_numerator=2), "1 numerator degree of freedom .* got 2"),
        (lambda: se_from_f(3.8, f=0), "F must be greater than 0"),
        (lambda: sd_of_change_from_t(3.8, t=2, n=1), "n must be at least 2; got 1"),
    ],
)
def test_refusals(call, message):
    with pytest.raises(DesignError, match=message):
        call()
