import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steelyard.effects import (
    Group,
    comparison_correlation,
    mean_difference,
    outcome_correlation,
    shared_control_covariance,
    shared_control_covariance_raw,
    study_covariance,
)
from steelyard.errors import DesignError

# Plant growth under a control and two treatments, open data (PlantGrowth), ten plants each.
CONTROL = Group(10, 5.032, 0.5830913783924057)
FIRST = Group(10, 4.661, 0.7936756964347033)
SECOND = Group(10, 5.526, 0.44257328332278606)
POOLED_SD = 0.6233746272715356  # over all three groups, from the raw data


def test_gleser_and_olkin_on_open_data():
    d = [(group.mean - CONTROL.mean) / POOLED_SD for group in (FIRST, SECOND)]
    found = shared_control_covariance(d, n_intervention=[10, 10], n_control=10)
    # Gleser & Olkin (2009), eq. 19.19-19.20, from memory, recomputed from the formula.
    assert found[0, 0] == pytest.approx(0.2059033, abs=1e-6)
    assert found[1, 1] == pytest.approx(0.2104666, abs=1e-6)
    assert found[0, 1] == found[1, 0] == pytest.approx(0.0921395, abs=1e-6)


def test_raw_covariance_on_open_data():
    variances = [mean_difference(group, CONTROL).variance for group in (FIRST, SECOND)]
    found = shared_control_covariance_raw(variances, control_sd=CONTROL.sd, n_control=10)
    # s_C²/n_C, recomputed; with the SD pooled over all groups it is the covariance of the two
    # contrasts in least squares, 0.0388596.
    assert found[0, 1] == pytest.approx(0.0339996, abs=1e-6)
    assert np.diag(found) == pytest.approx([0.0969917, 0.0535867], abs=1e-6)
    pooled = shared_control_covariance_raw(variances, control_sd=POOLED_SD, n_control=10)
    assert pooled[0, 1] == pytest.approx(0.0388596, abs=1e-6)


def _shared_control(variance, **sizes):
    return study_covariance(
        variance,
        intervention_arm=["a", "b"],
        comparator_arm=["control", "control"],
        outcome=["press", "press"],
        week=[12, 12],
        r_between_outcomes=0.6,
        **sizes,
    )


def test_shared_control_is_exact_for_pooled_variances():
    n = np.array([10, 14])
    variance = POOLED_SD**2 * (1 / n + 1 / 12)
    found = _shared_control(variance, n_intervention=n, n_comparator=[12, 12])
    assert found[0, 1] == pytest.approx(POOLED_SD**2 / 12, rel=1e-12)


def test_shared_control_nears_gleser_and_olkin_for_small_effects():
    exact = shared_control_covariance([0.1, 0.2], n_intervention=[10, 10], n_control=10)
    found = _shared_control(np.diag(exact), n_intervention=[10, 10], n_comparator=[10, 10])
    assert found[0, 1] == pytest.approx(exact[0, 1], rel=0.01)


def test_shared_control_in_simulation():
    draw = np.random.default_rng(15)
    control, first, second = (draw.normal(0, 1, (60_000, n)).mean(axis=1) for n in (8, 12, 16))
    found = comparison_correlation(
        intervention_arm=["a", "b"],
        comparator_arm=["c", "c"],
        n_intervention=[12, 16],
        n_comparator=[8, 8],
    )
    simulated = np.corrcoef(first - control, second - control)[0, 1]
    assert found[0, 1] == pytest.approx(simulated, abs=0.01)


def test_change_scores_scale_by_the_pre_post_correlation():
    found = shared_control_covariance(
        [0.0, 0.0], n_intervention=[10, 10], n_control=10, r_pre_post=0.9
    )
    assert found[0, 1] == pytest.approx(2 * (1 - 0.9) / 10, rel=1e-12)


def test_comparisons_without_a_common_arm_are_independent():
    found = comparison_correlation(
        intervention_arm=["a", "b"],
        comparator_arm=["c", "d"],
        n_intervention=[10, 10],
        n_comparator=[10, 10],
    )
    assert found == pytest.approx(np.eye(2))


def test_an_arm_on_opposite_sides_turns_the_sign():
    found = comparison_correlation(
        intervention_arm=["a", "b"],
        comparator_arm=["b", "c"],
        n_intervention=[10, 10],
        n_comparator=[10, 10],
    )
    assert found[0, 1] == pytest.approx(-0.5)


def test_outcomes_and_weeks():
    found = outcome_correlation(
        outcome=["press", "press", "squat"], week=[6, 12, 12], r_between_outcomes=0.6
    )
    assert found.tolist() == [[1.0, 0.6, 0.6], [0.6, 1.0, 0.6], [0.6, 0.6, 1.0]]


_ARMS = st.sampled_from(["a", "b", "c"])
_ROW = st.tuples(
    _ARMS,
    _ARMS,
    st.integers(2, 40),
    st.integers(2, 40),
    st.sampled_from(["press", "squat", "thickness"]),
    st.sampled_from([6, 12]),
    st.floats(0.001, 2),
).filter(lambda row: row[0] != row[1])


@settings(max_examples=60, deadline=None)
@given(rows=st.lists(_ROW, min_size=1, max_size=8), r=st.floats(0, 1))
def test_always_positive_semi_definite_with_the_variances_on_the_diagonal(rows, r):
    first, second, n_first, n_second, outcome, week, variance = zip(*rows, strict=True)
    found = study_covariance(
        variance,
        intervention_arm=first,
        comparator_arm=second,
        n_intervention=n_first,
        n_comparator=n_second,
        outcome=outcome,
        week=week,
        r_between_outcomes=r,
    )
    assert np.diag(found) == pytest.approx(variance, rel=1e-14)
    assert np.allclose(found, found.T)
    assert np.linalg.eigvalsh(found).min() >= -1e-12 * max(variance) * len(rows)


def test_refusals():
    with pytest.raises(DesignError, match="cannot be compared with itself; got 'a' at 0"):
        comparison_correlation(
            intervention_arm=["a"], comparator_arm=["a"], n_intervention=[9], n_comparator=[9]
        )
    with pytest.raises(DesignError, match="one length; got 2 and 1"):
        _shared_control([0.1, 0.1], n_intervention=[10], n_comparator=[10, 10])
    with pytest.raises(DesignError, match=r"variance must be greater than 0; got 0 at index 1"):
        _shared_control([0.1, 0.0], n_intervention=[10, 10], n_comparator=[10, 10])
    with pytest.raises(DesignError, match="correlation between outcomes must lie within 0 to 1"):
        outcome_correlation(outcome=["press"], week=[6], r_between_outcomes=-0.1)


def test_effects_of_single_arms_share_people_only_inside_an_arm():
    # Correlations inside groups: two outcomes of one arm correlate at r, two arms not at all.
    found = study_covariance(
        [0.04, 0.09, 0.04],
        intervention_arm=["a", "a", "b"],
        comparator_arm=["a", "a", "b"],
        n_intervention=[20, 20, 20],
        n_comparator=[1, 1, 1],
        outcome=["x", "y", "x"],
        week=[12, 12, 12],
        r_between_outcomes=0.5,
    )
    assert found == pytest.approx(np.array([[0.04, 0.03, 0], [0.03, 0.09, 0], [0, 0, 0.04]]))
