"""Speed of `pool_many` against a loop over a general-purpose library, in one run.

Run with ``pytest tests/benchmarks --benchmark-only -s``.
"""

import time

import numpy as np
from statsmodels.stats.meta_analysis import combine_effects

from steelyard.pooling import pool_many

ANALYSES, STUDIES, LOOPED = 10_000, 12, 300


def test_pool_many_against_a_loop(benchmark):
    """REML for 10,000 analyses of 12 studies; statsmodels iterates Paule-Mandel one by one."""
    rng = np.random.default_rng(20240501)
    v = rng.uniform(0.02, 0.3, (ANALYSES, STUDIES))
    y = 0.3 + rng.normal(size=v.shape) * np.sqrt(v + 0.05)

    begin = time.perf_counter()
    for row in range(LOOPED):
        combine_effects(y[row], v[row], method_re="iterated")
    looped = (time.perf_counter() - begin) / LOOPED

    result = benchmark.pedantic(pool_many, args=(y, v), rounds=7, warmup_rounds=1)
    batched = benchmark.stats.stats.min / ANALYSES
    ratio = looped / batched
    benchmark.extra_info["times_faster_per_analysis"] = round(ratio, 1)
    print(
        f"\nloop {looped * 1e6:.0f} µs, pool_many {batched * 1e6:.2f} µs per analysis: "
        f"{ratio:.0f} times faster"
    )
    assert np.isfinite(result.estimate).all()
    assert ratio >= 60
