"""Covariance held study by study: the same numbers as a whole matrix, at a memory that grows
in proportion to the studies."""

import tracemalloc

import numpy as np
import pandas as pd
import pytest
from scipy.linalg import block_diag

from steelyard.effects import study_covariance
from steelyard.effects.covariance_many import studies_covariance
from steelyard.errors import DesignError
from steelyard.pooling import (
    covariance_blocks,
    leave_one_out,
    pool_nested,
    regress,
    study_influence,
)
from steelyard.pooling.dependence import block, pool_rows, row_blocks
from steelyard.pooling.study_layout import studies_in_order

MEGABYTE = 2**20


def drawn(rng, studies, *, most=4):
    """Studies of one to `most` effects with correlated errors, in mixed order."""
    sizes = rng.integers(1, most + 1, studies)
    label = np.repeat(np.arange(studies), sizes)
    order = rng.permutation(label.size)
    label = label[order]
    v = rng.uniform(0.03, 0.2, label.size)
    places = [np.flatnonzero(label == each) for each in range(studies)]
    blocks = [
        np.sqrt(np.outer(v[rows], v[rows])) * (0.4 + 0.6 * np.eye(rows.size)) for rows in places
    ]
    y = rng.normal(0.3, 0.3, studies)[label] + rng.normal(size=label.size) * np.sqrt(v)
    return y, label, places, blocks


def whole_matrix(places, blocks):
    size = sum(rows.size for rows in places)
    matrix = np.zeros((size, size))
    for rows, part in zip(places, blocks, strict=True):
        matrix[np.ix_(rows, rows)] = part
    return matrix


def rows_of(studies, *, rng):
    """An effect table's rows: two arms against one control, two outcomes, in each study."""
    label = np.repeat(np.arange(studies), 4)
    variance = rng.uniform(0.05, 0.15, label.size)
    return pd.DataFrame(
        {
            "study": label.astype(str),
            "effect": rng.normal(0.3, 0.2, studies)[label]
            + rng.normal(size=label.size) * np.sqrt(variance),
            "variance": variance,
            "intervention": np.tile(["slow", "heavy", "slow", "heavy"], studies),
            "comparator": "usual",
            "n_intervention": np.tile([20.0, 25.0, 20.0, 25.0], studies),
            "n_comparator": np.tile([18.0, 18.0, np.nan, 18.0], studies),
            "outcome": np.tile(["press", "press", "pull", "pull"], studies),
            "week": 12.0,
            "contrast": "change",
            "comparator_variance": np.where(rng.random(label.size) < 0.5, variance / 3, np.nan),
        }
    )


@pytest.mark.parametrize("seed", range(4))
def test_blocks_give_the_numbers_of_the_whole_matrix(seed):
    rng = np.random.default_rng(seed)
    y, label, places, blocks = drawn(rng, 9)
    y[rng.integers(y.size)] = np.nan
    held = pool_nested(y, covariance_blocks(places, blocks), study=label)
    dense = pool_nested(y, whole_matrix(places, blocks), study=label)
    for name in ("estimate", "low", "high", "df", "tau2", "log_likelihood", "q", "notes"):
        assert getattr(held, name) == getattr(dense, name), name
    np.testing.assert_array_equal(held.weights, dense.weights)


def test_a_block_may_hold_several_studies():
    rng = np.random.default_rng(5)
    y, label, places, blocks = drawn(rng, 8)
    joined = [np.concatenate(places[:3]), *places[3:]]
    held = covariance_blocks(joined, [block_diag(*blocks[:3]), *blocks[3:]])
    plain = pool_nested(y, covariance_blocks(places, blocks), study=label)
    assert pool_nested(y, held, study=label).estimate == plain.estimate
    across = block_diag(*blocks[:3])
    across[0, -1] = across[-1, 0] = 0.01
    with pytest.raises(DesignError, match="different studies must be 0"):
        pool_nested(y, covariance_blocks(joined, [across, *blocks[3:]]), study=label)


@pytest.mark.parametrize(
    ("places", "blocks", "words"),
    [
        ([[0], [0]], [np.eye(1)] * 2, "in one block, and in one only"),
        ([[0, 1]], [np.eye(3)], r"must have shape \(2, 2\)"),
        ([[0], [1]], [np.eye(1)], "each block needs its places"),
    ],
)
def test_blocks_that_do_not_fit_are_refused(places, blocks, words):
    with pytest.raises(DesignError, match=words):
        covariance_blocks(places, blocks)
    with pytest.raises(DesignError, match="covariance has 1 effects; 2 are given"):
        pool_nested([0.1, 0.2], covariance_blocks([[0]], [np.eye(1)]), study=[1, 2])


def test_a_table_is_handled_as_study_by_study(shipped):
    question = shipped.questions["slow-lowering-strength"]
    rng = np.random.default_rng(6)
    rows = rows_of(5, rng=rng).sample(frac=1, random_state=1).iloc[2:].reset_index(drop=True)
    rows.loc[rows["study"] == "3", "week"] = [4.0, 8.0, np.nan, np.nan][
        : int((rows["study"] == "3").sum())
    ]
    found = row_blocks(question, rows)
    for places, blocks in zip(found.places, found.blocks, strict=True):
        for part, held in zip(places, blocks, strict=True):
            np.testing.assert_allclose(held, block(question, rows.iloc[part]), atol=1e-15)


def test_effects_of_single_arms_share_people_inside_an_arm_only():
    arms = [["one", "one", "two"]]
    one_by_one = study_covariance(
        [0.1, 0.2, 0.3],
        intervention_arm=arms[0],
        comparator_arm=arms[0],
        n_intervention=[20] * 3,
        n_comparator=[20] * 3,
        outcome=["a", "b", "a"],
        week=[8] * 3,
        r_between_outcomes=0.5,
    )
    coded = np.array([[0, 0, 1]])
    many = studies_covariance(
        [[0.1, 0.2, 0.3]],
        intervention_arm=coded,
        comparator_arm=coded,
        n_intervention=[[20] * 3],
        n_comparator=[[20] * 3],
        outcome=np.array([[0, 1, 0]]),
        week=[[8] * 3],
        r_between_outcomes=0.5,
        comparator_variance=np.full((1, 3), np.nan),
    )
    np.testing.assert_allclose(many[0], one_by_one, atol=1e-15)
    with pytest.raises(DesignError, match="compared with itself"):
        studies_covariance(
            [[0.1, 0.2]],
            intervention_arm=np.array([[0, 1]]),
            comparator_arm=np.array([[0, 2]]),
            n_intervention=[[20, 20]],
            n_comparator=[[20, 20]],
            outcome=np.array([[0, 0]]),
            week=[[8, 8]],
            r_between_outcomes=0.5,
            comparator_variance=np.full((1, 2), np.nan),
        )


def peak(work) -> float:
    """Most memory held at once while working, in MB."""
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1] / MEGABYTE
    finally:
        tracemalloc.stop()


def test_memory_grows_in_proportion_to_the_studies(shipped):
    """From effect table to pool and regression; a k × k matrix of 100,000 would be 80,000 MB."""
    question = shipped.questions["slow-lowering-strength"]
    rng = np.random.default_rng(7)
    few, many = rows_of(2_500, rng=rng), rows_of(25_000, rng=rng)

    def work(rows):
        found = pool_rows(question, rows)
        assert found.studies == len(rows) // 4 and found.interval == "cluster-robust"
        assert found.estimate == pytest.approx(0.3, abs=5 * found.standard_error)
        line = regress(
            rows["effect"],
            rows["variance"],
            np.tile([0.0, 1.0], len(rows) // 2),
            study=rows["study"],
        )
        assert abs(line.coefficients[1]) < 5 * line.standard_errors[1]

    small, large = peak(lambda: work(few)), peak(lambda: work(many))
    assert large < 12 * small
    assert large < 400


def test_leaving_one_out_holds_no_square_of_the_effects():
    rng = np.random.default_rng(8)
    v = rng.uniform(0.03, 0.2, 1_000)
    y = rng.normal(0.3, np.sqrt(v + 0.05))
    # One k × k array of floats would be 7.6 MB, and pooling without each effect needs several.
    assert peak(lambda: leave_one_out(y, v, between="dl")) < 5


def test_influence_holds_no_square_of_the_effects():
    v = np.full(1_000, 0.1)
    assert peak(lambda: study_influence(np.linspace(0, 1, 1_000), v, between="common")) < 5


def test_labels_of_any_kind_keep_their_order_of_appearance():
    labels = [("b", 1), ("a", 2), ("b", 1), 3, "3", 3.0]
    found = studies_in_order(labels, np.array([True, True, True, True, True, True]))
    assert [rows.tolist() for rows in found] == [[0, 2], [1], [3, 5], [4]]
