"""One layout for numbers that people read."""

from __future__ import annotations

import numpy as np
import pytest

from steelyard.pooling import pool
from steelyard.show import p_text


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
