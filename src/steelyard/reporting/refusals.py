"""Rules a number must meet before a formula sees it; each refusal names it, the rule, the value."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from steelyard.errors import DesignError


def _refuse_where(offends, name, rule, value):
    """Raise for the first element that offends; say its index when there are several."""
    # Most are single numbers, for which the general test takes much longer than the rule itself.
    if not (offends if np.ndim(offends) == 0 else np.any(offends)):
        return
    value, offends = np.broadcast_arrays(value, offends)
    if value.ndim == 0:
        raise DesignError(f"{name} {rule}; got {value[()]:g}")
    index = tuple(int(i) for i in np.argwhere(offends)[0])
    place = index[0] if len(index) == 1 else index
    raise DesignError(f"{name} {rule}; got {value[index]:g} at index {place}")


def finite(value, name):
    """`value` as a float array; refuse what is not a finite number."""
    if type(value) in (float, np.float64) and math.isfinite(value):
        return np.float64(value)
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise DesignError(f"{name} must be a number; got {value!r}") from None
    _refuse_where(~np.isfinite(array), name, "must be a finite number", array)
    return array[()]


def at_least(value, lowest, name):
    """`value` as a float array; refuse anything below `lowest`."""
    array = finite(value, name)
    _refuse_where(array < lowest, name, f"must be at least {lowest:g}", array)
    return array


def above(value, bound, name):
    """`value` as a float array; refuse anything not greater than `bound`."""
    array = finite(value, name)
    _refuse_where(array <= bound, name, f"must be greater than {bound:g}", array)
    return array


def between(value, low, high, name):
    """`value` as a float array; refuse anything not strictly between `low` and `high`."""
    array = finite(value, name)
    offends = (array <= low) | (array >= high)
    _refuse_where(offends, name, f"must lie strictly between {low:g} and {high:g}", array)
    return array


def within(value, low, high, name):
    """`value` as a float array; refuse anything outside `low` to `high`, ends allowed."""
    array = finite(value, name)
    low, high = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    offends = (array < low) | (array > high)
    bounds = f"{low:g} to {high:g}" if low.ndim == high.ndim == 0 else "its allowed range"
    _refuse_where(offends, name, f"must lie within {bounds}", array)
    return array


def ascending(*named_values):
    """Refuse values that are not in rising order; each argument is a (name, value) pair."""
    for (low_name, low), (high_name, high) in pairwise(named_values):
        _refuse_where(
            np.asarray(low) > np.asarray(high),
            low_name,
            f"must not exceed {high_name} ({np.asarray(high).ravel()[0]:g})"
            if np.ndim(high) == 0
            else f"must not exceed {high_name}",
            np.asarray(low, dtype=float),
        )


def one_of(choice, allowed, name):
    """`choice` unchanged; refuse a word that is not in `allowed`."""
    if choice not in allowed:
        raise DesignError(f"{name} must be one of {', '.join(allowed)}; got {choice!r}")
    return choice
