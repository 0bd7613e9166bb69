"""Medians over the other studies, held against sorting them anew for each study."""

from __future__ import annotations

from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steelyard.judging.integrity.peers import _median_without

VALUES = st.lists(st.sampled_from([0.5, 1.0, 1.5, 2.0, 7.25]), min_size=1, max_size=9)


@given(VALUES)
def test_leaving_any_one_out_gives_the_median_of_the_others(values):
    ordered = sorted(values)
    for at, own in enumerate(ordered):
        others = ordered[:at] + ordered[at + 1 :]
        expected = median(others) if others else None
        assert _median_without(ordered, own) == pytest.approx(expected)
    assert _median_without(ordered, None) == pytest.approx(median(ordered))
