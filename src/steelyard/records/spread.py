"""A printed number with any measure of spread that papers print beside it."""

from __future__ import annotations

import re
from abc import abstractmethod
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator
from pydantic_core import PydanticCustomError

from steelyard.records.model import Broken, RuledRecord, Words
from steelyard.records.printed import (
    GroupSize,
    NotNegativePrinted,
    Pair,
    PositivePrinted,
    Printed,
    brief,
)
from steelyard.records.unsound import is_known

INTERVAL_KEYS = {"ci90": 0.90, "ci95": 0.95, "ci99": 0.99}


_P_BOUND = re.compile(r"(<=|>=|[<>≤≥])([01]|[01]?[.,][0-9]{1,30})")
_PLAIN_BOUNDS = {"≤": "<", "<=": "<", "≥": ">", ">=": ">"}


def _plain_bound(sign: str, digits: str) -> str:
    """A bound as records keep it: ``≤`` says no more than ``<``, a decimal comma is a point."""
    return f"{_PLAIN_BOUNDS.get(sign, sign)}{digits.replace(',', '.')}"


def _reported_p(value: Any) -> Any:
    if isinstance(value, str):
        text = value.replace(" ", "")
        bound = _P_BOUND.fullmatch(text)
        if bound and 0 < float(bound[2].replace(",", ".")) < 1:
            return value if bound[1] in "<>" and "," not in text else _plain_bound(*bound.groups())
        if bound:
            raise PydanticCustomError(
                "out-of-range",
                "expected a bound of p between 0 and 1, found {found}",
                {"found": brief(value)},
            )
        raise PydanticCustomError(
            "p-value",
            'expected an exact p such as 0.03 or a bound such as "<0.05"; '
            'words like "ns" hold no number, found {found}',
            {"found": brief(value)},
        )
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise PydanticCustomError(
            "p-value", "expected a p-value, found {found}", {"found": brief(value)}
        )
    if not Decimal(value).is_finite() or not 0 <= value <= 1:
        raise PydanticCustomError(
            "out-of-range",
            "expected a p-value between 0 and 1, found {found}",
            {"found": brief(value)},
        )
    if value == 0:
        # What prints as 0.000 is rounded: below half a unit of its last digit, or simply small.
        raise PydanticCustomError(
            "out-of-range",
            "expected a p above 0, found {found}: no p is exactly 0; write the bound, such as "
            '"<{bound}"',
            {"found": brief(value), "bound": _bound_of_zero(value)},
        )
    return Decimal(str(value))


def _bound_of_zero(value: Any) -> str:
    """One unit of the last digit of a printed zero: ``0.001`` for ``0.000``."""
    decimals = max(0, -int(Decimal(str(value)).as_tuple().exponent))
    return f"{Decimal(1).scaleb(-decimals):f}" if 2 <= decimals <= 30 else "0.001"


ReportedP = Annotated[Decimal | str, BeforeValidator(_reported_p)]


def _order(name: str, low: Decimal, high: Decimal) -> str:
    return f"expected {name} as [low, high] with low below high, found [{low}, {high}]"


class _AroundValue(RuledRecord):
    """A value with intervals that hold it."""

    @abstractmethod
    def value_name(self) -> str:
        """Key of the value."""

    def rules(self) -> Iterator[Iterable[Broken]]:
        for key in INTERVAL_KEYS:
            if getattr(self, key) is not None:
                yield self._holds_value(key)

    def _holds_value(self, key: str) -> Iterator[Broken]:
        low, high = getattr(self, key)
        name = self.value_name()
        value = getattr(self, name)
        if not is_known(value):
            if not low < high:
                yield (), "interval-order", _order(key, low, high)
        elif not (low < high and low <= value <= high):
            message = (
                f"expected {key} as [low, high] with the {name} {value} inside, "
                f"found [{low}, {high}]"
            )
            yield (), "interval-order", message


class Subgroup(_AroundValue):
    """People of one result that the paper prints apart, such as women and men.

    With one measure of spread, as printed; an interval is taken to be by t.
    """

    label: Words | None = None
    n: GroupSize
    mean: Printed
    sd: PositivePrinted | None = None
    se: PositivePrinted | None = None
    ci90: Pair | None = None
    ci95: Pair | None = None
    ci99: Pair | None = None

    def value_name(self) -> str:
        return "mean"

    def rules(self) -> Iterator[Iterable[Broken]]:
        yield self._one_spread()
        yield from super().rules()

    def _one_spread(self) -> Iterator[Broken]:
        printed = [key for key in ("sd", "se", *INTERVAL_KEYS) if getattr(self, key) is not None]
        if len(printed) != 1:
            found = " and ".join(printed) or "none"
            message = f"expected one of sd, se, ci90, ci95 and ci99 in each group, found {found}"
            yield (), "needs-spread", message


class Spread(RuledRecord):
    """A mean or median with any one printed measure of spread, or subgroups to be combined.

    `ci_by` says how the paper made its interval; left out, by t on n − 1 degrees of freedom.
    """

    mean: Printed | None = None
    median: Printed | None = None
    sd: PositivePrinted | None = None
    se: PositivePrinted | None = None
    ci90: Pair | None = None
    ci95: Pair | None = None
    ci99: Pair | None = None
    ci_by: Literal["t", "normal"] | None = None
    iqr: Pair | None = None
    range: Pair | None = None
    t: Printed | None = None
    p: ReportedP | None = None
    groups: tuple[Subgroup, ...] = ()
    reading_error: NotNegativePrinted | None = None

    def rules(self) -> Iterator[Iterable[Broken]]:
        if self.groups:
            yield self._only_groups()
            return
        yield self._centre()
        for name in INTERVAL_KEYS:
            if getattr(self, name) is not None:
                yield self._holds_centre(name, "mean")
        for name in ("iqr", "range"):
            if getattr(self, name) is not None:
                yield self._holds_centre(name, "median")

    def _centre(self) -> Iterator[Broken]:
        """Around quantiles only a median will do."""
        beside = [name for name in ("iqr", "range") if getattr(self, name) is not None]
        if self.median is None and beside:
            names = " and ".join(beside)
            yield (), "needs-median", f"expected a median beside {names}, found none"
        elif self.median is None and self.mean is None:
            yield (), "needs-centre", "expected a mean or a median, found neither"

    def _holds_centre(self, name: str, centre_name: str) -> Iterator[Broken]:
        low, high = getattr(self, name)
        if not low < high:
            yield (), "interval-order", _order(name, low, high)
            return
        centre = getattr(self, centre_name)
        if centre is not None and not low <= centre <= high:
            message = (
                f"expected the {centre_name} inside {name}, found {centre} outside [{low}, {high}]"
            )
            yield (), "centre-outside", message

    def _only_groups(self) -> Iterator[Broken]:
        beside = sorted(self.model_fields_set - {"groups", "reading_error"})
        if beside or len(self.groups) < 2:
            message = (
                "expected two groups or more with nothing beside them, "
                f"found {len(self.groups)} and {', '.join(beside) or 'nothing'}"
            )
            yield (), "groups-alone", message

    @property
    def n_in_groups(self) -> int | None:
        """People over all subgroups; None where the paper prints none."""
        return sum(group.n for group in self.groups) or None


class PercentChange(_AroundValue):
    """A percent change of one arm, with its spread.

    The mean of people's own percents, unless `of` says that it is the change of the group's
    mean in percent, which has no spread between people.
    """

    mean: Printed
    of: Literal["people", "means"] | None = None
    sd: PositivePrinted | None = None
    se: PositivePrinted | None = None
    ci90: Pair | None = None
    ci95: Pair | None = None
    ci99: Pair | None = None
    ci_by: Literal["t", "normal"] | None = None

    def value_name(self) -> str:
        return "mean"


class ReportedEffect(_AroundValue):
    """An effect as the paper prints it, with its uncertainty.

    `over` says which SD a standardised effect was divided by, where the paper says so.
    """

    value: Printed
    over: Literal["pre-sd", "post-sd", "change-sd"] | None = None
    se: PositivePrinted | None = None
    sd: PositivePrinted | None = None
    ci90: Pair | None = None
    ci95: Pair | None = None
    ci99: Pair | None = None

    def value_name(self) -> str:
        return "value"
