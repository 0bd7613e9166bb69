"""Rounding: no more digits than the interval supports, and no end moved onto zero."""

from __future__ import annotations

import numpy as np
import pytest

from steelyard.explaining.wording.rounding import out_of_100, rounded_to_support


@pytest.mark.parametrize(
    ("value", "low", "high", "shown"),
    [
        (16.387, 12.277, 20.496, (16, 12, 20)),
        (0.972, -0.994, 2.938, (1, -1, 3)),
        (0.2446, 0.1455, 0.3443, (0.24, 0.15, 0.34)),
        (16.3, -18.7, 51.3, (20, -20, 50)),
        (5.0, 0.4, 12.0, (5.0, 0.4, 12.0)),
    ],
)
def test_by_hand(value, low, high, shown):
    assert rounded_to_support(value, low, high, low=low, high=high).values == pytest.approx(shown)


def test_over_a_wide_grid():
    generator = np.random.default_rng(8)
    for _ in range(3000):
        size = 10 ** generator.uniform(-3, 4)
        low, high = sorted(generator.normal(0, size, 2))
        found = rounded_to_support(low, high, low=low, high=high)
        half = (high - low) / 2
        for end, shown in zip((low, high), found.values, strict=True):
            assert abs(shown - end) <= found.step / 2 + 1e-9
            assert found.step <= half / 1.5 * (1 + 1e-9)
            # An end that tells a direction keeps it, unless it is next to nothing.
            if abs(end) > half / 150:
                assert np.sign(shown) == np.sign(end)


def test_people_are_whole_and_few_are_not_none():
    told = [out_of_100(value) for value in (0, 0.2, 50.4, 99.8, 100, 104)]
    assert told == [0, 1, 50, 99, 100, 100]
