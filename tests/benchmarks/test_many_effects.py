"""Cost of effects within studies as they grow from 10,000 to 100,000, four to a study.

Run with ``pytest tests/benchmarks --benchmark-only -s``. From an effect table's rows to the pool:
covariance of each study, REML, cluster-robust interval; then the regression on a moderator. Times
are of the processor, as ten times the effects should cost about ten times as much whatever else
the computer does. The bound of 20 leaves room for arrays that no longer fit the cache; cost that
grew with the square would be 100.
"""

import time

import numpy as np
import pandas as pd
import pytest

from steelyard import open_library
from steelyard.pooling import regress
from steelyard.pooling.dependence import pool_rows

MOST = 20


def rows_of(studies):
    rng = np.random.default_rng(11)
    label = np.repeat(np.arange(studies), 4)
    variance = rng.uniform(0.05, 0.15, label.size)
    return pd.DataFrame(
        {
            "study": label,
            "effect": rng.normal(0.3, 0.2, studies)[label]
            + rng.normal(size=label.size) * np.sqrt(variance),
            "variance": variance,
            "intervention": np.tile(["slow", "heavy", "slow", "heavy"], studies),
            "comparator": "usual",
            "n_intervention": 20.0,
            "n_comparator": 18.0,
            "outcome": np.tile(["press", "press", "pull", "pull"], studies),
            "week": 12.0,
            "contrast": "change",
            "comparator_variance": np.nan,
        }
    )


def growth(benchmark, work):
    few, many = rows_of(2_500), rows_of(25_000)
    work(few)
    times = []
    for _ in range(5):
        begin = time.process_time()
        work(few)
        times.append(time.process_time() - begin)
    benchmark.pedantic(lambda: work(many), rounds=5, warmup_rounds=1)
    ratio = benchmark.stats.stats.min / min(times)
    benchmark.extra_info["growth_over_tenfold"] = round(ratio, 1)
    print(
        f"\n10,000 effects {min(times) * 1e3:.0f} ms, 100,000 effects "
        f"{benchmark.stats.stats.min * 1e3:.0f} ms: {ratio:.1f} times"
    )
    assert ratio < MOST


@pytest.mark.benchmark(timer=time.process_time)
def test_pool_of_effects_within_studies_grows_in_proportion(benchmark):
    question = open_library().questions["slow-lowering-strength"]
    growth(benchmark, lambda rows: pool_rows(question, rows))


@pytest.mark.benchmark(timer=time.process_time)
def test_clustered_regression_grows_in_proportion(benchmark):
    def work(rows):
        weeks = np.resize([4.0, 8.0, 12.0], len(rows))
        regress(rows["effect"], rows["variance"], weeks, study=rows["study"])

    growth(benchmark, work)
