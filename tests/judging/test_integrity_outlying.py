"""Effects far from their peers."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from steelyard.judging.integrity import outlying_effects, suspect_results
from steelyard.judging.integrity.outlying import robust_z


def table(effects, variances=None, **columns):
    k = len(effects)
    return pd.DataFrame(
        {
            "study": [f"study-{index}" for index in range(k)],
            "comparison": "slow vs usual",
            "outcome": "peak",
            "metric": "standardised",
            "effect": np.asarray(effects, float),
            "variance": np.full(k, 0.04) if variances is None else np.asarray(variances, float),
        }
        | columns
    )


SOUND = [0.1, 0.2, 0.3, 0.4, 0.5]


def test_limit_from_both_sides():
    # Others: median 0.3, MAD 0.1, (0.1/0.6745)² = 0.022 < 0.04, so all spread is sampling and
    # z = (y − 0.3)/0.2: 3.5 at y = 1.0. Own arithmetic.
    assert robust_z([*SOUND, 1.0], np.full(6, 0.04))[-1] == pytest.approx(3.5)
    assert not outlying_effects(table([*SOUND, 0.99]))
    (found,) = outlying_effects(table([*SOUND, 1.01]))
    assert (found.study, found.outcome, found.suspect) == ("study-5", "peak", True)
    assert (found.file, found.severity) == ("studies/study-5.toml", "warning")
    assert suspect_results([found]).keys() == {("study-5", "peak")}


def test_pooled_differences_of_11_and_14_stand_out():
    # Kadlec, Sainani & Nimphius (2023) Sports Med 53:313-325, doi 10.1007/s40279-022-01766-0:
    # implausible outliers, extreme examples 11 and 14: confirmed in a stored public page.
    for extreme in (11.0, 14.0):
        (found,) = outlying_effects(table([*SOUND, extreme], [*[0.04] * 5, 1.5]))
        assert found.study == "study-5"


def test_real_spread_between_studies_is_not_an_outlier():
    spread = [-0.6, -0.2, 0.2, 0.6, 1.0, 1.6]
    assert not outlying_effects(table(spread))


def test_false_alarms_are_few_and_shifts_are_found():
    random = np.random.default_rng(5)
    alarms = hits = 0
    for _ in range(100):
        variances = random.uniform(0.05, 0.2, 12)
        effects = 0.3 + random.normal(0, np.sqrt(variances + 0.03))
        alarms += len(outlying_effects(table(effects, variances)))
        effects[0] += 4.0
        hits += any(f.study == "study-0" for f in outlying_effects(table(effects, variances)))
    assert alarms / (100 * 12) < 0.01
    assert hits / 100 > 0.95


@pytest.mark.parametrize("k", [0, 1, 4])
def test_few_effects_show_none(k):
    assert outlying_effects(table([0.1, 0.2, 0.3, 50.0][:k])) == []


def test_metrics_are_kept_apart_and_gaps_passed_over():
    raw = table([30.0, 31.0, 29.0, 32.0, 30.5], np.full(5, 4.0), metric="raw")
    both = pd.concat([table([*SOUND, np.nan], [0.04] * 5 + [np.inf]), raw], ignore_index=True)
    assert outlying_effects(both) == []
    assert outlying_effects(pd.DataFrame({"study": ["a"]})) == []
