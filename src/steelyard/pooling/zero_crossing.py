"""Where functions that fall through zero do so, many at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

TOLERANCE = 1e-13


def zero_crossing(
    function: Callable[[np.ndarray, np.ndarray], np.ndarray],
    *,
    low: np.ndarray,
    high: np.ndarray,
    at_low: np.ndarray,
    at_high: np.ndarray,
    scale: np.ndarray,
) -> np.ndarray:
    """Points at which functions change from above zero to not above it.

    Parameters
    ----------
    function : callable
        Given which of the functions, and a point for each, their values there.
    low, high : ndarray, shape (functions,)
        Brackets.
    at_low, at_high : ndarray, shape (functions,)
        Values there: above zero, and not above it.
    scale : ndarray, shape (functions,)
        A point is known once its bracket is narrower than `TOLERANCE` times itself plus this.

    Returns
    -------
    ndarray, shape (functions,)

    Notes
    -----
    Inverse quadratic interpolation through the last three points where they are evenly enough
    spread for it, and halving otherwise [1]_: a handful of values where the function is smooth,
    and never more than about twice as many as halving alone where it is not.

    References
    ----------
    .. [1] Chandrupatla, T. R. (1997). A new hybrid quadratic/bisection algorithm for finding
           the zero of a nonlinear function without using derivatives. Adv Eng Softw 28, 145-149.
    """
    found = np.empty(low.shape)
    which = np.arange(low.size)
    # `new` and `old` always bracket the crossing; `past` is the point before them.
    new, f_new, old, f_old = low, at_low, high, at_high
    share = np.full(low.shape, 0.5)
    for _ in range(300):
        if not which.size:
            break
        point = new + share * (old - new)
        value = function(which, point)
        same = (value > 0) == (f_new > 0)
        past, f_past = np.where(same, new, old), np.where(same, f_new, f_old)
        old, f_old = np.where(same, old, new), np.where(same, f_old, f_new)
        new, f_new = point, value
        closest = np.where(np.abs(f_old) < np.abs(f_new), old, new)
        width = np.abs(old - new)
        room = TOLERANCE * (np.abs(closest) + scale[which]) / np.where(width > 0, width, 1.0)
        known = (width == 0) | (room > 0.5) | (f_new == 0)
        known |= (new + 0.5 * (old - new) == new) | (new + 0.5 * (old - new) == old)
        found[which[known]] = np.where(f_new == 0, new, closest)[known]
        share = _share(new, old, past, f_new, f_old, f_past)
        share = np.clip(share, np.minimum(room, 0.5), 1 - np.minimum(room, 0.5))
        going = ~known
        which, share = which[going], share[going]
        new, f_new, old, f_old = new[going], f_new[going], old[going], f_old[going]
    found[which] = (new + old) / 2
    return found


def _share(new, old, past, f_new, f_old, f_past) -> np.ndarray:
    """How far from `new` towards `old` the next point is, as a fraction."""
    whole = np.where(past != old, past - old, 1.0)
    across = np.where(f_past != f_old, f_past - f_old, 1.0)
    place, rise = (new - old) / whole, (f_new - f_old) / across
    usable = (past != old) & (f_past != f_old) & (f_new != f_past) & (f_new != f_old)
    usable &= (rise**2 < place) & ((1 - rise) ** 2 < 1 - place)
    gap = np.where(usable, f_old - f_new, 1.0)
    other = np.where(usable, f_past - f_new, 1.0)
    span = np.where(usable, f_past - f_old, 1.0)
    width = np.where(new != old, old - new, 1.0)
    smooth = f_new / gap * f_past / -span + (past - new) / width * f_new / other * f_old / span
    return np.where(usable, smooth, 0.5)
