"""The numbers a recommendation was told with, and whether they still hold."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from steelyard.pooling.verdict import BETTER, EQUIVALENT, NOT_SETTLED, WORSE
from steelyard.pooling.weighing import Weighing, plain
from steelyard.records.printed import decimals
from steelyard.records.recommendation import Recommendation, Told

NUMBERS = ("estimate", "low", "high", "prediction_low", "prediction_high")
NONE = float("nan")


@dataclass(frozen=True, slots=True)
class Standing:
    """An answer in few numbers, as told once or as it is now; machine scale.

    Attributes
    ----------
    estimate, low, high, prediction_low, prediction_high : float
        Prediction NaN where there is none.
    certainty : str or None
    verdict : str or None
        None where it was not told and does not follow from the interval.
    fingerprint : str
    """

    estimate: float
    low: float
    high: float
    prediction_low: float
    prediction_high: float
    certainty: str | None
    verdict: str | None
    fingerprint: str

    def as_json(self) -> dict[str, Any]:
        numbers = {name: plain(getattr(self, name)) for name in NUMBERS}
        return {
            **numbers,
            "certainty": self.certainty,
            "verdict": self.verdict,
            "fingerprint": self.fingerprint,
        }


def standing_now(weighing: Weighing, certainty: str | None) -> Standing:
    """A weighing in few numbers."""
    return Standing(
        **{name: float(getattr(weighing, name)) for name in NUMBERS},
        certainty=certainty,
        verdict=weighing.verdict.word or None,
        fingerprint=weighing.fingerprint,
    )


def told_by_question(recommendation: Recommendation) -> dict[str, Told]:
    """What was told of each question; a told that names none speaks of the first."""
    found: dict[str, Told] = {each.question: each for each in recommendation.also_told}
    if recommendation.told is not None:
        found[recommendation.told.question or recommendation.questions[0]] = recommendation.told
    return found


def standing_told(told: Told, *, worthwhile: float | None) -> Standing:
    """What was told, in the same numbers."""
    values = {name: _float(getattr(told, name)) for name in NUMBERS}
    return Standing(
        **values,
        certainty=told.certainty,
        verdict=told.verdict or _verdict(values["low"], values["high"], worthwhile),
        fingerprint=told.fingerprint,
    )


def _float(value: Decimal | None) -> float:
    return NONE if value is None else float(value)


def _verdict(low: float, high: float, worthwhile: float | None) -> str | None:
    """What the told interval alone settles; None where the narrower one would be needed."""
    if worthwhile is None:
        return None
    if low >= worthwhile:
        return BETTER
    if high <= -worthwhile:
        return WORSE
    if -worthwhile < low and high < worthwhile:
        return EQUIVALENT
    # With one degree of freedom a 90 % interval is half as wide as a 95 % one, never less.
    reach = (high - low) / 4
    if low + reach < -worthwhile or high - reach > worthwhile:
        return NOT_SETTLED
    return None


def differences(told: Told, now: Standing, *, worthwhile: float | None) -> tuple[str, ...]:
    """Names of what no longer holds, at the decimals it was told with.

    A number differs if, rounded as told, it is another; a certainty or verdict that was never
    told cannot differ.
    """
    found = []
    for name in NUMBERS:
        printed = getattr(told, name)
        value = getattr(now, name)
        if printed is None:
            # A prediction interval that nobody told is no change of what was told.
            continue
        half = 0.5 * 10.0 ** -decimals(printed)
        if math.isnan(value) or abs(value - float(printed)) > half * (1 + 1e-9):
            found.append(name)
    before = standing_told(told, worthwhile=worthwhile)
    for name in ("certainty", "verdict"):
        words = (getattr(before, name), getattr(now, name))
        if None not in words and words[0] != words[1]:
            found.append(name)
    return tuple(found)


def beyond_rounding(told: Told, now: Standing) -> bool:
    """Whether a number is off by more than one unit in the last place it was told with.

    Within one unit, two ways of computing, or of rounding, may differ on the same evidence.
    """
    pairs = ((getattr(told, name), getattr(now, name)) for name in NUMBERS)
    return any(
        math.isnan(value) or abs(value - float(printed)) > 10.0 ** -decimals(printed) * (1 + 1e-9)
        for printed, value in pairs
        if printed is not None
    )


def told_of(standing: Standing) -> Told:
    """A standing as it is written into a recommendation: some thousandths of the interval."""
    width = standing.high - standing.low
    places = 4
    if math.isfinite(width) and width > 0:
        places = min(max(2, 3 - math.floor(math.log10(width))), 12)

    def printed(value: float) -> Decimal | None:
        return None if math.isnan(value) else Decimal(f"{value:.{places}f}")

    return Told(
        **{name: printed(getattr(standing, name)) for name in NUMBERS},
        certainty=standing.certainty,
        verdict=standing.verdict,
        fingerprint=standing.fingerprint,
    )
