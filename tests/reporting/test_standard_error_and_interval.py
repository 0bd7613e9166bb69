import numpy as np
import pytest
from scipy import stats

from steelyard.errors import DesignError
from steelyard.reporting import sd_from_interval, sd_from_se, se_from_interval

SCORES = np.array([212.0, 240.0, 198.0, 255.0, 221.0, 230.0, 205.0])


def test_se_of_raw_scores_leads_back_to_their_sd():
    found = sd_from_se(stats.sem(SCORES), n=len(SCORES))
    assert found.value == pytest.approx(SCORES.std(ddof=1), rel=1e-12)
    assert found.tier == "derived"


def test_chain_reads_as_a_sum():
    assert sd_from_se(7.9, n=18).chain == ("SE 7.9 × √18 = SD 33.52",)


@pytest.mark.parametrize("level", [0.90, 0.95, 0.99])
def test_interval_of_raw_scores_leads_back_to_their_sd(level):
    low, high = stats.t.interval(level, len(SCORES) - 1, SCORES.mean(), stats.sem(SCORES))
    found = sd_from_interval(low, high, n=len(SCORES), level=level)
    assert found.value == pytest.approx(SCORES.std(ddof=1), rel=1e-10)
    assert sd_from_interval(low, high, n=7, level=level, by="normal").value > found.value


def test_normal_and_t_agree_for_many_people():
    t = sd_from_interval(10, 12, n=10**6).value
    normal = sd_from_interval(10, 12, n=10**6, by="normal").value
    assert t == pytest.approx(normal, rel=1e-5)
    assert normal == pytest.approx(1000 * 2 / 3.92, rel=1e-4)  # 3.92 = 2 × 1.96


def test_se_of_a_difference():
    result = stats.ttest_ind(SCORES, SCORES[:5] + 9)
    limits = result.confidence_interval(0.95)
    found = se_from_interval(limits.low, limits.high, df=10)
    difference = SCORES.mean() - SCORES[:5].mean() - 9
    assert found.value == pytest.approx(difference / result.statistic, rel=1e-10)
    assert "10 degrees of freedom" in found.chain[1]
    assert "normal" in se_from_interval(1.0, 2.0).chain[1]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: sd_from_se(0, n=10), "SE must be greater than 0; got 0"),
        (lambda: sd_from_se(2, n=1), "n must be at least 2; got 1"),
        (lambda: sd_from_interval(5, 5, n=10), "width of the interval must be greater than 0"),
        (lambda: sd_from_interval(3, 5, n=10, level=95), "level must lie strictly between"),
        (lambda: sd_from_interval(3, 5, n=10, by="z"), "by must be one of t, normal; got 'z'"),
        (lambda: se_from_interval(3, 5, df=0), "degrees of freedom must be greater than 0"),
    ],
)
def test_refusals(call, message):
    with pytest.raises(DesignError, match=message):
        call()
