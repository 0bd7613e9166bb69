"""A thousand multilevel pools and a thousand regressions in one sweep, against one by one.

Run with ``pytest tests/benchmarks --benchmark-only -s``.
"""

import time

import numpy as np

from steelyard.pooling import pool_nested_many, regress, regress_many

ANALYSES, LOOPED = 1_000, 60
STUDY = np.repeat(np.arange(12), np.tile([1, 2, 3], 4))


def analyses():
    rng = np.random.default_rng(12)
    v = rng.uniform(0.02, 0.2, (ANALYSES, STUDY.size))
    y = 0.3 + rng.normal(0, 0.3, (ANALYSES, 12))[:, STUDY] + rng.normal(size=v.shape) * np.sqrt(v)
    return y, v


def compare(benchmark, one, many, *, least):
    begin = time.perf_counter()
    for row in range(LOOPED):
        one(row)
    single = (time.perf_counter() - begin) / LOOPED
    benchmark.pedantic(many, rounds=3, warmup_rounds=1)
    batched = benchmark.stats.stats.min / ANALYSES
    benchmark.extra_info["times_one_by_one"] = round(single / batched, 1)
    print(
        f"\none by one {single * 1e3:.2f} ms, in one sweep {batched * 1e3:.2f} ms per analysis: "
        f"{single / batched:.0f} times faster"
    )
    assert single / batched >= least


def test_nested_pools(benchmark):
    y, v = analyses()
    compare(
        benchmark,
        # The same work: a single pool has the interval of its scatter on top.
        lambda row: pool_nested_many(y[row : row + 1], v[row : row + 1], study=STUDY),
        lambda: pool_nested_many(y, v, study=STUDY),
        least=5,
    )


def test_regressions(benchmark):
    y, v = analyses()
    weeks = np.linspace(4, 12, STUDY.size)
    compare(
        benchmark,
        lambda row: regress(y[row], v[row], weeks, study=STUDY),
        lambda: regress_many(y, v, weeks, study=STUDY),
        least=5,
    )
