"""Leaving out, accumulating and influence, each against a plain loop of pools."""

import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.pooling import leave_one_out, pool

Y = np.array([0.10, 0.42, np.nan, -0.05, 0.61, 0.30, -0.4])
V = np.array([0.04, 0.09, np.nan, 0.02, 0.12, 0.05, 0.3])
PRESENT = np.flatnonzero(~np.isnan(Y))
BETWEEN = ["reml", "dl", "pm", "ml", "common"]


@pytest.mark.parametrize("between", BETWEEN)
@pytest.mark.parametrize("interval", ["knapp-hartung", "normal"])
def test_against_a_loop(between, interval):
    found = leave_one_out(Y, V, between=between, interval=interval, level=0.9)
    assert found.left_out.tolist() == PRESENT.tolist()
    for row, place in enumerate(PRESENT):
        kept = [p for p in PRESENT if p != place]
        alone = pool(Y[kept], V[kept], between=between, interval=interval, level=0.9)
        for name in ("estimate", "low", "high", "tau2", "q", "prediction_low", "i2"):
            ours = getattr(found.pooled, name)[row]
            assert ours == pytest.approx(getattr(alone, name), rel=1e-9, abs=1e-12, nan_ok=True)
        assert found.shift[row] == pytest.approx(alone.estimate - found.whole.estimate)


def test_common_effect_in_closed_form():
    """Without effect i the mean is ``(mean - h y)/(1 - h)``, h being its weight."""
    found = leave_one_out(Y, V, between="common")
    h = found.whole.weights[PRESENT]
    expected = (found.whole.estimate - h * Y[PRESENT]) / (1 - h)
    assert found.pooled.estimate == pytest.approx(expected, rel=1e-12)


def test_two_effects_leave_one_each():
    found = leave_one_out([0.1, 0.5], [0.04, 0.09])
    assert found.pooled.estimate.tolist() == [0.5, 0.1]
    assert found.pooled.k.tolist() == [1, 1]


@pytest.mark.parametrize(
    ("y", "v"),
    [([0.3] * 5, [0.01, 0.1, 0.2, 0.3, 0.4]), ([0, 90, -80], [1e-8, 1, 1]), ([1, 2], [1e-8, 1])],
)
def test_hard_data_stay_finite(y, v):
    found = leave_one_out(y, v)
    assert np.isfinite([found.pooled.estimate, found.pooled.low, found.shift]).all()


def test_shows_which_effect_matters_most():
    text = str(leave_one_out(Y, V))
    assert "6 effects" in text and "without effect 3" in text


def test_refusals():
    with pytest.raises(DesignError, match="at least 2 effects; there are 1"):
        leave_one_out([0.1, np.nan], [0.1, 0.1])
    with pytest.raises(DesignError, match="between must be one of"):
        leave_one_out([0.1, 0.2], [0.1, 0.1], between="best")
    with pytest.raises(DesignError, match=r"variance\[1\] = 0"):
        leave_one_out([0.1, 0.2], [0.1, 0.0])
