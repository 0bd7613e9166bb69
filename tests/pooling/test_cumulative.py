"""Accumulating studies against a plain loop of pools."""

import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.pooling import accumulate, pool

Y = np.array([0.10, 0.42, np.nan, -0.05, 0.61, 0.30])
V = np.array([0.04, 0.09, np.nan, 0.02, 0.12, 0.05])
YEAR = np.array([2012, 2004, 1990, 2012, 2001, 2020])


@pytest.mark.parametrize("between", ["reml", "dl", "common"])
def test_against_a_loop(between):
    found = accumulate(Y, V, order=YEAR, between=between)
    assert found.added.tolist() == [4, 1, 0, 3, 5]
    assert found.order.tolist() == [2001, 2004, 2012, 2012, 2020]
    for step in range(5):
        so_far = found.added[: step + 1]
        alone = pool(Y[so_far], V[so_far], between=between)
        for name in ("estimate", "low", "high", "tau2", "q"):
            ours = getattr(found.pooled, name)[step]
            assert ours == pytest.approx(getattr(alone, name), rel=1e-9, abs=1e-12)
    assert found.pooled.k.tolist() == [1, 2, 3, 4, 5]


def test_last_step_is_the_whole_pool_whatever_the_order():
    whole = pool(Y, V)
    for order in (None, YEAR, -YEAR):
        last = accumulate(Y, V, order=order).pooled.estimate[-1]
        assert last == pytest.approx(whole.estimate, rel=1e-9)
    assert accumulate(Y, V).added.tolist() == [0, 1, 3, 4, 5]


def test_warns_of_repeated_looks_and_ties():
    found = accumulate(Y, V, order=YEAR)
    assert any("one more look" in note for note in found.notes)
    assert any("equal order" in note for note in found.notes)
    assert len(accumulate(Y, V).notes) == 1
    assert accumulate([0.1], [0.2]).notes == ()
    assert "2004" in str(found)


def test_repeated_looks_do_inflate_error():
    """Why the note is there: of ten looks at no effect, far more than 5 % cross zero once."""
    rng = np.random.default_rng(8)
    crossed = 0
    for _ in range(400):
        found = accumulate(rng.normal(0, 0.3, 10), np.full(10, 0.09), between="common")
        crossed += bool(((found.pooled.low > 0) | (found.pooled.high < 0)).any())
    # Armitage, McPherson & Rowe (1969), from memory: 19.3 % for ten looks at 5 %; two standard
    # errors of 400 simulations are 4 points.
    assert crossed / 400 == pytest.approx(0.193, abs=0.06)


def test_refusals():
    with pytest.raises(DesignError, match="at least one value"):
        accumulate([np.nan], [0.1])
    with pytest.raises(DesignError, match="one number per effect"):
        accumulate([0.1, 0.2], [0.1, 0.1], order=[1])
    with pytest.raises(DesignError, match="one number per effect"):
        accumulate([0.1, 0.2], [0.1, 0.1], order=[1, np.nan])
