"""What the numbers beside a printed SD say of it: another SD that fits SD·√n, starts far apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from scipy.special import fdtrc, stdtr

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.rounded import told


@dataclass(frozen=True, slots=True)
class Beside:
    """An SD printed beside another.

    Attributes
    ----------
    name : str
        Whose it is, for example ``the other arm's SD``.
    text : str
        As printed.
    sd : float
        Raw units, > 0.
    n : int
        People, ≥ 2.
    r : float or None
        For SDs of the same people, the lowest correlation of their values that is assumed;
        None for those of other people.
    """

    name: str
    text: str
    sd: float
    n: int
    r: float | None = None

    @property
    def same_people(self) -> bool:
        return self.r is not None


def chance_of_ratio(sd: float, n: int, other: Beside) -> float:
    """Chance that the other SD comes out so much larger, or more, where people spread alike.

    Of other people by F = (s₂/s₁)² with n₂ − 1 and n₁ − 1 degrees of freedom; of the same
    people by t = (F − 1)·√(n − 2) / (2·√(F·(1 − r²))) with n − 2 [1]_ [2]_, which a lower r
    than the true one makes larger.

    References
    ----------
    .. [1] Pitman, E. J. G. (1939). Biometrika 31, 9-12.
    .. [2] Morgan, W. A. (1939). Biometrika 31, 13-19.
    """
    ratio = (other.sd / sd) ** 2
    if other.r is None:
        return float(fdtrc(other.n - 1, n - 1, ratio))
    df = min(n, other.n) - 2
    if df < 1:
        return 1.0
    t = (ratio - 1) * sqrt(df) / (2 * sqrt(ratio * (1 - other.r**2)))
    return float(stdtr(df, -t))


def fits_root(sd: float, n: int, other: Beside) -> bool:
    """Whether the other SD is near SD·√n, and further from the SD than chance brings it."""
    fits = limits.BESIDE_FITS
    if not 1 / fits <= other.sd / (sd * sqrt(n)) <= fits:
        return False
    return chance_of_ratio(sd, n, other) < limits.BESIDE_CHANCE


def nearer_as_printed(sd: float, n: int, other: float) -> bool:
    """Whether another SD is nearer to this one than to SD·√n, by ratio."""
    return other < sd * n**0.25


def fitting(sd: float, n: int, others: Sequence[Beside]) -> Beside | None:
    """The smallest of some SDs, where each of them speaks for SD·√n; else None."""
    if not others or not all(fits_root(sd, n, other) for other in others):
        return None
    return min(others, key=lambda other: other.sd)


@dataclass(frozen=True, slots=True)
class Start:
    """Mean, SD and people of an arm before training; raw units."""

    mean: float
    sd: float
    n: int


@dataclass(frozen=True, slots=True)
class StartsApart:
    """Arms that start further apart than their SDs allow, in words and as a sum."""

    words: str
    sums: str


def starts_apart(one: Start, others: Sequence[Start]) -> StartsApart | None:
    """Whether means before training differ more than chance makes of SDs, not of SD·√n.

    t = gap / √(s₁²/n₁ + s₂²/n₂), held against n₁ + n₂ − 2 degrees of freedom and divided by
    the number of arms asked; were both SDs standard errors, it would be gap / √(s₁² + s₂²).
    """
    for other in others:
        gap = abs(one.mean - other.mean)
        t = gap / sqrt(one.sd**2 / one.n + other.sd**2 / other.n)
        mended = gap / sqrt(one.sd**2 + other.sd**2)
        chance = 2 * float(stdtr(one.n + other.n - 2, -t)) * len(others)
        if chance < limits.START_CHANCE and mended < limits.START_MENDED:
            words = (
                f"the arms start {told(gap)} apart, {told(t)} standard errors by such SDs and "
                f"{told(mended)} if they are standard errors themselves"
            )
            sums = (
                f"{told(gap)} / √({told(one.sd)}² / {one.n} + {told(other.sd)}² / {other.n}) = "
                f"{told(t)}"
            )
            return StartsApart(words, sums)
    return None
