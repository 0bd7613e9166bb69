"""Leaving one out of 200, a bootstrap of 1,000 draws, and 1,000 ways, against bare NumPy.

Run with ``pytest tests/benchmarks --benchmark-only -s``. The bare version does the same
floating-point work on clean arrays: REML by Fisher scoring, Knapp-Hartung interval, both bounds
of the between-study variance, in parts that fit the cache. What ours adds is refusing bad
numbers, finding the highest of several maxima, absent effects and the rest of the result.
"""

import time

import numpy as np
import pytest
from scipy.special import chdtri, stdtrit

from steelyard.pooling import leave_one_out, pool_many

STUDIES, DRAWS = 200, 1000


def bare_reml(y, v):
    """REML, Knapp-Hartung interval and Q-profile bounds; arrays of shape (k, analyses)."""
    k = y.shape[0]
    tau2 = np.full(y.shape[1], max(float(y.var(ddof=1) - v.mean()), 0.01))
    for _ in range(50):
        w = 1 / (v + tau2)
        total = w.sum(axis=0)
        mean = (w * y).sum(axis=0) / total
        squares = (w * w).sum(axis=0)
        pull = (w * w * (y - mean) ** 2).sum(axis=0)
        trace = total - squares / total
        information = squares - 2 * (w**3).sum(axis=0) / total + (squares / total) ** 2
        step = (pull - trace) / information
        before, tau2 = tau2, np.maximum(tau2 + step, 0)
        if np.abs(tau2 - before).max() < 1e-7:
            break
    w = 1 / (v + tau2)
    total = w.sum(axis=0)
    mean = (w * y).sum(axis=0) / total
    error = np.sqrt((w * (y - mean) ** 2).sum(axis=0) / ((k - 1) * total))
    half = stdtrit(k - 1, 0.975) * error
    bounds = []
    for tail in (0.025, 0.975):
        target, bound = chdtri(k - 1, tail), np.zeros(y.shape[1])
        for _ in range(50):
            w = 1 / (v + bound)
            centre = (w * y).sum(axis=0) / w.sum(axis=0)
            q = (w * (y - centre) ** 2).sum(axis=0)
            step = q * (q / target - 1) / (w * w * (y - centre) ** 2).sum(axis=0)
            before, bound = bound, np.maximum(bound + step, 0)
            if np.abs(bound - before).max() < 1e-7:
                break
        bounds.append(bound)
    return mean, mean - half, tau2, bounds[1]


def in_parts(y, v):
    """`bare_reml` on rows, in parts that stay in the processor's cache, as ours are."""
    parts = [
        bare_reml(y[b : b + 120].T.copy(), v[b : b + 120].T.copy()) for b in range(0, len(y), 120)
    ]
    return [np.concatenate(column) for column in zip(*parts, strict=True)]


def studies():
    rng = np.random.default_rng(77)
    v = rng.uniform(0.02, 0.3, STUDIES)
    return rng.normal(0.3, np.sqrt(v + 0.05)), v


def compare(benchmark, ours, bare, *, most):
    times = []
    for _ in range(7):
        begin = time.perf_counter()
        bare_found = bare()
        times.append(time.perf_counter() - begin)
    found = benchmark.pedantic(ours, rounds=7, warmup_rounds=1)
    ratio = benchmark.stats.stats.min / min(times)
    benchmark.extra_info["times_bare_numpy"] = round(ratio, 2)
    print(
        f"\nbare NumPy {min(times) * 1e3:.1f} ms, ours {benchmark.stats.stats.min * 1e3:.1f} ms: "
        f"{ratio:.2f} times"
    )
    pooled = getattr(found, "pooled", found)
    mean, low, tau2, tau2_high = bare_found
    # The same work: the same numbers come out.
    assert pooled.estimate == pytest.approx(mean, abs=1e-6)
    assert pooled.low == pytest.approx(low, abs=1e-6)
    assert pooled.tau2 == pytest.approx(tau2, abs=1e-6)
    assert pooled.tau2_high == pytest.approx(tau2_high, abs=1e-5)
    assert ratio < most


def test_leave_one_out_of_200(benchmark):
    y, v = studies()

    def bare():
        keep = ~np.eye(STUDIES, dtype=bool)
        left = [np.broadcast_to(each, keep.shape)[keep].reshape(STUDIES, -1) for each in (y, v)]
        return in_parts(*left)

    compare(benchmark, lambda: leave_one_out(y, v), bare, most=3)


def test_bootstrap_of_1000_draws(benchmark):
    y, v = studies()
    drawn = np.random.default_rng(78).integers(0, STUDIES, (DRAWS, STUDIES))

    def bare():
        return in_parts(y[drawn], v[drawn])

    compare(benchmark, lambda: pool_many(y[drawn], v[drawn]), bare, most=3)


def test_a_thousand_ways(benchmark):
    """The sensitivity run: one question of 16 studies pooled under 1,000 sets of choices."""
    rng = np.random.default_rng(79)
    # Correlations, metrics and inclusion rules move variances much and effects a little. True
    # effects differ clearly, as plain Fisher scoring does not settle where they hardly do.
    v = rng.uniform(0.03, 0.15, 16) * rng.uniform(0.6, 1.6, (DRAWS, 16))
    y = rng.normal(0.3, 0.5, 16) + rng.normal(0, 0.05, (DRAWS, 16))

    def bare():
        parts = [
            bare_reml(y[b : b + 1_500].T.copy(), v[b : b + 1_500].T.copy())
            for b in range(0, DRAWS, 1_500)
        ]
        return [np.concatenate(column) for column in zip(*parts, strict=True)]

    compare(benchmark, lambda: pool_many(y, v), bare, most=5)
