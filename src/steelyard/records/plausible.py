"""Numbers of people and training with bounds so wide that what lies beyond is a slip of the pen.

Own rules: each bound is far beyond what any programme prescribes or any group of people is.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, PlainSerializer, PlainValidator
from pydantic_core import PydanticCustomError

from steelyard.records.printed import Pair, between, brief

MOST_REPS = 10_000


def _bounded(low: int, high: int, words: str, *, open_low: bool = False):
    said = f"{words}, above {low} and up to {high:,}" if open_low else f"{words}, {low} to {high:,}"
    check = PlainValidator(between(low, high, said, open_low=open_low))
    return Annotated[Decimal, check, PlainSerializer(str, return_type=str)]


def _low_first(pair: tuple[Decimal, Decimal]) -> tuple[Decimal, Decimal]:
    low, high = pair
    if not 0 <= low <= high <= MOST_REPS:
        raise PydanticCustomError(
            "out-of-range",
            "expected repetitions from 0 to {most}, the fewest first, found {found}",
            {"most": f"{MOST_REPS:,}", "found": f"{brief(low)} to {brief(high)}"},
        )
    return pair


MeanAge = _bounded(0, 125, "a mean age in years", open_low=True)
AgeSpread = _bounded(0, 60, "an SD of age in years", open_low=True)
TrainingWeeks = _bounded(0, 2000, "weeks of training", open_low=True)
SessionsPerWeek = _bounded(0, 50, "sessions a week")
Sets = _bounded(0, 1000, "a number of sets")
Exercises = _bounded(0, 100, "a number of exercises")
LoadPercent = _bounded(0, 300, "a load in % of the one-repetition maximum")
RestSeconds = _bounded(0, 86_400, "seconds of rest")
LoweringSeconds = _bounded(0, 600, "seconds of lowering")
RepsInReserve = _bounded(0, 100, "repetitions in reserve")
Reps = Annotated[Pair, AfterValidator(_low_first)]
