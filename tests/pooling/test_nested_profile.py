"""The interval for the scatter of effects within studies, by a second route and by simulation."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy import optimize, stats

from steelyard.pooling import pool_nested

STUDY = np.repeat(np.arange(6), [1, 2, 3, 1, 4, 2])


def drawn(seed: int, *, between: float, within: float):
    """Effects of six studies whose sampling errors correlate inside a study."""
    rng = np.random.default_rng(seed)
    error = np.sqrt(rng.uniform(0.02, 0.08, STUDY.size))
    same = STUDY[:, None] == STUDY
    covariance = np.outer(error, error) * np.where(same, 0.5, 0.0)
    np.fill_diagonal(covariance, error**2)
    y = rng.multivariate_normal(np.full(STUDY.size, 0.3), covariance)
    y += rng.normal(0, between**0.5, 6)[STUDY] + rng.normal(0, within**0.5, STUDY.size)
    return y, covariance


def dense_log_likelihood(y, covariance, *, between, within, method):
    """From the whole matrix: the normal density, and for REML the usual term for the mean."""
    whole = covariance + between * (STUDY[:, None] == STUDY) + within * np.eye(y.size)
    ones = np.ones(y.size)
    solved = np.linalg.solve(whole, np.column_stack([ones, y]))
    total = ones @ solved[:, 0]
    mean = (ones @ solved[:, 1]) / total
    found = stats.multivariate_normal.logpdf(y, np.full(y.size, mean), whole)
    if method == "ml":
        return found
    return found - 0.5 * np.log(total) + 0.5 * np.log(2 * np.pi) + 0.5 * np.log(y.size)


def dense_profile(y, covariance, total, *, method):
    """Highest log-likelihood over divisions of the total, from many starts."""

    def lost(share):
        return -dense_log_likelihood(
            y, covariance, between=(1 - share) * total, within=share * total, method=method
        )

    edges = np.linspace(0, 1, 9)
    tried = [
        optimize.minimize_scalar(lost, bounds=span, method="bounded", options={"xatol": 1e-10})
        for span in pairwise(edges)
    ]
    return max(-lost(0.0), -lost(1.0), *(-each.fun for each in tried))


@pytest.mark.parametrize("method", ["reml", "ml"])
@pytest.mark.parametrize(
    ("seed", "between", "within"), [(1, 0.05, 0.03), (2, 0.3, 0.0), (3, 0.0, 0.2), (4, 0.0, 0.0)]
)
def test_each_end_lies_where_the_dense_likelihood_has_fallen_enough(seed, between, within, method):
    y, covariance = drawn(seed, between=between, within=within)
    found = pool_nested(y, covariance, study=STUDY, method=method, level=0.9)
    top = dense_profile(y, covariance, found.tau2, method=method)
    assert top == pytest.approx(found.log_likelihood, abs=1e-7)
    room = stats.chi2.ppf(0.9, 1) / 2
    assert found.tau2_low <= found.tau2 < found.tau2_high
    ends = [found.tau2_high] + ([found.tau2_low] if found.tau2_low > 0 else [])
    for end in ends:
        fallen = top - dense_profile(y, covariance, end, method=method)
        assert fallen == pytest.approx(room, abs=1e-6)
    if found.tau2_low == 0:
        assert top - dense_profile(y, covariance, 0.0, method=method) <= room


def test_its_place_does_not_hang_on_unit_or_origin():
    y, covariance = drawn(5, between=0.1, within=0.05)
    one = pool_nested(y, covariance, study=STUDY)
    other = pool_nested(1000 * (y + 40), 1e6 * covariance, study=STUDY)
    assert one.tau2_low > 0
    for name in ("tau2_low", "tau2_high"):
        assert getattr(other, name) == pytest.approx(1e6 * getattr(one, name), rel=1e-6)


def test_a_higher_level_is_wider_and_one_study_has_none():
    y, covariance = drawn(6, between=0.1, within=0.05)
    narrow, wide = (pool_nested(y, covariance, study=STUDY, level=at) for at in (0.8, 0.99))
    assert wide.tau2_low <= narrow.tau2_low < narrow.tau2_high < wide.tau2_high
    alone = pool_nested([0.1, 0.5, 0.3], [0.02] * 3, study=["a"] * 3)
    assert np.isnan([alone.tau2_low, alone.tau2_high]).all()


def test_two_studies_still_have_a_finite_one():
    found = pool_nested([0.2, 0.9], [0.01, 0.02], study=["a", "b"])
    assert 0 <= found.tau2_low < found.tau2 < found.tau2_high < np.inf


def test_it_holds_the_truth_about_as_often_as_it_says():
    """400 draws of 12 studies with 3 effects each; 95 % give 369 to 391 in all but 1 of 100."""
    study, hits = np.repeat(np.arange(12), 3), 0
    rng = np.random.default_rng(20)
    for _ in range(400):
        v = rng.uniform(0.02, 0.06, study.size)
        y = 0.3 + rng.normal(0, 0.3, 12)[study] + rng.normal(0, np.sqrt(v + 0.05))
        found = pool_nested(y, v, study=study, robust=False)
        hits += found.tau2_low <= 0.09 + 0.05 <= found.tau2_high
    assert 0.923 <= hits / 400 <= 0.978
