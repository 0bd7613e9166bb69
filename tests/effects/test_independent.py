import numpy as np
import pytest

from steelyard.effects import Group, mean_difference, standardised_difference
from steelyard.errors import DesignError


def test_swapping_groups_turns_the_sign_only():
    first, second = Group(12, 40.0, 6.0), Group(15, 36.0, 5.0)
    for formula in (mean_difference, standardised_difference):
        one, other = formula(first, second), formula(second, first)
        assert one.effect == pytest.approx(-other.effect, rel=1e-14)
        assert one.variance == pytest.approx(other.variance, rel=1e-14)


def test_change_of_unit():
    kilograms = standardised_difference(Group(12, 40.0, 6.0), Group(15, 36.0, 5.0))
    newtons = standardised_difference(Group(12, 392.4, 58.86), Group(15, 353.16, 49.05))
    assert newtons.effect == pytest.approx(kilograms.effect, rel=1e-12)
    assert newtons.variance == pytest.approx(kilograms.variance, rel=1e-12)


def test_arrays_give_the_same_as_one_at_a_time():
    n, mean, sd = np.array([8, 20]), np.array([10.0, 12.0]), np.array([2.0, 3.0])
    together = standardised_difference(Group(n, mean, sd), Group(n + 2, mean - 1, sd))
    for i in range(2):
        alone = standardised_difference(
            Group(n[i], mean[i], sd[i]), Group(n[i] + 2, mean[i] - 1, sd[i])
        )
        assert together.effect[i] == alone.effect
        assert together.variance[i] == alone.variance


def test_equal_groups_give_the_pooled_degrees_of_freedom():
    assert mean_difference(Group(10, 5.0, 2.0), Group(10, 4.0, 2.0)).df == pytest.approx(18)


def test_g_is_unbiased_and_its_variance_holds_in_simulation():
    draw = np.random.default_rng(5)
    repeats, n, true = 60_000, 12, 0.5
    first = draw.normal(true, 1, (repeats, n))
    second = draw.normal(0, 1, (repeats, n))
    groups = [
        Group(np.full(repeats, n), x.mean(axis=1), x.std(axis=1, ddof=1)) for x in (first, second)
    ]
    found = standardised_difference(*groups, correction="exact")
    # Standard error of the simulated mean is about 0.0017.
    assert found.effect.mean() == pytest.approx(true, abs=0.008)
    # The large-sample variance is 3.6 % short in SE at this size, and less at larger ones.
    assert np.sqrt(found.variance.mean()) == pytest.approx(found.effect.std(), rel=0.05)


def test_no_correction_leaves_d():
    d = standardised_difference(Group(5, 3.0, 1.0), Group(5, 2.0, 1.0), correction="none")
    assert d.effect == pytest.approx(1.0)
    assert "not corrected" in d.method


@pytest.mark.parametrize(
    ("group", "message"),
    [
        (Group(1, 5.0, 2.0), "n of the intervention group must be at least 2; got 1"),
        (Group(10, 5.0, 0.0), "SD of the intervention group must be greater than 0; got 0"),
        (Group(10, 5.0, -1.0), "SD of the intervention group must be greater than 0; got -1"),
        (Group(10, np.nan, 1.0), "mean of the intervention group must be a finite number"),
        (Group(10, "many", 1.0), "mean of the intervention group must be a number; got 'many'"),
    ],
)
def test_refusals(group, message):
    for formula in (mean_difference, standardised_difference):
        with pytest.raises(DesignError, match=message):
            formula(group, Group(10, 4.0, 2.0))


def test_unknown_correction():
    with pytest.raises(DesignError, match="correction must be one of approximate, exact, none"):
        standardised_difference(Group(5, 3.0, 1.0), Group(5, 2.0, 1.0), correction="some")
