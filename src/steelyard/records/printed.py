"""Numbers kept as printed: ``3.40`` keeps its two decimals."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

from pydantic import BeforeValidator, PlainSerializer, PlainValidator
from pydantic_core import PydanticCustomError

LARGEST_POWER = 30
# More than any training study ever had; a number above it is a slip.
MOST_PEOPLE = 1_000_000


def brief(value: Any) -> str:
    """Show an offending value in a message, cut to a readable length."""
    try:
        text = str(value) if isinstance(value, int | Decimal) else repr(value)
    except ValueError:  # Python writes out no whole number of more than a few thousand digits
        text = "a number of thousands of digits"
    return text if len(text) <= 60 else text[:57] + "…"


def _number(value: Any) -> Decimal:
    number = value
    if type(value) is int:
        number = Decimal(value)
    elif type(value) is float:
        number = Decimal(repr(value))
    if type(number) is not Decimal or not number.is_finite():
        raise PydanticCustomError(
            "number", "expected a number, found {found}", {"found": brief(value)}
        )
    # What nobody measures would overflow, or vanish, in arithmetic further on.
    if number and not -LARGEST_POWER <= number.adjusted() <= LARGEST_POWER:
        raise PydanticCustomError(
            "out-of-range",
            "expected a number between 1e-{power} and 1e{power} in size, found {found}",
            {"power": LARGEST_POWER, "found": brief(value)},
        )
    return number


def between(low: Any, high: Any, words: str, *, open_low: bool = False, open_high: bool = False):
    """A check that a number lies between two bounds, either of which may be None."""

    def validate(value: Any) -> Decimal:
        number = _number(value)
        too_low = low is not None and (number <= low if open_low else number < low)
        too_high = high is not None and (number >= high if open_high else number > high)
        if too_low or too_high:
            raise PydanticCustomError(
                "out-of-range",
                "expected {words}, found {found}",
                {"words": words, "found": brief(number)},
            )
        return number

    return validate


def _whole(low: int, words: str, *, most: int):
    def validate(value: Any) -> int:
        whole = type(value) is Decimal and value.is_finite() and value.adjusted() <= LARGEST_POWER
        if whole and value == value.to_integral_value():
            value = int(value)
        if type(value) is not int or not low <= value < 10**LARGEST_POWER:
            raise PydanticCustomError(
                "whole-number",
                "expected {words}, found {found}",
                {"words": words, "found": brief(value)},
            )
        if value > most:
            raise PydanticCustomError(
                "whole-number",
                "expected {words} and at most {most}, found {found}",
                {"words": words, "most": f"{most:,}", "found": brief(value)},
            )
        return value

    return validate


_as_text = PlainSerializer(str, return_type=str)

Printed = Annotated[Decimal, PlainValidator(_number), _as_text]
PositivePrinted = Annotated[
    Decimal, PlainValidator(between(0, None, "a number above 0", open_low=True)), _as_text
]
NotNegativePrinted = Annotated[
    Decimal, PlainValidator(between(0, None, "a number of 0 or more")), _as_text
]
CorrelationPrinted = Annotated[
    Decimal, PlainValidator(between(-1, 1, "a correlation between −1 and 1")), _as_text
]
OpenCorrelationPrinted = Annotated[
    Decimal,
    PlainValidator(
        between(-1, 1, "a correlation above −1 and below 1", open_low=True, open_high=True)
    ),
    _as_text,
]
SharedCorrelationPrinted = Annotated[
    Decimal,
    PlainValidator(between(0, 1, "a correlation from 0 up to, not including, 1", open_high=True)),
    _as_text,
]
ProbabilityPrinted = Annotated[
    Decimal, PlainValidator(between(0, 1, "a probability between 0 and 1")), _as_text
]
# An estimate below 0, which small samples give, says no more than 0.
ClusterCorrelationPrinted = Annotated[
    Decimal,
    PlainValidator(between(0, 1, "a correlation inside clusters from 0 to 1")),
    _as_text,
]
GroupSize = Annotated[
    int, PlainValidator(_whole(2, "a whole number of people, 2 or more", most=MOST_PEOPLE))
]
People = Annotated[
    int, PlainValidator(_whole(1, "a whole number of people, 1 or more", most=MOST_PEOPLE))
]
EventCount = Annotated[
    int, PlainValidator(_whole(0, "a whole number of events, 0 or more", most=MOST_PEOPLE))
]
Week = Annotated[Decimal, PlainValidator(between(0, 2000, "a week between 0 and 2000")), _as_text]


def _pair(value: Any) -> Any:
    if not (isinstance(value, list | tuple) and len(value) == 2):
        raise PydanticCustomError(
            "pair", "expected two numbers, [low, high], found {found}", {"found": brief(value)}
        )
    return tuple(value)


Pair = Annotated[tuple[Printed, Printed], BeforeValidator(_pair)]

OpenCorrelationRange = Annotated[
    tuple[OpenCorrelationPrinted, OpenCorrelationPrinted], BeforeValidator(_pair)
]
SharedCorrelationRange = Annotated[
    tuple[SharedCorrelationPrinted, SharedCorrelationPrinted], BeforeValidator(_pair)
]


def decimals(value: Decimal) -> int:
    """Number of decimals a printed number shows: 2 for ``3.40``."""
    return max(0, -int(value.as_tuple().exponent))
