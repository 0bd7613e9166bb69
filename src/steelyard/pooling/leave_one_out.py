"""The pool without each of its studies in turn."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from steelyard.errors import DesignError
from steelyard.pooling.checking import numbers, present_effects
from steelyard.pooling.pool import PoolResult, pool
from steelyard.pooling.pool_many import EFFECTS_AT_ONCE, PoolManyResult, pool_many
from steelyard.show import Shown, count, number
from steelyard.show import interval as shown_interval


@dataclass(frozen=True, slots=True, eq=False)
class LeaveOneOut(Shown):
    """Pools that each leave one effect out; arrays have a place per effect present.

    Attributes
    ----------
    left_out : ndarray of int, shape (k,)
        Index of the effect left out, among those given.
    pooled : PoolManyResult
        One analysis per effect left out. Without `weights`, which would be k × k; their shape
        is (k, 0).
    whole : PoolResult
        With all of them.
    shift : ndarray, shape (k,)
        Estimate without the effect less the estimate with all.
    """

    left_out: np.ndarray
    pooled: PoolManyResult
    whole: PoolResult
    shift: np.ndarray

    def _title(self) -> str:
        return f"Leaving out each of {count(self.left_out.size, 'effect')}"

    def _rows(self) -> list[tuple[str, str]]:
        most = int(np.abs(self.shift).argmax())
        crossing = (self.pooled.low > 0) | (self.pooled.high < 0)
        differ = int((crossing != (self.whole.low > 0 or self.whole.high < 0)).sum())
        level = f"{100 * self.whole.level:g} %"
        return [
            ("with all", f"{number(self.whole.estimate, decimals=3, sign=True)}"),
            (
                "estimates",
                shown_interval(self.pooled.estimate.min(), self.pooled.estimate.max(), decimals=3),
            ),
            (
                "moves most",
                f"{number(self.shift[most], decimals=3, sign=True)} without effect "
                f"{int(self.left_out[most])}",
            ),
            ("direction", f"{level} interval changes side of zero, or reaches it, in {differ}"),
        ]


def leave_one_out(effect, variance, **options) -> LeaveOneOut:
    """Pool k times, each time without one effect, in one sweep.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        Effects and sampling variances; NaN is absent. At least two present.
    **options
        `between`, `interval`, `level` and `allow_narrower` of `pool`.

    Returns
    -------
    LeaveOneOut

    Raises
    ------
    DesignError
        With fewer than two effects, and as in `pool`.
    """
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    left_out = np.flatnonzero(present_effects(y, v))
    if left_out.size < 2:
        raise DesignError(f"leaving one out needs at least 2 effects; there are {left_out.size}")
    whole = pool(y, v, **options)
    pooled = _joined([_without(y, v, part, options) for part in _parts(left_out)])
    return LeaveOneOut(left_out, pooled, whole, pooled.estimate - whole.estimate)


def _parts(left_out: np.ndarray) -> list[np.ndarray]:
    """Few enough at a time for memory to grow in proportion to the effects."""
    at_once = max(1, EFFECTS_AT_ONCE // left_out.size)
    return [left_out[begin : begin + at_once] for begin in range(0, left_out.size, at_once)]


def _without(y: np.ndarray, v: np.ndarray, part: np.ndarray, options: dict) -> PoolManyResult:
    effects = np.repeat(y[None], part.size, axis=0)
    effects[np.arange(part.size), part] = np.nan
    found = pool_many(effects, np.broadcast_to(v, effects.shape), **options)
    return replace(found, weights=np.empty((part.size, 0)))


def _joined(parts: list[PoolManyResult]) -> PoolManyResult:
    columns = {}
    for name in PoolManyResult.__slots__:
        values = [getattr(part, name) for part in parts]
        columns[name] = np.concatenate(values) if np.ndim(values[0]) else values[0]
    return PoolManyResult(**columns)
