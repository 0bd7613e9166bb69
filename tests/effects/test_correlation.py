import numpy as np
import pytest

from steelyard.effects import correlation_from_z, fisher_z
from steelyard.errors import DesignError


def test_there_and_back():
    r = np.array([-0.9, 0.0, 0.4, 0.99])
    assert correlation_from_z(fisher_z(r, n=np.full(4, 20)).effect) == pytest.approx(r, abs=1e-14)


def test_variance_in_simulation():
    draw = np.random.default_rng(13)
    n, r = 15, 0.6
    x = draw.standard_normal((40_000, n))
    y = r * x + np.sqrt(1 - r**2) * draw.standard_normal((40_000, n))
    x -= x.mean(axis=1, keepdims=True)
    y -= y.mean(axis=1, keepdims=True)
    found = (x * y).sum(axis=1) / np.sqrt((x**2).sum(axis=1) * (y**2).sum(axis=1))
    assert np.arctanh(found).std() == pytest.approx(np.sqrt(fisher_z(r, n=n).variance), rel=0.02)


def test_refusals():
    with pytest.raises(DesignError, match="correlation must lie strictly between -1 and 1; got 1"):
        fisher_z(1.0, n=20)
    with pytest.raises(DesignError, match="n must be greater than 3; got 3"):
        fisher_z(0.5, n=3)
