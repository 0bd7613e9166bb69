"""What size of effect a study, or a pool as it stands, could settle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from scipy.special import chdtri, ndtr, ndtri, stdtrit

from steelyard.errors import DesignError
from steelyard.pooling.checking import level_between_zero_and_one
from steelyard.pooling.checking_settings import above_zero, strictly_between
from steelyard.pooling.pool import pool
from steelyard.show import Shown, number

# Equivalence is two one-sided tests at 5 %, whatever the interval's level, as in `verdict`.
EQUIVALENCE_LEVEL = 0.90
NODES, NODE_WEIGHTS = np.polynomial.legendre.leggauss(200)


def critical(df: float, level: float) -> float:
    """Two-sided critical value of t, or of the normal distribution for infinite `df`."""
    tail = (1 + level) / 2
    return float(ndtri(tail) if np.isinf(df) else stdtrit(df, tail))


def chance_beyond(distance: float, *, multiplier: float, df: float = np.inf) -> float:
    """Chance that an interval's near end passes a bound `distance` standard errors away.

    ``P(Z > multiplier * s - distance)`` with s the estimated over the true standard error;
    averaged over ``s**2 ~ chi-square(df)/df``.
    """
    s, weight = _spreads(df)
    return float(weight @ ndtr(distance - multiplier * s))


def chance_inside(
    distance_low: float, distance_high: float, *, multiplier: float, df: float = np.inf
) -> float:
    """Chance that an interval lies wholly between bounds so many standard errors away."""
    s, weight = _spreads(df)
    inside = ndtr(distance_high - multiplier * s) + ndtr(distance_low - multiplier * s) - 1
    return float(weight @ np.maximum(inside, 0))


def _spreads(df: float):
    if np.isinf(df):
        return np.ones(1), np.ones(1)
    # The chi-square quantile at evenly weighted probabilities; u**3 crowds both ends, where
    # the quantile is steepest.
    u = (1 + NODES) / 2
    p = u**3 * (10 - 15 * u + 6 * u**2)
    return np.sqrt(chdtri(df, 1 - p) / df), 15 * NODE_WEIGHTS * u**2 * (1 - u) ** 2


def detectable_difference(variance, *, power: float = 0.8, level: float = 0.95, df=np.inf):
    """Smallest true difference that one study's interval would tell from zero.

    Parameters
    ----------
    variance : array_like of float
        Sampling variance of the study's effect, above 0; squared unit.
    power : float
        Chance of telling it; above ``(1 - level)/2`` and below 1.
    level : float
        Of the interval; between 0 and 1.
    df : float or array_like of float, shape of `variance`
        Degrees of freedom of t behind the interval; infinite for the normal one.

    Returns
    -------
    ndarray of float, same shape as `variance`
        ``(z((1 + level)/2) + z(power)) * sqrt(variance)`` with the normal distribution: 2.80
        standard errors at 80 % power. With t, the noncentrality at which t passes its critical
        value with that chance.

    Raises
    ------
    DesignError
        For a number outside its range.
    """
    variance = np.asarray(variance, dtype=float)
    if not ((variance > 0) & np.isfinite(variance)).all():
        raise DesignError(f"every variance must be finite and above 0; {variance.tolist()}")
    level = level_between_zero_and_one(level)
    distinct, which = np.unique(np.broadcast_to(df, variance.shape), return_inverse=True)
    needed = [
        standard_errors_needed(power, level=level, df=above_zero(each, name="df", infinite=True))
        for each in distinct.tolist()
    ]
    return np.array(needed, dtype=float)[which.reshape(variance.shape)] * np.sqrt(variance)


def standard_errors_needed(power: float, *, level: float, df: float = np.inf) -> float:
    """Standard errors between truth and bound at which the interval clears it with `power`."""
    power = strictly_between(power, name="power", low=(1 - level) / 2, high=1)
    multiplier = critical(df, level)
    if np.isinf(df):
        return multiplier + float(ndtri(power))
    most = multiplier * 10 + 10
    return float(
        scipy.optimize.brentq(
            lambda d: chance_beyond(d, multiplier=multiplier, df=df) - power, 0, most
        )
    )


@dataclass(frozen=True, slots=True)
class Settleable(Shown):
    """What the pool as it stands could settle.

    Attributes
    ----------
    direction : float
        Smallest true mean effect whose interval would leave out zero with chance `power`.
    worth_having : float
        Smallest true mean effect whose interval would lie beyond the smallest worthwhile one;
        NaN where none is given.
    same : float
        Narrowest ±zone that a true mean effect of zero would be shown to lie within.
    standard_error, df : float
        ``1/sqrt(sum(w))``, and degrees of freedom of t; infinite for the normal interval.
    level, power : float
    k : int
    """

    direction: float
    worth_having: float
    same: float
    standard_error: float
    df: float
    level: float
    power: float
    k: int

    def _title(self) -> str:
        return f"What this pool could settle, {100 * self.power:g} times in 100"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [("which is better", f"a true difference of {number(self.direction, decimals=3)}")]
        if self.worth_having == self.worth_having:
            rows.append(
                (
                    "better by enough",
                    f"a true difference of {number(self.worth_having, decimals=3)}",
                )
            )
        rows.append(
            ("about the same", f"within {number(self.same, decimals=3)} either way, if it is so")
        )
        return rows


def settleable(
    effect,
    variance,
    *,
    worthwhile=None,
    power: float = 0.8,
    between: str = "reml",
    interval: str = "knapp-hartung",
    level: float = 0.95,
) -> Settleable:
    """Smallest effects that the pool, with the studies it has, could settle.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        As in `pool`; the effects serve to estimate the between-study variance only.
    worthwhile : float, optional
        Smallest worthwhile effect, above 0.
    power : float
        Chance of settling it; between 0.5 and 1.
    between, interval, level
        As in `pool`.

    Returns
    -------
    Settleable

    Raises
    ------
    DesignError
        For a number outside its range, and as in `pool`.

    Notes
    -----
    The standard error is the model's, ``1/sqrt(sum(1/(v + tau2)))``, with t on k - 1 degrees
    of freedom for the Knapp-Hartung interval; both are exact when all variances are equal.
    """
    power = strictly_between(power, name="power", low=0.5, high=1)
    options = {"between": between, "level": level}
    asked = pool(effect, variance, interval=interval, **options)
    error = pool(effect, variance, interval="normal", **options).standard_error
    df = np.inf if asked.interval == "normal" else asked.k - 1.0
    level = asked.level
    reach = standard_errors_needed(power, level=level, df=df) * error
    multiplier = critical(df, EQUIVALENCE_LEVEL)

    def short(zone):
        return chance_inside(zone, zone, multiplier=multiplier, df=df) - power

    zone = scipy.optimize.brentq(short, 0, 10 * multiplier + 20)
    return Settleable(
        direction=reach,
        worth_having=np.nan
        if worthwhile is None
        else above_zero(worthwhile, name="worthwhile") + reach,
        same=float(zone) * error,
        standard_error=error,
        df=df,
        level=level,
        power=power,
        k=asked.k,
    )
