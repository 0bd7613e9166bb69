"""A result of the study being typed in words: its size with its interval, on any metric."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import sqrt
from typing import Any

from steelyard.pooling.dependence import t_quantile
from steelyard.pooling.scale import scale_of
from steelyard.pooling.scale_group import ScaleGroup
from steelyard.records.question import Metric, Question

LEVEL = 0.95
_AFTER = {
    "percent": " as a ratio of means",
    "variability-ratio": " times the SD between people",
    "relative-variability-ratio": " times the SD relative to the mean",
    "correlation": ", a correlation",
}


@dataclass(frozen=True, slots=True)
class Size:
    """One result on one metric.

    Attributes
    ----------
    metric : str
    value, low, high : float
        With a 95 % interval; positive favours the first arm named, log scale for ratios.
    text : str
        The same for people, with unit; in the outcome's own unit, percent and ratios it runs as
        the numbers were measured, so less may be better.
    how : str
        How it was reached, as far as that is not said beside it already.
    of : str
        Whose it is: a question's, or the paper's own; empty where nothing need be said.
    """

    metric: str
    value: float
    low: float
    high: float
    text: str
    how: str = ""
    of: str = ""


def size_of(row: Mapping[str, Any], *, effect: str = "effect", how: str = "", of: str = "") -> Size:
    """A row of the effect table, or of changes inside groups, in words.

    Parameters
    ----------
    row : mapping
        ``metric, unit, better, variance, df`` and the column of `effect`; machine scale.
    effect : str
        The column that holds the result.
    how, of : str
        As in `Size`.
    """
    metric, value = row["metric"], float(row[effect])
    half = float(t_quantile(row["df"], (1 + LEVEL) / 2)) * sqrt(row["variance"])
    low, high = value - half, value + half
    scale = scale_of(
        _asking(metric),
        units={row["unit"]} if row["unit"] else set(),
        better={row["better"]},
        size=max(abs(value), half),
    )
    group = ScaleGroup(metric, scale, None, ())
    after = _AFTER.get(metric, "") if effect == "effect" else ""
    span = group.span(low, high).removesuffix(scale.unit)
    text = f"{group.text(value)}{after} ({span})"
    return Size(metric, value, low, high, text, how, of)


def same_size(one: Size, other: Size) -> bool:
    """Whether two are one result told twice."""
    return one.metric == other.metric and (one.value, one.low) == (other.value, other.low)


@cache
def _asking(metric: Metric) -> Question:
    """A question of that metric, which is what a scale is asked of."""
    arms = {} if metric == "correlation" else {"intervention": ("one",), "comparator": ("other",)}
    return Question(id="live", asks="live", constructs=("any",), metric=metric, **arms)
