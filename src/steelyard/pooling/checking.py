"""Refuse what cannot be pooled, naming the argument, the rule and the offending value."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from steelyard.errors import DesignError


def numbers(values, *, name: str, ndim: int) -> np.ndarray:
    """Convert to a float array of `ndim` dimensions (a single number counts as one row)."""
    try:
        array = np.asarray(values, dtype=float)
    except (TypeError, ValueError) as fault:
        raise DesignError(f"{name} must be numbers; {fault}") from None
    if array.ndim < ndim:
        array = array.reshape((1,) * (ndim - array.ndim) + array.shape)
    if array.ndim != ndim:
        raise DesignError(
            f"{name} must have {ndim} dimension{'s' if ndim > 1 else ''}; "
            f"it has {array.ndim} (shape {array.shape})"
        )
    return array


def choice(value, *, name: str, among: Sequence[str]) -> str:
    """Accept one of the listed words."""
    if not isinstance(value, str) or value not in among:
        raise DesignError(f"{name} must be one of {', '.join(among)}; it is {value!r}")
    return str(value)


def level_between_zero_and_one(level) -> float:
    """Accept a level such as 0.95."""
    try:
        number = float(level)
    except (TypeError, ValueError):
        raise DesignError(f"level must lie between 0 and 1; it is {level!r}") from None
    if not 0 < number < 1:
        raise DesignError(f"level must lie between 0 and 1, as 0.95 does; it is {level!r}")
    return number


def present_effects(effect: np.ndarray, variance: np.ndarray, *, names=("effect", "variance")):
    """Say which effects are present; refuse infinite effects and impossible variances.

    An effect of NaN is absent, and its variance is not looked at. A present effect needs a
    finite variance above zero.
    """
    effect_name, variance_name = names
    if effect.shape != variance.shape:
        raise DesignError(
            f"{effect_name} and {variance_name} must have the same shape; "
            f"they have {effect.shape} and {variance.shape}"
        )
    present = ~np.isnan(effect)
    _refuse(np.isinf(effect), effect, effect_name, "must be finite")
    with np.errstate(invalid="ignore"):
        unusable = present & ~((variance > 0) & (variance < np.inf))
    _refuse(unusable, variance, variance_name, "must be finite and above 0")
    return present


def _refuse(offending: np.ndarray, values: np.ndarray, name: str, rule: str) -> None:
    if not offending.any():
        return
    places = np.argwhere(offending)
    shown = ", ".join(
        f"{name}[{', '.join(str(int(i)) for i in place)}] = {values[tuple(place)]:g}"
        for place in places[:5]
    )
    more = f" and {len(places) - 5} more" if len(places) > 5 else ""
    raise DesignError(f"every {name} {rule}; {shown}{more}")
