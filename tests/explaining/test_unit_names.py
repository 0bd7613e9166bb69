"""Units as people write them."""

from __future__ import annotations

from itertools import combinations

import pytest

from steelyard.explaining.unit_names import SAME, same_unit


@pytest.mark.parametrize(
    ("one", "other"),
    [
        *(("N", "newton"), ("newtons", "N"), ("kg", "Kilogramm"), ("mm", "millimetres")),
        *(
            ("s", "Sekunden"),
            ("N m", "Nm"),
            ("sec.", "s"),
            ("reps in a minute", "Reps in a  minute"),
        ),
    ],
)
def test_one_unit_in_two_ways(one, other):
    assert same_unit(one, other)


@pytest.mark.parametrize(
    ("one", "other"), [("N", "Nm"), ("kg", "lb"), ("mm", "cm"), ("m", "min"), ("N", "kg")]
)
def test_two_units(one, other):
    assert not same_unit(one, other)


def test_no_name_stands_for_two_units():
    assert not any(set(one) & set(other) for one, other in combinations(SAME, 2))
