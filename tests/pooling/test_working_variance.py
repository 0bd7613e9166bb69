"""Inside a study no effect is favoured for having come out small."""

import numpy as np
import pandas as pd
import pytest

from steelyard.effects.table import build_table
from steelyard.pooling.choices_rows import Reducer
from steelyard.pooling.composite import composite
from steelyard.pooling.dependence import pool_rows, row_blocks
from steelyard.pooling.weigh import weigh
from steelyard.pooling.working_variance import row_variances, working_variances
from steelyard.records.question import Question
from steelyard.records.study import Study

ASKED = {
    "id": "asked",
    "asks": "Does slow lowering help?",
    "intervention": "slow",
    "comparator": "usual",
    "constructs": ["strength"],
    "assume": {"r_between_outcomes": 0.6},
}
R = 0.9


def asked(**more) -> Question:
    return Question.model_validate(ASKED | more)


def simulated(rng, name: str, *, truth: float, outcomes: int, printed: str) -> Study:
    """One trial of correlated outcomes, from the people up: `truth` in SDs before training.

    ``printed`` is what the paper gives beside means and SDs: the pre-post correlation, or the SD
    of the changes.
    """
    n = int(rng.integers(10, 25))
    root = np.linalg.cholesky(0.6 + 0.4 * np.eye(outcomes))
    truth = truth + rng.normal(0, 0.1)
    results = []
    for arm, gain in (("slow", truth), ("usual", 0.0)):
        before = rng.normal(size=(n, outcomes)) @ root.T
        gained = 20 * (rng.normal(size=(n, outcomes)) @ root.T * np.sqrt(2 * (1 - R)) + gain)
        before = 100 + 20 * before
        for place in range(outcomes):
            cells = {"pre": _moments(before[:, place])}
            if printed == "r":
                cells |= {"post": _moments((before + gained)[:, place]), "r": R}
            else:
                cells |= {"change": _moments(gained[:, place])}
            results.append({"outcome": f"o{place}", "arm": arm, "week": 12, **cells})
    measured = [
        {"id": f"o{place}", "construct": "strength", "unit": "N", "better": "higher"}
        for place in range(outcomes)
    ]
    return Study.model_validate(
        {
            "schema": 1,
            "id": name,
            "source": {
                "title": f"Invented study {name}",
                "author": [{"family": "Invented"}],
                "issued": 2020,
            },
            "design": {"kind": "parallel", "randomised": True},
            "arm": [{"id": arm, "tags": [arm], "n": n} for arm in ("slow", "usual")],
            "outcome": measured,
            "result": results,
        }
    )


def _moments(values) -> dict:
    return {"mean": round(float(values.mean()), 4), "sd": round(float(values.std(ddof=1)), 4)}


@pytest.mark.parametrize(("truth", "printed"), [(0.9, "change"), (0.5, "r")])
def test_pools_of_simulated_records_find_the_truth(truth, printed):
    # 160 trials of six outcomes, read from records; 150 pools of eight of them. The mean of all
    # trials lies within 0.014 of the truth (SD); 95 % coverage in 150 has a binomial SD of 1.8
    # points. With each effect's own variance the same pools fall 12 % and 9 % short, and those
    # at 0.9 hold the truth 69 times in 100. What is left is the known lean of inverse-variance
    # weights between studies, 2 % of the effect.
    rng = np.random.default_rng(7)
    question = asked()
    trials = [simulated(rng, f"s{k}", truth=truth, outcomes=6, printed=printed) for k in range(160)]
    rows = build_table(question, trials).rows
    places = rows.groupby("study", sort=False).indices
    found, held = [], 0
    for _ in range(150):
        drawn = rng.choice(160, size=8, replace=False)
        pooled = pool_rows(question, rows.iloc[np.concatenate([places[f"s{k}"] for k in drawn])])
        found.append(pooled.estimate)
        held += pooled.low <= truth <= pooled.high
    assert np.mean(found) == pytest.approx(truth, abs=0.04 * truth)
    assert 0.92 <= held / 150 <= 0.98


def small_rows(**columns) -> pd.DataFrame:
    made = {
        "study": ["a", "a", "a", "b"],
        "contrast": ["change", "change", "post", "change"],
        "variance": [0.04, 0.08, 0.2, 0.05],
        "n_intervention": [10.0, 10.0, 10.0, 12.0],
        "n_comparator": [10.0, 10.0, 10.0, 12.0],
    }
    return pd.DataFrame(made | columns)


def test_variances_are_shared_by_what_compares_the_same_thing():
    found = row_variances(small_rows(), metric="standardised")
    assert found == pytest.approx([0.06, 0.06, 0.2, 0.05])
    # By hand: f = 1/10 + 1/10 and 1/20 + 1/20; 0.12 split 2 to 1.
    other = small_rows(n_intervention=[10.0, 20.0, 10.0, 12.0], n_comparator=[10.0, 20.0, 10, 12])
    found = row_variances(other, metric="standardised")
    assert found == pytest.approx([0.08, 0.04, 0.2, 0.05])
    unknown = small_rows(n_intervention=[10.0, np.nan, 10.0, 12.0])
    found = row_variances(unknown, metric="standardised")
    assert found == pytest.approx([0.06, 0.06, 0.2, 0.05])


@pytest.mark.parametrize("metric", ["raw", "percent", "correlation", "odds-ratio"])
def test_metrics_that_the_effect_does_not_enter_keep_their_variances(metric):
    rows = small_rows()
    assert row_variances(rows, metric=metric) == pytest.approx(rows["variance"], rel=0)


def test_the_sum_of_variances_and_that_of_a_study_mean_stay():
    # With equal numbers of people and one correlation, the variance of a study's mean differs
    # only by (sum sqrt v)^2 against k sum v: 1 % here, and never less.
    rng = np.random.default_rng(3)
    variance = rng.uniform(0.03, 0.05, 6)
    same = {"study": ["a"] * 6, "contrast": ["change"] * 6}
    evened = working_variances(
        variance, **same, n_intervention=np.full(6, 15.0), n_comparator=np.full(6, 15.0)
    )
    assert evened.sum() == pytest.approx(variance.sum(), rel=1e-12)
    correlation = 0.6 + 0.4 * np.eye(6)
    own, even = (
        composite(np.zeros(6), covariance=correlation * np.sqrt(np.outer(v, v))).variance
        for v in (variance, evened)
    )
    assert own <= even <= 1.02 * own


def test_every_choice_weights_a_study_as_the_weighing_does():
    # Two routes to one study's part of the answer: the pool's own blocks, and the reducer that
    # the thousands of choices go through.
    rng = np.random.default_rng(5)
    question = asked()
    trials = [simulated(rng, f"s{k}", truth=0.9, outcomes=4, printed="change") for k in range(6)]
    rows = build_table(question, trials).rows
    reducer = Reducer(rows, [each.id for each in trials], step=None, correlations={})
    found = reducer.effects(np.ones(len(rows), dtype=bool), r_between_outcomes=0.6)
    blocks = row_blocks(question, rows, variance=row_variances(rows, metric="standardised"))
    for rows_of, block in zip(blocks.places[0], blocks.blocks[0], strict=True):
        study = found[int(rows["study"].iloc[rows_of[0]][1:])]
        assert study.effects == pytest.approx(rows["effect"].to_numpy()[rows_of], rel=0)
        np.testing.assert_allclose(study.covariance, block, rtol=1e-12)


def test_the_weighing_says_so_where_it_matters():
    rng = np.random.default_rng(5)
    trials = [simulated(rng, f"s{k}", truth=0.9, outcomes=4, printed="change") for k in range(6)]
    told = {
        metric: str(weigh(asked(metric=metric), build_table(asked(metric=metric), trials)))
        for metric in ("standardised", "percent")
    }
    assert "weighted by their mean variance" in told["standardised"]
    assert "mean variance" not in told["percent"]
