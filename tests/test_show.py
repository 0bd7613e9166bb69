"""One layout for numbers that people read."""

from __future__ import annotations

import numpy as np
import pytest

from steelyard.pooling import pool
from steelyard.show import about, p_text


@pytest.mark.parametrize(
    ("p", "text"),
    [
        (0.0, "p <0.001"),
        (0.00099, "p <0.001"),
        (0.001, "p 0.001"),
        (0.0456, "p 0.046"),
        (0.9999, "p >0.999"),
        (float("nan"), "p –"),
        (None, "p –"),
    ],
)
def test_a_p_is_never_written_as_0_or_1(p, text):
    assert p_text(p) == text


def test_a_pool_of_studies_far_apart_prints_its_p_as_a_bound():
    shown = str(pool(np.array([0.0, 5.0, 10.0]), np.array([0.01, 0.01, 0.01])))
    assert "p <0.001" in shown
    assert "p 0.000" not in shown


@pytest.mark.parametrize(
    ("amount", "told"),
    [(27_998, "28,000"), (9_960, "10,000"), (1_234, "1,200"), (155, "160"), (64, "64"), (1, "1")],
)
def test_reckoned_counts_have_two_telling_digits(amount, told):
    assert about(amount) == told
