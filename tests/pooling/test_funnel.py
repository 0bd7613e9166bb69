"""Contour funnel data."""

import numpy as np
import pytest
from scipy import stats

from steelyard.errors import DesignError
from steelyard.pooling import funnel, pool

Y = np.array([0.10, 0.62, np.nan, -0.05, 0.61])
V = np.array([0.04, 0.09, np.nan, 0.02, 0.04])


def test_contours_are_two_sided_p_values():
    found = funnel(Y, V)
    p = 2 * stats.norm.sf(np.abs(found.effect) / found.standard_error)
    expected = [(p > 1 - level).tolist() for level in (0.90, 0.95, 0.99)]
    assert found.inside.tolist() == np.sum(expected, axis=0).tolist()
    # Two-sided normal points (any table): 1.645, 1.960, 2.576.
    widest = found.contour_high[:, -1] / found.contour_standard_error[-1]
    assert widest == pytest.approx([1.6448536, 1.9599640, 2.5758293], rel=1e-6)
    assert (found.contour_low == -found.contour_high).all()


def test_shape_and_centre():
    found = funnel(Y, V)
    assert found.place.tolist() == [0, 1, 3, 4]
    assert found.contour_low.shape == (3, found.contour_standard_error.size)
    assert found.contour_standard_error[0] == 0
    assert found.contour_standard_error[-1] > found.standard_error.max()
    assert found.centre == pool(Y, V).estimate


def test_about_another_value():
    moved, plain = funnel(Y + 1, V, no_effect=1.0), funnel(Y, V)
    assert moved.inside.tolist() == plain.inside.tolist()
    assert moved.contour_low == pytest.approx(plain.contour_low + 1)


def test_refusals():
    with pytest.raises(DesignError, match="levels must be different"):
        funnel(Y, V, levels=[0.95, 0.95])
    with pytest.raises(DesignError, match="at least one"):
        funnel(Y, V, levels=[])
    with pytest.raises(DesignError, match="level must lie between"):
        funnel(Y, V, levels=[95])
    with pytest.raises(DesignError, match="at least one value"):
        funnel([np.nan], [1.0])
