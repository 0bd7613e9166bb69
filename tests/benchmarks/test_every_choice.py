"""Speed of weighing in every defensible way, in one run.

Run with ``pytest tests/benchmarks/test_every_choice.py --benchmark-only -s``.
"""

import time

import numpy as np

from steelyard import open_library
from steelyard.judging.integrity import suspect_results
from steelyard.pooling import pool, pool_many
from steelyard.pooling.every_choice import every_choice

STUDIES, WAYS = 16, 1_000


def test_every_choice_of_a_shipped_question(benchmark):
    """Records to verdicts: forming the effects anew under each choice is part of it."""
    library = open_library()
    weighing = library.weigh("slow-lowering-strength")
    suspects = suspect_results(library.integrity)

    every = benchmark.pedantic(
        every_choice,
        args=(weighing, library.studies.values()),
        kwargs={"vocabulary": library.vocabulary, "suspects": suspects},
        rounds=3,
    )
    rate = len(every.ways) / benchmark.stats.stats.min
    benchmark.extra_info["ways"] = len(every.ways)
    benchmark.extra_info["ways_per_second"] = round(rate)
    print(f"\n{len(every.ways):,} ways, {rate:,.0f} a second from records to verdicts")
    assert rate >= 500


def test_a_thousand_ways_in_one_batch_against_one_by_one(benchmark):
    """The pooling pass alone, held against pooling each way by itself."""
    rng = np.random.default_rng(1)
    v = rng.uniform(0.02, 0.2, (WAYS, STUDIES))
    y = 0.3 + rng.normal(size=v.shape) * np.sqrt(v + 0.02)
    begin = time.perf_counter()
    for row in range(100):
        pool(y[row], v[row])
    single = (time.perf_counter() - begin) / 100
    benchmark.pedantic(pool_many, args=(y, v), rounds=5, warmup_rounds=1)
    batched = benchmark.stats.stats.min / WAYS
    print(f"\n{single / batched:.0f} times the speed of one by one; {1 / batched:,.0f} a second")
    assert single / batched >= 5
