"""The pool as it stood after each further study."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.errors import DesignError
from steelyard.pooling.checking import numbers, present_effects
from steelyard.pooling.pool_many import PoolManyResult, pool_many
from steelyard.show import Shown, count, number
from steelyard.show import interval as shown_interval

REPEATED_LOOKS = (
    "every step is one more look at the same evidence: intervals that are right once are "
    "crossed by chance more often along the way"
)


@dataclass(frozen=True, slots=True, eq=False)
class Accumulated(Shown):
    """Pools of the first study, the first two, and so on; a place per step.

    Attributes
    ----------
    added : ndarray of int, shape (steps,)
        Index of the effect that entered last, among those given.
    order : ndarray, shape (steps,)
        Its place in the ordering given (a year, for example).
    pooled : PoolManyResult
        One analysis per step.
    notes : tuple of str
    """

    added: np.ndarray
    order: np.ndarray
    pooled: PoolManyResult
    notes: tuple[str, ...]

    def _title(self) -> str:
        return f"Pool as {count(self.added.size, 'effect')} accumulated"

    def _rows(self) -> list[tuple[str, str]]:
        pooled = self.pooled
        rows = [
            (
                f"{self.order[step]:g}",
                f"{number(pooled.estimate[step], decimals=3, sign=True)}, "
                f"{shown_interval(pooled.low[step], pooled.high[step], decimals=3)}",
            )
            for step in range(self.added.size)
        ]
        return rows + [("note", note) for note in self.notes]


def accumulate(effect, variance, *, order=None, **options) -> Accumulated:
    """Pool the effects one step after another, in one sweep.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        Effects and sampling variances; NaN is absent and no step.
    order : array_like of float, shape (k,), optional
        Sorted on, ascending, such as the year; equal values enter in the order given, which is
        also the order without this argument.
    **options
        `between`, `interval`, `level` and `allow_narrower` of `pool`.

    Returns
    -------
    Accumulated

    Raises
    ------
    DesignError
        Without any effect, for an order that is not a number per effect, and as in `pool`.
    """
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    present = np.flatnonzero(present_effects(y, v))
    if not present.size:
        raise DesignError(f"effect must have at least one value; {y.size} given, none present")
    key = np.arange(y.size, dtype=float) if order is None else numbers(order, name="order", ndim=1)
    if key.shape != y.shape or np.isnan(key[present]).any():
        raise DesignError(f"order must be one number per effect, {y.size}; it is {key.tolist()}")
    added = present[np.argsort(key[present], kind="stable")]
    entered = np.tri(added.size, dtype=bool)
    pooled = pool_many(
        np.where(entered, y[added], np.nan), np.where(entered, v[added], np.nan), **options
    )
    ties = added.size - np.unique(key[added]).size
    notes = (REPEATED_LOOKS,) if added.size > 1 else ()
    if ties:
        notes += ("effects of equal order enter one at a time, as given",)
    return Accumulated(added, key[added], pooled, notes)
