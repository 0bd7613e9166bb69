"""A printed number as the span of values that round to it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import sqrt

LARGEST = Decimal("1e9")
SMALLEST = Decimal("1e-9")
MOST_DIGITS = 20
HAIR = 1e-9
"""Relative slack for binary fractions, so that a tie counts as inside."""


@dataclass(frozen=True, slots=True)
class Rounded:
    """A number with the lowest and highest value it may stand for, ties included."""

    value: float
    low: float
    high: float

    @classmethod
    def printed(cls, number: Decimal | None, *, reading_error=None) -> Rounded | None:
        """A number as printed: half a unit of its last digit either way, or a reading error.

        None for an absent number, and for one too large, too small or too long to be a
        measurement, which no arithmetic here can judge.
        """
        if not usable(number):
            return None
        half = 0.5 * 10.0 ** int(number.as_tuple().exponent)
        if usable(reading_error):
            half = max(half, float(reading_error))
        value = float(number)
        return cls(value, value - half, value + half)

    def __sub__(self, other: Rounded) -> Rounded:
        return Rounded(self.value - other.value, self.low - other.high, self.high - other.low)

    def __neg__(self) -> Rounded:
        return Rounded(-self.value, -self.high, -self.low)

    def times(self, factor: float) -> Rounded:
        """The span multiplied by a known positive number."""
        return Rounded(self.value * factor, self.low * factor, self.high * factor)

    @property
    def half(self) -> float:
        return (self.high - self.low) / 2

    def meets(self, other: Rounded) -> bool:
        """Whether some value of one equals some value of the other."""
        slack = HAIR * max(abs(self.value), abs(other.value), self.half, other.half)
        return self.low <= other.high + slack and other.low <= self.high + slack


def usable(number: Decimal | None) -> bool:
    """Whether a printed number is of a size and length that a measurement can have."""
    if number is None or not number.is_finite():
        return False
    digits = number.as_tuple()
    if len(digits.digits) > MOST_DIGITS or not -MOST_DIGITS <= int(digits.exponent) <= 9:
        return False
    return number == 0 or SMALLEST <= abs(number) <= LARGEST


def told(value: float) -> str:
    """A computed number in words: three significant digits, no exponent for everyday sizes."""
    size = abs(value)
    text = f"{value:.0f}" if 1000 <= size < 1e9 else f"{value:.3g}"
    return text.replace("-", "−") if "e" not in text else text


def pooled(one: float, n_one: int, other: float, n_other: int) -> float:
    """SD pooled over two groups, √(((n₁−1)s₁² + (n₂−1)s₂²)/(n₁+n₂−2))."""
    df = n_one + n_other - 2
    return sqrt(((n_one - 1) * one**2 + (n_other - 1) * other**2) / df)
