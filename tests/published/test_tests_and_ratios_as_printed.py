"""Routes from t, F, p and percent to SEs and SDs against published figures."""

import numpy as np
import pytest

from steelyard.reporting import (
    Number,
    log_change_from_percent,
    percent_change,
    post_mean_from_percent,
    sd_of_change_from_p,
    sd_of_change_from_t,
    se_from_f,
    se_from_t,
)

# Student (1908), extra hours of sleep of ten people under two drugs; open data, the SD of their
# differences recomputed: 1.229995. Of the textbook output, t = −4.0621 and p = 0.002833 for the
# paired test and t = −1.8608, F = 3.463 for the unpaired one are recalled; all agree with the data.
FIRST = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
SECOND = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])


def test_sleep_sd_of_differences_from_the_printed_paired_test():
    sd = (SECOND - FIRST).std(ddof=1)
    assert sd == pytest.approx(1.2299955, abs=5e-8)
    assert sd_of_change_from_t(-1.58, t=-4.0621, n=10).value == pytest.approx(sd, abs=5e-5)
    # The last printed digit of p, 5e-7, is worth 4e-5 here.
    assert sd_of_change_from_p(-1.58, p=0.002833, n=10).value == pytest.approx(sd, abs=5e-5)


def test_sleep_se_from_the_printed_unpaired_t_and_f():
    se = np.sqrt((FIRST.var(ddof=1) + SECOND.var(ddof=1)) / 10)
    assert se_from_t(-1.58, t=-1.8608).value == pytest.approx(se, abs=5e-5)
    assert se_from_f(1.58, f=3.463).value == pytest.approx(se, abs=2e-4)


def test_howell_sd_of_gain_from_t():
    # Howell, Statistical Methods for Psychology, ch. 7, Table 7.3: 17 people gained 7.26 with SD
    # 7.16, confirmed in a stored page. Their t is not among what was seen: 4.185 is recomputed from
    # the raw data (anorexia; Hand et al. 1993).
    assert sd_of_change_from_t(7.26, t=4.185, n=17).value == pytest.approx(7.16, abs=0.01)


def test_handbook_se_from_t():
    # Cochrane Handbook 5.1, 7.7.3.3 (now 6.5.2.3): difference 3.8, t = 2.78, SE = 1.37, seen in a
    # stored copy. F on one degree of freedom is t²: 7.7284.
    assert se_from_t(3.8, t=2.78).value == pytest.approx(1.37, abs=5e-3)
    assert se_from_f(3.8, f=2.78**2).value == pytest.approx(1.37, abs=5e-3)


# Borenstein, Hedges, Higgins & Rothstein (2009), Introduction to Meta-Analysis, ch. 4, eq.
# 4.31-4.34: means 61.515 and 51.015, SD 19.475, ten people each: ratio 1.2058, variance of its log
# 0.0246; published digits recalled, page not seen; recomputed from the formulas, these agree.


def test_book_ratio_of_means_as_a_percent_change():
    found = percent_change(51.015, 61.515)
    assert found.value == pytest.approx(20.58, abs=5e-3)
    assert post_mean_from_percent(51.015, percent=20.58).value == pytest.approx(61.515, abs=3e-3)


def test_book_variance_of_a_log_ratio_as_that_of_log_changes():
    # A group whose scores are percent of the start, mean 61.515, changed by −38.485 %.
    one, other = (
        log_change_from_percent(Number.printed(mean - 100), sd=Number.printed(19.475))
        for mean in (61.515, 51.015)
    )
    variance = (one.sd.value**2 + other.sd.value**2) / 10
    assert variance == pytest.approx(0.0246, abs=5e-5)
    # The log of the rounded ratio 1.2058 is printed, 0.1871; the full one is 0.18716.
    assert one.mean.value - other.mean.value == pytest.approx(0.1871, abs=1e-4)
