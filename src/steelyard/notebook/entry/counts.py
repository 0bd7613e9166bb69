"""How many people had it: one whole number, with its percentage if the paper prints one."""

from __future__ import annotations

import re

from steelyard.records.cells import CellError, DecimalMarks, is_blank, parse_number
from steelyard.records.printed import brief

_OF_ALL = re.compile(r"([0-9]{1,9})\s?(?:/|of)\s?([0-9]{1,9})", re.IGNORECASE)
_WITH_PERCENT = re.compile(r"([0-9]{1,9})\s?[(\[]\s?[0-9.,]{1,12}\s?%\s?[)\]]")


def read_count(text: str, *, marks: DecimalMarks) -> int | None:
    """Read a count of people such as ``3`` or ``3 (12 %)``; None for a blank.

    Raises
    ------
    CellError
        If it is none, or is a share of all people, whose number has a box of its own.
    """
    if is_blank(text):
        return None
    plain = " ".join(text.split()) if len(text) <= 200 else text
    if match := _OF_ALL.fullmatch(plain):
        raise CellError(
            f"expected the people with it alone: type {match[1]} here and {match[2]} as n "
            f"analysed; found {brief(plain)}"
        )
    if match := _WITH_PERCENT.fullmatch(plain):
        return int(match[1])
    number = parse_number(plain, marks=marks)
    whole = number is not None and number.value == number.value.to_integral_value()
    if not whole or number.spread is not None or number.percent or not 0 <= number.value < 10**9:
        raise CellError("expected a count of people")
    return int(number.value)
