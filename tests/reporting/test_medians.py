import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.reporting import (
    lopsided_quartiles,
    lopsided_range,
    mean_from_five_numbers,
    mean_from_quartiles,
    mean_from_range,
    sd_from_five_numbers,
    sd_from_quartiles,
    sd_from_range,
)


@pytest.mark.parametrize("n", [9, 15, 41])
def test_sds_of_normal_scores_on_average(n):
    draw = np.random.default_rng(31)
    scores = draw.normal(200, 30, (4000, n))
    low, high = scores.min(axis=1).mean(), scores.max(axis=1).mean()
    q1, q3 = np.quantile(scores, [0.25, 0.75], axis=1).mean(axis=1)
    assert sd_from_range(low, high, n=n).value == pytest.approx(30, rel=0.02)
    # Quartiles are defined in several ways, which matters at small n: within 8 % here.
    assert sd_from_quartiles(q1, q3, n=n).value == pytest.approx(30, rel=0.08)
    assert sd_from_five_numbers(low, q1, q3, high, n=n).value == pytest.approx(30, rel=0.05)


@pytest.mark.parametrize("method", ["wan", "luo"])
def test_symmetric_numbers_give_the_median(method):
    assert mean_from_range(10, 20, 30, n=15, method=method).value == pytest.approx(20)
    assert mean_from_quartiles(15, 20, 25, n=15, method=method).value == pytest.approx(20)
    found = mean_from_five_numbers(10, 15, 20, 25, 30, n=15, method=method)
    assert found.value == pytest.approx(20)


def test_luo_weights_are_the_better_ones_for_the_range():
    draw = np.random.default_rng(32)
    scores = draw.normal(0, 1, (3000, 60))
    low, high, middle = scores.min(axis=1), scores.max(axis=1), np.median(scores, axis=1)
    error = {
        method: np.std(
            [
                mean_from_range(*row, n=60, method=method).value
                for row in zip(low, middle, high, strict=True)
            ]
        )
        for method in ("wan", "luo")
    }
    assert error["luo"] < error["wan"]


@pytest.mark.parametrize("n", [21, 41, 101])
def test_lopsidedness_is_found_in_one_normal_sample_of_twenty(n):
    draw = np.random.default_rng(33)
    scores = draw.normal(50, 9, (3000, n))
    low, q1, middle, q3, high = np.quantile(scores, [0, 0.25, 0.5, 0.75, 1], axis=1)
    rows = range(len(scores))
    by_quartiles = np.mean([lopsided_quartiles(q1[i], middle[i], q3[i], n=n).skewed for i in rows])
    by_range = np.mean([lopsided_range(low[i], middle[i], high[i], n=n).skewed for i in rows])
    # 0.05 with a standard error of 0.004 in 3,000 samples.
    assert by_quartiles == pytest.approx(0.05, abs=0.015)
    assert by_range == pytest.approx(0.05, abs=0.015)


def test_skewed_scores_are_found():
    draw = np.random.default_rng(34)
    q1, middle, q3 = np.quantile(draw.lognormal(0, 1.2, 200), [0.25, 0.5, 0.75])
    found = lopsided_quartiles(q1, middle, q3, n=200)
    assert found.skewed
    assert found.measure > found.critical
    assert "may mislead" in found.message


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: sd_from_quartiles(25, 15, n=12), "q3 less q1 must be greater than 0; got -10"),
        (lambda: sd_from_quartiles(15, 25, n=2), "n must be at least 3; got 2"),
        (lambda: sd_from_quartiles(15, 25, n=12, method="x"), "method must be one of"),
        (lambda: mean_from_quartiles(15, 14, 25, n=12), r"q1 must not exceed median \(14\)"),
        (lambda: sd_from_range(30, 10, n=12), "range must be greater than 0"),
        (lambda: mean_from_range(10, 31, 30, n=12), "median must not exceed high"),
        (lambda: sd_from_five_numbers(16, 15, 25, 30, n=12), "low must not exceed q1"),
        (lambda: mean_from_five_numbers(10, 15, 26, 25, 30, n=12), "median must not exceed q3"),
        (lambda: lopsided_quartiles(15, 20, 25, n=4), "n must be at least 5; got 4"),
    ],
)
def test_refusals(call, message):
    with pytest.raises(DesignError, match=message):
        call()
