"""How far standardised effects lean toward zero between studies, and the answer without that.

The variance of a standardised effect is worked out from the effect itself. Of two equally good
studies the one whose effect came out larger by chance gets the larger variance and the smaller
weight, so that an inverse-variance mean leans toward zero, the more so the smaller the studies.
Here the variances are worked out anew at the pooled effect, until it stays: of
``variance = a + b * effect**2`` (`Estimate.per_squared_effect`) each effect keeps its own a, and
all share the pooled effect in the rest. Weights then no longer follow the errors of their own
effects, but for what the SD divided by leaves in a where changes have their own spread.

In simulated trials of 7 to 14 people an arm (r = 0.9, effect 0.9, 20 to 40 studies) own variances
lean by 8 % of the effect and their intervals hold the truth 57 to 80 times in 100; at the pooled
effect that is 2 to 3 % and 91 to 93. The weighing keeps own variances, which a reader can
recompute study by study, and tells this beside it.

Regressions on moderators and curves of dose lean alike, and have each effect's variance worked out
at what the fit expects of it, until the fit stays.

References
----------
.. [1] Hedges, L. V., & Olkin, I. (1985). Statistical Methods for Meta-Analysis. Academic Press,
       chapter 6 (weights at a common estimate, iterated). From memory; the split of the variance
       into a and b is own derivation.
.. [2] Doncaster, C. P., & Spake, R. (2018). Correction for bias in meta-analysis of
       little-replicated studies. Methods in Ecology and Evolution 9, 634-644 (the same idea, all
       studies sharing one mean in their variances). From memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from steelyard.pooling.pool import PoolResult
from steelyard.pooling.pool_nested import NestedPoolResult
from steelyard.show import number

AT_POOLED_EFFECT = "variances worked out at the pooled effect"
AT_FITTED_EFFECTS = "variances worked out at the fitted effects"
WHY_FITTED = (
    "a standardised effect's own variance grows with the effect, which favours small effects; "
    f"{AT_FITTED_EFFECTS}, until the fit stays, do not follow the errors of the effects"
)
UNSETTLED = f"with {AT_FITTED_EFFECTS} the fit does not stay, so no such answer is told"
# Own rules on when to say that it matters. A lean of a quarter of the standard error takes one
# point off a coverage of 95 %; one below 0.005 SD is lost in two printed decimals.
SHARE_OF_ERROR, SHARE_OF_ESTIMATE, LEAST = 0.25, 0.05, 0.005
# What is expected stays when it moves by less than this, in SDs; each round shrinks the step some
# tenfold.
STAYS, ROUNDS = 1e-6, 50

Pooled = PoolResult | NestedPoolResult


def at_pooled_effect(
    rows: pd.DataFrame, pool_again: Callable[[pd.DataFrame], Pooled], *, start: float, per=1.0
) -> Pooled | None:
    """Pool standardised effects with variances worked out at their pooled effect.

    Parameters
    ----------
    rows : DataFrame
        Of an effect table, all to be pooled.
    pool_again : callable
        Pools such rows by their ``effect``, ``variance`` and ``comparator_variance``.
    start : float
        The estimate with own variances.
    per : float or ndarray, shape (k,)
        What a row's expected effect is of the pooled one: 1, or its dose in steps.

    Returns
    -------
    PoolResult, NestedPoolResult or None
        None where no effect's formula tells how it enters its variance. Effects printed with a
        standard error keep that, as do those of which nothing would be left.
    """
    found = at_expected_effects(
        rows, pool_again, expected_of=lambda pooled: per * pooled.estimate, start=per * start
    )
    return None if found is None else found.fit


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """A fit with variances worked out at the effects that it expects.

    Attributes
    ----------
    fit : object
        What the last round gave.
    rows : DataFrame
        The effects with those variances.
    stays : bool
        Whether a further round would not move what is expected; 50 are made at most.
    """

    fit: Any
    rows: pd.DataFrame
    stays: bool


def at_expected_effects(
    rows: pd.DataFrame, fit_again: Callable[[pd.DataFrame], Any], *, expected_of: Callable, start
) -> Settled | None:
    """Fit standardised effects with each one's variance at what the fit expects of it.

    Parameters
    ----------
    rows : DataFrame
        Of an effect table, all to be fitted.
    fit_again : callable
        Fits such rows by their ``effect``, ``variance`` and ``comparator_variance``.
    expected_of : callable
        What a fit expects of each row, float or ndarray of shape (k,).
    start : float or ndarray, shape (k,)
        That of the fit with own variances.

    Returns
    -------
    Settled or None
        None as in `at_pooled_effect`.
    """
    own, effect = rows["variance"].to_numpy(float), rows["effect"].to_numpy(float)
    part = rows["per_squared_effect"].to_numpy(float)
    rest = own - part * effect**2
    known = (part > 0) & (rest > 0)
    if not known.any():
        return None
    at = start
    for _ in range(ROUNDS):
        ratio = np.where(known, (rest + part * np.square(at)) / own, 1.0)
        changed = rows.assign(
            variance=own * ratio, comparator_variance=rows["comparator_variance"] * ratio
        )
        fit = fit_again(changed)
        before, at = at, expected_of(fit)
        if np.max(np.abs(at - before)) <= STAYS:
            return Settled(fit, changed, True)
    return Settled(fit, changed, False)


def matters(estimate: float, other: float, *, standard_error: float) -> bool:
    """Whether a reader could not overlook that an estimate leans, `other` being without it."""
    size = abs(other - estimate)
    tells = size > SHARE_OF_ERROR * standard_error or size > SHARE_OF_ESTIMATE * abs(estimate)
    return bool(size >= LEAST and tells)


def lean_note(pooled: Pooled, other: Pooled | None) -> tuple[str, ...]:
    """What to say where the lean is more than a reader could overlook; `other` is without it."""
    if other is None:
        return ()
    moved = other.estimate - pooled.estimate
    size = abs(moved)
    if not matters(pooled.estimate, other.estimate, standard_error=pooled.standard_error):
        return ()
    return (
        "a standardised effect's own variance grows with the effect, which favours small effects "
        f"also between studies: with {AT_POOLED_EFFECT} the estimate moves by "
        f"{number(moved, decimals=2, sign=True)} SD, "
        f"{number(100 * size / abs(pooled.estimate), decimals=0)} % of it and "
        f"{number(size / pooled.standard_error, decimals=1)} of its standard error",
    )
