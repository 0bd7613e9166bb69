"""Routes for which no published figure is known: worked by hand, then reached a second way.

Nothing here is cited; each expected number follows from the arithmetic beside it.
"""

import inspect

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import integrate, stats

import steelyard.reporting as reporting
from steelyard.reporting import (
    bounded_p,
    lopsided_quartiles,
    lopsided_range,
    mean_from_range,
    percent_change,
    post_mean_from_percent,
    sd_from_interval,
    sd_from_p,
    sd_from_range_older,
    sd_from_se,
    se_from_f,
    se_from_p,
    split_control,
)
from steelyard.reporting.reading_error import default_reading_error, error_of_sd

NOT_ROUTES = {"read_p", "weakest_tier"}
ROUTES = [
    route
    for name in reporting.__all__
    if inspect.isfunction(route := getattr(reporting, name)) and name not in NOT_ROUTES
]


@pytest.mark.parametrize("route", [*ROUTES, error_of_sd], ids=lambda route: route.__name__)
def test_every_route_tells_its_formula_and_its_source(route):
    text = inspect.getdoc(route)
    head, _, sources = text.partition("References\n----------")
    formula = head.partition("Parameters\n")[0]
    assert any(sign in formula for sign in "=/√·"), formula
    assert sources.strip().startswith(".. [1]") and "[1]_" in head


def test_group_by_time_f_is_that_of_the_changes():
    # Second way: least squares on all scores, a level for each person, a step for time, and the
    # step that one group takes beyond the other's; its squared t is the F a paper prints.
    draw = np.random.default_rng(51)
    before = draw.normal(100, 15, 22)
    gain = draw.normal(6, 5, 22) + np.repeat([4.0, 0.0], [12, 10])
    slow = np.repeat([1.0, 0.0], [12, 10])
    people = np.eye(22)
    levels = np.vstack([people, people])
    time = np.repeat([0.0, 1.0], 22)
    columns = np.column_stack([levels, time, time * np.tile(slow, 2)])
    fitted = sm.OLS(np.concatenate([before, before + gain]), columns).fit()
    difference = gain[:12].mean() - gain[12:].mean()
    assert fitted.params[-1] == pytest.approx(difference)
    found = se_from_f(difference, f=fitted.tvalues[-1] ** 2)
    pooled = (11 * gain[:12].var(ddof=1) + 9 * gain[12:].var(ddof=1)) / 20
    assert found.value == pytest.approx(np.sqrt(pooled * (1 / 12 + 1 / 10)))


def test_a_bound_of_p_is_the_p_it_names():
    # p < 0.05 as p = 0.05: t on 40 degrees of freedom is 2.021 (printed tables), 4/2.021 = 1.979.
    found = se_from_p(4.0, p=bounded_p("p < 0.05").value, df=40)
    assert found.value == pytest.approx(1.979, abs=1e-3)
    assert se_from_p(4.0, p="p < 0.05", df=40).value == found.value


def test_sd_from_p_the_other_way_round():
    # From SD 12 with 14 and 10 people, a difference of 9: SE = 12·√(1/14 + 1/10) = 4.9685,
    # t = 1.8114 on 22 degrees of freedom; the p of that t leads back to 12.
    se = 12 * np.sqrt(1 / 14 + 1 / 10)
    assert se == pytest.approx(4.9685, abs=5e-5)
    p = 2 * stats.t.sf(9 / se, 22)
    assert sd_from_p(9, p=p, n_intervention=14, n_comparator=10).value == pytest.approx(12)


def test_a_split_control_gives_what_the_whole_one_gives():
    # By hand: 30 people shared by three comparisons count as 10 for each. With SD 6 and 20 people
    # in each other arm a comparison has variance 36·(1/20 + 1/10) = 5.4, three pooled 1.8; the
    # three arms as one of 60 against all 30: 36·(1/60 + 1/30) = 1.8.
    share = split_control(30, comparisons=3).value
    assert share == 10
    assert 36 * (1 / 20 + 1 / share) / 3 == pytest.approx(36 * (1 / 60 + 1 / 30))


@pytest.mark.parametrize(("n_arm", "arms", "n_control"), [(12, 2, 12), (9, 3, 20), (15, 4, 31)])
def test_a_split_control_has_the_variance_of_the_raw_scores(n_arm, arms, n_control):
    # Second way: the average of all arms less the control, over simulated scores of SD 1.
    draw = np.random.default_rng(52)
    trained = draw.normal(0, 1, (20_000, arms, n_arm)).mean(axis=2)
    control = draw.normal(0, 1, (20_000, n_control)).mean(axis=1)
    spread = (trained - control[:, None]).mean(axis=1).var()
    share = split_control(n_control, comparisons=arms).value
    # 20,000 draws leave 2 % at two standard errors.
    assert (1 / n_arm + 1 / share) / arms == pytest.approx(spread, rel=0.04)


def test_percent_of_means_by_hand_and_back():
    # 80 to 92 is 12 more, 12/80 = 15 %; 80·1.15 = 92. A fall: 80 to 60 is −25 %, 80·0.75 = 60.
    for percent, post in ((15, 92.0), (-25, 60.0)):
        assert percent_change(80, post).value == pytest.approx(percent)
        assert post_mean_from_percent(80, percent=percent).value == pytest.approx(post)


def test_lopsidedness_by_hand():
    # Quartiles 40 and 60, median 44, 25 people: |40 + 60 − 88|/20 = 0.6 against
    # 2.65/5 − 6/625 = 0.53 − 0.0096 = 0.5204.
    found = lopsided_quartiles(40, 44, 60, n=25)
    assert found.measure == pytest.approx(0.6)
    assert found.critical == pytest.approx(0.5204)
    assert found.skewed and not lopsided_quartiles(40, 45, 60, n=25).skewed
    # Range 20 to 90, median 50, 25 people: |20 + 90 − 100|/70 = 0.142857 against
    # 1.01/ln 34 + 2.43/26 = 0.286413 + 0.093462 = 0.379875.
    found = lopsided_range(20, 50, 90, n=25)
    assert found.measure == pytest.approx(10 / 70)
    assert found.critical == pytest.approx(0.379875, abs=1e-6)
    assert not found.skewed and lopsided_range(20, 40, 90, n=25).skewed


@pytest.mark.parametrize(("low", "median", "high"), [(10, 20, 34), (0, 5, 10), (2, 3, 11)])
def test_older_rule_for_few_people_is_the_sd_of_two_even_halves(low, median, high):
    # Second way: scores of which half lie evenly below and half evenly above the median,
    # integrated. Both the mean and the SD of the rule are theirs.
    def density(x):
        return 0.5 / (median - low) if x < median else 0.5 / (high - median)

    def moment(power):
        parts = ((low, median), (median, high))
        return sum(
            integrate.quad(lambda x: x**power * density(x), one, other)[0] for one, other in parts
        )

    mean = moment(1)
    assert mean_from_range(low, median, high, n=12).value == pytest.approx(mean)
    sd = np.sqrt(moment(2) - mean**2)
    assert sd_from_range_older(low, median, high, n=12).value == pytest.approx(sd)


@pytest.mark.parametrize(("n", "rel"), [(10, 0.12), (25, 0.03), (40, 0.09), (400, 0.02)])
def test_older_rules_for_the_range_hold_where_they_say(n, rel):
    # Second way: normal scores. The range is about 3.1 SDs of 10 people, 3.9 of 25, 4.3 of 40 and
    # 5.9 of 400, where the rules divide by about 3.5, 4, 4 and 6.
    draw = np.random.default_rng(53)
    scores = draw.normal(200, 30, (2000, n))
    ends = (each.mean() for each in (scores.min(1), np.median(scores, axis=1), scores.max(1)))
    assert sd_from_range_older(*ends, n=n).value == pytest.approx(30, rel=rel)


def test_reading_error_of_an_sd_by_hand():
    # 16 people: an SE read 0.5 off is an SD 0.5·√16 = 2 off. Limits of a 95 % interval read 0.5
    # off each: the width is 0.5·√2 off; t on 15 degrees of freedom is 2.1314 (printed tables),
    # so the SD is √16·0.5·√2/(2·2.1314) = 0.6635 off.
    by_se = error_of_sd([7.9], 0.5, to_sd=lambda x: sd_from_se(x[0], n=16).value)
    assert by_se == pytest.approx(2.0)
    by_limits = error_of_sd([90, 106], 0.5, to_sd=lambda x: sd_from_interval(*x, n=16).value)
    assert by_limits == pytest.approx(0.6635, abs=5e-5)
    # A hundredth of mean and SD together: 0.01·(120 + 30) = 1.5.
    assert default_reading_error(120, 30) == pytest.approx(1.5)
    assert default_reading_error(-120, None) == pytest.approx(1.2)


def test_reading_error_of_an_sd_in_simulation():
    # Second way: readings with that error, each turned into an SD by the same route.
    draw = np.random.default_rng(54)
    read = np.array([90.0, 106.0]) + draw.normal(0, 0.5, (20_000, 2))
    sds = [sd_from_interval(low, high, n=16).value for low, high in read]
    found = error_of_sd([90, 106], 0.5, to_sd=lambda x: sd_from_interval(*x, n=16).value)
    assert found == pytest.approx(np.std(sds), rel=0.02)
