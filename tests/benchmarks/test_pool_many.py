"""Speed of `pool_many` against a loop over a general-purpose library, in one run.

Run with ``pytest tests/benchmarks --benchmark-only -s``.
"""

import time

import numpy as np
from statsmodels.stats.meta_analysis import combine_effects

from steelyard.pooling import pool_many

ANALYSES, STUDIES, LOOPED, ROUNDS = 10_000, 12, 100, 9


def test_pool_many_against_a_loop(benchmark):
    """REML for 10,000 analyses of 12 studies; statsmodels iterates Paule-Mandel one by one."""
    rng = np.random.default_rng(20240501)
    v = rng.uniform(0.02, 0.3, (ANALYSES, STUDIES))
    y = 0.3 + rng.normal(size=v.shape) * np.sqrt(v + 0.05)

    def loop() -> float:
        begin = time.perf_counter()
        for row in range(LOOPED):
            combine_effects(y[row], v[row], method_re="iterated")
        return (time.perf_counter() - begin) / LOOPED

    loops = []  # a loop before each round, so that both meet the machine in the same moods
    result = benchmark.pedantic(
        pool_many,
        setup=lambda: loops.append(loop()) or ((y, v), {}),
        rounds=ROUNDS,
        warmup_rounds=1,
    )
    looped = float(np.median(loops))
    batched = benchmark.stats.stats.median / ANALYSES
    ratio = looped / batched
    benchmark.extra_info["times_faster_per_analysis"] = round(ratio, 1)
    print(
        f"\nloop {looped * 1e6:.0f} µs, pool_many {batched * 1e6:.2f} µs per analysis: "
        f"{ratio:.0f} times faster"
    )
    assert np.isfinite(result.estimate).all()
    assert ratio >= 60
