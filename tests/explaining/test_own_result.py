"""One person's before and after: error, evidence and both together."""

from __future__ import annotations

import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.explaining.own_result import own_result, smallest_detectable_change


def test_the_worked_update():
    """Evidence 5 ± 6 %, observed 9 %, typical error 4.2 % → 7.0 ± 4.2 %, 51 % of the weight on
    the own result. Given to two figures; the arithmetic of two normal distributions."""
    found = own_result(100, 109, typical_error=4.2, unit="%", expected=5, expected_sd=6)
    assert found.likely == pytest.approx(7.0, abs=0.05)
    assert found.likely_sd == pytest.approx(4.2, abs=0.05)
    assert found.weight_on_own == pytest.approx(0.51, abs=0.005)


def test_the_update_by_simulation():
    generator = np.random.default_rng(3)
    true = generator.normal(5, 6, 4_000_000)
    seen = true + generator.normal(0, 4.2 * 2**0.5, true.size)
    kept = true[np.abs(seen - 9) < 0.05]
    found = own_result(
        100, 109, typical_error=4.2, unit="%", expected=5, expected_sd=6, worthwhile=4
    )
    error = kept.std() / kept.size**0.5
    assert found.likely == pytest.approx(kept.mean(), abs=4 * error)
    assert found.likely_sd == pytest.approx(kept.std(), rel=0.02)
    assert found.chance_worthwhile == pytest.approx((kept > 4).mean(), abs=0.01)


def test_evidence_without_weight_leaves_the_own_result():
    found = own_result(100, 109, typical_error=4.2, expected=5, expected_sd=1e6)
    assert found.likely == pytest.approx(9, abs=1e-6)
    assert found.likely_sd == pytest.approx(found.error, rel=1e-6)


def test_a_change_within_error_is_never_called_real():
    least = smallest_detectable_change(4.2)
    for change in 0.999 * np.linspace(-least, least, 41):
        found = own_result(100, 100 + change, typical_error=4.2, unit="kg")
        assert not found.beyond_error
        assert "does not show a gain or a loss" in found.sentence
        for word in ("real", "was measured", "improved"):
            assert word not in str(found)
    assert own_result(100, 100 + least * 1.01, typical_error=4.2).beyond_error
    assert "a loss was measured" in own_result(100, 88, typical_error=4.2).sentence


def test_repeated_trials_make_error_smaller():
    one = own_result(100, 109, typical_error=4)
    four = own_result([99, 101, 100, 100], [108, 110, 109, 109], typical_error=4)
    assert four.error == pytest.approx(one.error / 2)
    assert (one.change, four.change) == (9, 9)


def test_lower_may_be_better():
    found = own_result(10, 8, typical_error=0.2, better="lower", unit="s")
    assert found.change == 2
    assert "a gain was measured" in found.sentence


def test_warnings_are_there():
    text = str(own_result(100, 109, typical_error=4, expected=5, expected_sd=6))
    assert "regression to the mean" in text
    assert "One person is not a trial" in text


@pytest.mark.parametrize(
    "words",
    [
        {"typical_error": 0},
        {"typical_error": "4 kg"},
        {"typical_error": 4, "expected": 3},
        {"typical_error": 4, "expected": 3, "expected_sd": 0},
        {"typical_error": 4, "better": "up"},
        {"typical_error": 4, "worthwhile": -1},
    ],
)
def test_bad_numbers_are_refused(words):
    with pytest.raises(DesignError):
        own_result(100, 109, **words)
    with pytest.raises(DesignError):
        own_result([], 109, typical_error=4)
    with pytest.raises(DesignError):
        own_result("a hundred", 109, typical_error=4)
