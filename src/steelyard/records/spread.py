"""A printed number with any measure of spread that papers print beside it."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, model_validator
from pydantic_core import PydanticCustomError

from steelyard.records.model import Record, Words
from steelyard.records.printed import (
    GroupSize,
    NotNegativePrinted,
    Pair,
    PositivePrinted,
    Printed,
    brief,
)

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


class Subgroup(Record):
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

    @model_validator(mode="after")
    def _hangs_together(self) -> Subgroup:
        printed = [key for key in ("sd", "se", *INTERVAL_KEYS) if getattr(self, key) is not None]
        if len(printed) != 1:
            raise PydanticCustomError(
                "needs-spread",
                "expected one of sd, se, ci90, ci95 and ci99 in each group, found {found}",
                {"found": " and ".join(printed) or "none"},
            )
        _value_inside(self, self.mean, "mean")
        return self


class Spread(Record):
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

    @model_validator(mode="after")
    def _hangs_together(self) -> Spread:
        if self.groups:
            return self._only_groups()
        if self.mean is None and self.median is None:
            raise PydanticCustomError("needs-centre", "expected a mean or a median, found neither")
        for name in ("ci90", "ci95", "ci99", "iqr", "range"):
            pair = getattr(self, name)
            if pair is None:
                continue
            low, high = pair
            if not low < high:
                raise PydanticCustomError(
                    "interval-order",
                    "expected {name} as [low, high] with low below high, found [{low}, {high}]",
                    {"name": name, "low": str(low), "high": str(high)},
                )
            quantile = name in ("iqr", "range")
            centre = self.median if quantile else self.mean
            if quantile and centre is None:
                raise PydanticCustomError(
                    "needs-median", "expected a median beside {name}, found none", {"name": name}
                )
            if centre is not None and not low <= centre <= high:
                raise PydanticCustomError(
                    "centre-outside",
                    "expected the {centre_name} inside {name}, "
                    "found {centre} outside [{low}, {high}]",
                    {
                        "centre_name": "median" if quantile else "mean",
                        "name": name,
                        "centre": str(centre),
                        "low": str(low),
                        "high": str(high),
                    },
                )
        return self

    def _only_groups(self) -> Spread:
        beside = self.model_fields_set - {"groups", "reading_error"}
        if beside or len(self.groups) < 2:
            raise PydanticCustomError(
                "groups-alone",
                "expected two groups or more with nothing beside them, found {count} and {beside}",
                {"count": len(self.groups), "beside": ", ".join(sorted(beside)) or "nothing"},
            )
        return self

    @property
    def n_in_groups(self) -> int | None:
        """People over all subgroups; None where the paper prints none."""
        return sum(group.n for group in self.groups) or None


def _value_inside(record: Any, value: Decimal, name: str) -> None:
    """Refuse an interval that is out of order or does not hold its value."""
    for key in INTERVAL_KEYS:
        pair = getattr(record, key)
        if pair is not None and not (pair[0] < pair[1] and pair[0] <= value <= pair[1]):
            raise PydanticCustomError(
                "interval-order",
                "expected {key} as [low, high] with the {name} {value} inside, "
                "found [{low}, {high}]",
                {
                    "key": key,
                    "name": name,
                    "value": str(value),
                    "low": str(pair[0]),
                    "high": str(pair[1]),
                },
            )


class PercentChange(Record):
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

    @model_validator(mode="after")
    def _hangs_together(self) -> PercentChange:
        _value_inside(self, self.mean, "mean")
        return self


class ReportedEffect(Record):
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

    @model_validator(mode="after")
    def _hangs_together(self) -> ReportedEffect:
        _value_inside(self, self.value, "value")
        return self
