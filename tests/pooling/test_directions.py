"""Chance agreement among one study's outcomes: integral, simulation and known closed forms."""

from math import asin, comb, pi

import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.pooling import chance_any_significant, chance_same_direction

RHO = [0.0, 0.3, 0.5, 0.9, 0.9999]


@pytest.mark.parametrize("rho", RHO)
def test_two_and_three_outcomes(rho):
    # Sheppard (1899): two normals share a sign with chance 1/2 + asin(r)/pi; three are all
    # positive with chance 1/8 + 3 asin(r)/(4 pi). From memory; any text on orthants.
    two = chance_same_direction(2, at_least=2, correlation=rho).chance
    assert two == pytest.approx(0.5 + asin(rho) / pi, abs=1e-9)
    three = chance_same_direction(3, at_least=3, correlation=rho, way="favourable").chance
    assert three == pytest.approx(1 / 8 + 3 * asin(rho) / (4 * pi), abs=1e-9)


@pytest.mark.parametrize("k", [2, 5, 9, 40])
def test_at_correlation_one_half_every_count_is_as_likely(k):
    # With r = 1/2 the number positive is uniform on 0 … k: each outcome is positive where its
    # own part exceeds an independent copy of the shared one, a matter of ranks.
    chance = chance_same_direction(k, at_least=k, correlation=0.5, way="favourable").chance
    assert chance == pytest.approx(1 / (k + 1), abs=1e-9)


@pytest.mark.parametrize(("k", "m"), [(5, 4), (5, 3), (6, 6), (7, 1)])
def test_without_correlation_it_is_binomial(k, m):
    upper = sum(comb(k, c) for c in range(m, k + 1)) / 2**k
    favourable = chance_same_direction(k, at_least=m, correlation=0, way="favourable").chance
    assert favourable == pytest.approx(upper, abs=1e-9)
    either = chance_same_direction(k, at_least=m, correlation=0).chance
    assert either == pytest.approx(min(2 * upper, 1) if m > k / 2 else 1, abs=1e-9)


@pytest.mark.parametrize("rho", RHO)
def test_integral_and_simulation_agree(rho):
    for k, m in ((3, 3), (8, 6), (8, 8)):
        exact = chance_same_direction(k, at_least=m, correlation=rho)
        simulated = chance_same_direction(k, at_least=m, correlation=rho, method="simulation")
        assert simulated.chance == pytest.approx(exact.chance, abs=4 * simulated.standard_error)
        assert exact.standard_error == 0 < simulated.standard_error < 0.0012
    exact = chance_any_significant(8, correlation=rho)
    simulated = chance_any_significant(8, correlation=rho, method="simulation", seed=5)
    assert simulated.chance == pytest.approx(exact.chance, abs=4 * simulated.standard_error)


def test_one_outcome_and_near_copies():
    assert chance_any_significant(1, correlation=0.4).chance == pytest.approx(0.05, abs=1e-9)
    assert chance_same_direction(1, at_least=1, correlation=0).chance == pytest.approx(1)
    copies = chance_any_significant(10, correlation=1 - 1e-10).chance
    assert copies == pytest.approx(0.05, abs=1e-4)
    assert chance_same_direction(10, at_least=10, correlation=1 - 1e-10).chance > 0.9999


def test_more_correlation_means_more_agreement_and_fewer_finds():
    same = [chance_same_direction(6, at_least=6, correlation=r).chance for r in RHO]
    found = [chance_any_significant(6, correlation=r).chance for r in RHO]
    assert same == sorted(same) and found == sorted(found, reverse=True)


def test_a_matrix_of_correlations():
    # Outcomes 1 and 2 are opposite, so never more than two of three agree.
    matrix = [[1, -1, 0], [-1, 1, 0], [0, 0, 1]]
    three = chance_same_direction(3, at_least=3, correlation=matrix, method="simulation")
    assert three.chance == 0
    two = chance_same_direction(3, at_least=2, correlation=matrix, method="simulation")
    assert two.chance == 1
    even = np.full((4, 4), 0.6) + 0.4 * np.eye(4)
    simulated = chance_same_direction(4, at_least=4, correlation=even, method="simulation")
    exact = chance_same_direction(4, at_least=4, correlation=0.6).chance
    assert simulated.chance == pytest.approx(exact, abs=4 * simulated.standard_error)


def test_seed_fixes_the_simulation_and_text_says_what_it_is():
    one = chance_same_direction(5, at_least=4, correlation=0.5, method="simulation", seed=9)
    two = chance_same_direction(5, at_least=4, correlation=0.5, method="simulation", seed=9)
    assert one == two
    assert "that at least 4 of 5 point the same way" in str(one)
    assert "200,000 studies" in str(one)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"at_least": 6}, "at_least must be a whole number from 1 to 5"),
        ({"at_least": 2.5}, "at_least must be a whole number"),
        ({"correlation": 1.0}, "from 0 to below 1"),
        ({"correlation": -0.1}, "from 0 to below 1"),
        ({"correlation": np.eye(5)}, "simulation"),
        ({"correlation": np.eye(4), "method": "simulation"}, r"shape \(5, 5\)"),
        ({"correlation": np.eye(5) - 0.5, "method": "simulation"}, "1 on its diagonal"),
        (
            {"correlation": 1.5 * np.eye(5) - 0.5, "method": "simulation"},
            "no negative eigenvalue",
        ),
        ({"method": "guess"}, "integral, simulation"),
        ({"way": "down"}, "either, favourable"),
        ({"method": "simulation", "draws": 10}, "draws must be a whole number at least 1000"),
    ],
)
def test_refusals(options, words):
    with pytest.raises(DesignError, match=words):
        chance_same_direction(5, **{"at_least": 4, "correlation": 0.5, **options})
