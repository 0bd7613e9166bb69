"""Refuse settings that make no sense, naming the setting, the rule and the offending value."""

from __future__ import annotations

import math

from steelyard.errors import DesignError


def finite(value, *, name: str) -> float:
    """Accept one finite number."""
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise DesignError(f"{name} must be one number; it is {value!r}") from None
    if not math.isfinite(number):
        raise DesignError(f"{name} must be finite; it is {value!r}")
    return number


def above_zero(value, *, name: str, infinite: bool = False) -> float:
    """Accept one number above 0, finite unless `infinite`."""
    if infinite and value == math.inf:
        return math.inf
    number = finite(value, name=name)
    if number <= 0:
        raise DesignError(f"{name} must be above 0; it is {value!r}")
    return number


def strictly_between(value, *, name: str, low: float, high: float) -> float:
    """Accept one number strictly between two others."""
    number = finite(value, name=name)
    if not low < number < high:
        raise DesignError(f"{name} must lie between {low:g} and {high:g}; it is {value!r}")
    return number


def whole(value, *, name: str, least: int, most: int | None = None) -> int:
    """Accept one whole number from `least` to `most`."""
    number = finite(value, name=name)
    if number != int(number) or number < least or (most is not None and number > most):
        bounds = f"at least {least}" if most is None else f"from {least} to {most}"
        raise DesignError(f"{name} must be a whole number {bounds}; it is {value!r}")
    return int(number)
