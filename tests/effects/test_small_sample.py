import numpy as np
import pytest
from scipy.special import gamma

from steelyard.effects import small_sample_factor, small_sample_factor_approximate
from steelyard.errors import DesignError


def test_two_degrees_of_freedom_in_closed_form():
    # Γ(1)/(√1·Γ(1/2)) = 1/√π.
    assert small_sample_factor(2) == pytest.approx(1 / np.sqrt(np.pi), rel=1e-14)


def test_gamma_form_written_out():
    df = np.arange(2.0, 60.0)
    written_out = gamma(df / 2) / (np.sqrt(df / 2) * gamma((df - 1) / 2))
    assert small_sample_factor(df) == pytest.approx(written_out, rel=1e-12)


def test_factor_undoes_the_bias_of_one_over_an_sd():
    draw = np.random.default_rng(11)
    df = 6
    sd = np.sqrt(draw.chisquare(df, 400_000) / df)
    # Standard error of the simulated mean is about 0.0006.
    assert small_sample_factor(df) * np.mean(1 / sd) == pytest.approx(1, abs=0.003)


def test_approximation_is_as_close_as_its_docstring_says():
    assert abs(small_sample_factor_approximate(2) - small_sample_factor(2)) < 0.0073
    df = np.arange(10.0, 300.0)
    gap = np.abs(small_sample_factor_approximate(df) - small_sample_factor(df))
    assert gap.max() < 0.0004


def test_limit_of_many_people():
    assert small_sample_factor(1e6) == pytest.approx(1, abs=1e-6)


@pytest.mark.parametrize("factor", [small_sample_factor, small_sample_factor_approximate])
@pytest.mark.parametrize("df", [1, 0, -3, np.nan, [5, 1]])
def test_too_few_degrees_of_freedom(factor, df):
    with pytest.raises(DesignError, match="degrees of freedom"):
        factor(df)


def test_refusal_names_the_index():
    with pytest.raises(DesignError, match=r"greater than 1; got 0\.5 at index 2"):
        small_sample_factor([5, 4, 0.5])
