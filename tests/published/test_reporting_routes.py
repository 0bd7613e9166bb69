"""Routes from printed statistics to means and SDs against published worked examples."""

import pytest
from scipy import stats

from steelyard.reporting import (
    combine_groups,
    expected_range,
    mean_from_five_numbers,
    mean_from_quartiles,
    mean_from_range,
    sd_from_five_numbers,
    sd_from_interval,
    sd_from_p,
    sd_from_quartiles,
    sd_from_range,
    sd_from_range_older,
    sd_from_se,
    se_from_interval,
    se_from_p,
)


def test_handbook_sd_from_interval():
    # Cochrane Handbook 5.1, 7.7.3.2 (now 6.5.2.2): divisor 4.128 seen in a stored copy of the text;
    # the example √25 × (34.2 − 30.0)/4.128 = 5.09 is recalled.
    found = sd_from_interval(30.0, 34.2, n=25)
    assert 5 * 4.2 / found.value == pytest.approx(4.128, abs=5e-4)
    assert found.value == pytest.approx(5.09, abs=5e-3)


def test_handbook_sd_from_p():
    # Cochrane Handbook 5.1, 7.7.3.3 (now 6.5.2.3): t = 2.78 and SE = 1.37 seen in a stored copy.
    se = se_from_p(3.8, p=0.008, df=45).value
    assert 3.8 / se == pytest.approx(2.78, abs=5e-3)
    assert se == pytest.approx(1.37, abs=5e-3)
    # Two values: SD 4.69 as recalled follows from the rounded SE; full precision gives 4.68.
    found = sd_from_p(3.8, p=0.008, n_intervention=25, n_comparator=22)
    assert found.value == pytest.approx(4.6835, abs=5e-5)
    assert found.value == pytest.approx(4.69, abs=0.01)


def test_handbook_t_for_a_difference():
    # Cochrane Handbook 5.1, 7.7.3.3: t on 25 + 22 − 2 = 45 degrees of freedom, 2.0141; recalled.
    assert 2 / se_from_interval(-2.0, 2.0, df=45).value == pytest.approx(2.0141, abs=5e-5)


def test_three_subgroups_combined():
    # A public worked example citing Cochrane Handbook Table 6.5.a, confirmed in a stored page:
    # 12.2222 and 4.5028.
    found = combine_groups([(10, 11.8, 2.4), (20, 15.3, 3.2), (15, 8.4, 4.1)])
    assert found.n.value == 45
    assert found.mean.value == pytest.approx(12.2222, abs=5e-5)
    assert found.sd.value == pytest.approx(4.5028, abs=5e-5)


@pytest.mark.parametrize(
    ("n", "printed"),
    # Wan, Wang, Liu & Tong (2014), BMC Med Res Methodol 14:135, Table 1, the constants of control
    # charts; digits recalled, page not seen.
    [(2, 1.128), (3, 1.693), (5, 2.326), (10, 3.078), (25, 3.931), (50, 4.498)],
)
def test_expected_range(n, printed):
    assert expected_range(n) == pytest.approx(printed, abs=5e-4)


# Depression scores of 100 people before treatment, open data (BtheB, Proudfoot et al. 2003):
# lowest, quartiles, median and highest as in the data; the raw mean is 23.33, the SD 10.84.
LOW, Q1, MEDIAN, Q3, HIGH = 2.0, 15.0, 22.0, 30.25, 49.0


def test_means_of_open_data_by_wan():
    # Formulas of Wan (2014), from memory, recomputed.
    by_range = mean_from_range(LOW, MEDIAN, HIGH, n=100)
    by_quartiles = mean_from_quartiles(Q1, MEDIAN, Q3, n=100)
    by_all = mean_from_five_numbers(LOW, Q1, MEDIAN, Q3, HIGH, n=100)
    assert by_range.value == pytest.approx(23.75, abs=1e-9)
    assert by_quartiles.value == pytest.approx(22.4166667, abs=1e-6)
    assert by_all.value == pytest.approx(23.1875, abs=1e-9)


def test_means_of_open_data_by_luo():
    # Formulas of Luo (2018), Stat Methods Med Res 27:1785-1805, from memory, recomputed.
    by_range = mean_from_range(LOW, MEDIAN, HIGH, n=100, method="luo")
    by_quartiles = mean_from_quartiles(Q1, MEDIAN, Q3, n=100, method="luo")
    by_all = mean_from_five_numbers(LOW, Q1, MEDIAN, Q3, HIGH, n=100, method="luo")
    assert by_range.value == pytest.approx(22.3930070, abs=1e-6)
    assert by_quartiles.value == pytest.approx(22.4399375, abs=1e-6)
    assert by_all.value == pytest.approx(22.6294125, abs=1e-6)


def test_sds_of_open_data_by_wan():
    # Formulas of Wan (2014), from memory, recomputed. The raw SD is 10.84.
    by_range = sd_from_range(LOW, HIGH, n=100).value
    by_quartiles = sd_from_quartiles(Q1, Q3, n=100).value
    by_all = sd_from_five_numbers(LOW, Q1, Q3, HIGH, n=100).value
    assert by_range == pytest.approx(9.4053025, abs=1e-6)
    assert by_quartiles == pytest.approx(11.4711252, abs=1e-6)
    assert by_all == pytest.approx(10.4382138, abs=1e-6)
    assert by_all == pytest.approx(10.84, rel=0.05)


@pytest.mark.parametrize(("n", "sd"), [(12, 6.9522179), (40, 6.0), (100, 4.0)])
def test_older_rules_for_the_range(n, sd):
    # Hozo, Djulbegovic & Hozo (2005), BMC Med Res Methodol 5:13, eq. 5 and 12; from memory,
    # recomputed.
    assert sd_from_range_older(10, 20, 34, n=n).value == pytest.approx(sd, abs=1e-6)


def test_older_mean_from_the_range():
    # Hozo et al. (2005), eq. 4: (10 + 2·20 + 34)/4; from memory.
    assert mean_from_range(10, 20, 34, n=12).value == 21.0


def test_simple_rules():
    # Cochrane Handbook 6.5.2.2 and 6.5.2.5; from memory.
    assert sd_from_se(1.2, n=36).value == pytest.approx(7.2, abs=1e-12)
    assert sd_from_quartiles(0, 27, n=36, method="handbook").value == pytest.approx(20.0, abs=1e-12)
    # For many people the divisor nears that of the normal distribution: 27/1.34898 = 20.0151.
    normal = 27 / (2 * stats.norm.ppf(0.75))
    assert sd_from_quartiles(0, 27, n=10**7).value == pytest.approx(normal, rel=1e-6)
