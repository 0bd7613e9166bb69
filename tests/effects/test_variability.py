import numpy as np
import pytest

from steelyard.effects import Group, log_cv_ratio, log_sd_ratio
from steelyard.errors import DesignError


def test_bias_term_and_variance_in_simulation():
    draw = np.random.default_rng(14)
    repeats = 60_000
    first = draw.normal(50, 6.0, (repeats, 8))
    second = draw.normal(50, 6.0, (repeats, 25))
    groups = [
        Group(np.full(repeats, x.shape[1]), x.mean(axis=1), x.std(axis=1, ddof=1))
        for x in (first, second)
    ]
    spread = log_sd_ratio(*groups)
    # Equal SDs, so the mean is 0; without the bias term it would be −0.05.
    assert spread.effect.mean() == pytest.approx(0, abs=0.01)
    # The variance is a large-sample form: some 6 % short in SE at 8 people.
    assert np.sqrt(spread.variance[0]) == pytest.approx(spread.effect.std(), rel=0.08)
    relative = log_cv_ratio(*groups)
    assert np.sqrt(relative.variance.mean()) == pytest.approx(relative.effect.std(), rel=0.08)


def test_equal_means_make_both_ratios_agree():
    first, second = Group(10, 50.0, 8.0), Group(14, 50.0, 6.0)
    assert log_cv_ratio(first, second).effect == pytest.approx(log_sd_ratio(first, second).effect)


def test_refusals():
    with pytest.raises(DesignError, match="SD of the comparator group"):
        log_sd_ratio(Group(10, 50.0, 8.0), Group(14, 50.0, 0.0))
    with pytest.raises(DesignError, match="mean of the intervention group must be greater than 0"):
        log_cv_ratio(Group(10, -5.0, 8.0), Group(14, 50.0, 6.0))
