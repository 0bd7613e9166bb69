"""An effect as the paper prints it: one number with its interval, SE or SD, in one box."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from steelyard.notebook.entry.cell import PAIRS, STYLES, in_words, read_cell, write_cell
from steelyard.records.cells import CellError, DecimalMarks
from steelyard.records.printed import decimals

EFFECTS = {
    "difference": "difference, in the outcome's unit",
    "standardised": "standardised difference, in SD",
    "log_ratio_of_means": "ratio of means, as logarithm",
    "log_risk_ratio": "risk ratio, as logarithm",
    "log_odds_ratio": "odds ratio, as logarithm",
    "risk_difference": "risk difference",
    "log_sd_ratio": "ratio of SDs, as logarithm",
}
"""What a record keeps of a comparison, and what the form calls it."""

RATIOS = {
    "ratio_of_means": ("ratio of means", "log_ratio_of_means"),
    "risk_ratio": ("risk ratio", "log_risk_ratio"),
    "odds_ratio": ("odds ratio", "log_odds_ratio"),
    "sd_ratio": ("ratio of SDs", "log_sd_ratio"),
}
"""Ratios as papers print them, each kept as its logarithm."""

EFFECT_STYLES = {name: STYLES[name] for name in ("ci95", "ci90", "ci99", "se", "sd", "none")}
EFFECT_EXAMPLES = {
    "ci95": "12.1 (1.0 to 23.2)",
    "ci90": "12.1 (2.8 to 21.4)",
    "ci99": "12.1 (−2.7 to 26.9)",
    "se": "12.1 ± 5.6",
    "sd": "12.1 ± 24.0",
    "none": "12.1",
}
RATIO_EXAMPLE = "1.25 (1.05 to 1.49)"
# Digits of a logarithm beyond those printed of the ratio, so that nothing printed is lost.
_MORE_DIGITS, _MOST_DIGITS = 2, 12


@dataclass(frozen=True, slots=True)
class PrintedEffect:
    """One effect as a record keeps it.

    Attributes
    ----------
    kind : str
        A key of `EFFECTS`.
    values : dict
        ``value`` and its measures of spread.
    """

    kind: str
    values: dict[str, Any]

    def text(self) -> str:
        """How it was understood."""
        return in_words(self.values)


def read_effect(effect: Mapping[str, str], *, marks: DecimalMarks) -> PrintedEffect | None:
    """Read one effect box.

    Parameters
    ----------
    effect : mapping
        ``kind`` (of `EFFECTS` or `RATIOS`), ``style`` (of `EFFECT_STYLES`), ``text``.
    marks : DecimalMarks

    Returns
    -------
    PrintedEffect or None
        A ratio comes back as its logarithm; None for a blank box.

    Raises
    ------
    CellError
        If it cannot be read; says what was expected.
    """
    kind = effect.get("kind") or "difference"
    style = effect.get("style") or "ci95"
    found = read_cell(effect.get("text", ""), style, marks=marks)
    if found is None:
        return None
    wrong = set(found) - {"mean", *EFFECT_STYLES}
    if wrong:
        raise CellError(
            "expected one number with its CI, SE or SD; t and p have boxes of their own"
        )
    values = {"value": found.pop("mean"), **found}
    if kind in RATIOS:
        return PrintedEffect(RATIOS[kind][1], _logarithms(values))
    return PrintedEffect(kind, values)


def style_in(values: Mapping[str, Any]) -> str:
    """How a record's effect prints its uncertainty."""
    return next((name for name in EFFECT_STYLES if values.get(name) is not None), "none")


def effect_text(values: Mapping[str, Any], style: str) -> str:
    """A record's effect as a person would type it."""
    spread = {name: values[name] for name in EFFECT_STYLES if values.get(name) is not None}
    return write_cell({"mean": values.get("value"), **spread}, style)


def _logarithms(values: dict[str, Any]) -> dict[str, Any]:
    """Natural logarithms of a ratio and of the ends of its interval."""
    if set(values) & {"se", "sd"}:
        raise CellError(
            "expected a ratio with its CI: an SE or SD belongs to the logarithm, so choose the "
            "kind “as logarithm” and type both as logarithms"
        )
    places = {name: value if name in PAIRS else [value] for name, value in values.items()}
    if any(number <= 0 for numbers in places.values() for number in numbers):
        raise CellError("expected a ratio above 0, as 1.25 for a quarter more")
    logged = {name: [_logarithm(number) for number in numbers] for name, numbers in places.items()}
    return {name: numbers if name in PAIRS else numbers[0] for name, numbers in logged.items()}


def _logarithm(ratio: Decimal) -> Decimal:
    digits = min(decimals(ratio) + _MORE_DIGITS, _MOST_DIGITS)
    return round(ratio.ln(), digits)
