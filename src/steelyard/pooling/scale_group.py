"""Results of one study that stand on one scale, with its words and its zone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.effects.selection import asks_about
from steelyard.effects.whole_study import reading_question
from steelyard.pooling.scale import Scale, scale_of
from steelyard.pooling.worthwhile_elsewhere import (
    kin_metrics,
    worthwhile_for_study,
    worthwhile_in,
)
from steelyard.records.question import Question
from steelyard.records.study import Outcome, Study
from steelyard.show import interval, number

ORDER = ("standardised", "percent", "raw", "risk-ratio", "odds-ratio", "risk-difference")
RATIO_OF = {"risk-ratio": "risk", "odds-ratio": "odds"}


@dataclass(frozen=True, slots=True)
class ScaleGroup:
    """Results on one scale; no number is ever taken over two of them.

    Attributes
    ----------
    metric : str
    scale : Scale
    worthwhile : float or None
        Smallest worthwhile effect on the machine scale.
    places : tuple of int
        Rows of the table, in its order.
    """

    metric: str
    scale: Scale
    worthwhile: float | None
    places: tuple[int, ...]

    @property
    def ratio_of(self) -> str:
        """``risk`` or ``odds``; empty for what is no ratio of counts."""
        return RATIO_OF.get(self.metric, "")

    @property
    def _times(self) -> str:
        return f" times the {self.ratio_of}" if self.ratio_of else ""

    def text(self, value: float) -> str:
        """A machine value in display units; ratios of counts say of what."""
        return self._number(float(self.scale.shown(value)), self.scale.sign) + self._times

    def span(self, low: float, high: float) -> str:
        """An interval in display units."""
        scale = self.scale
        ends = sorted(float(scale.shown(end)) for end in (low, high))
        return interval(*ends, decimals=scale.decimals, sign=scale.sign) + scale.unit

    def told(self, value: float, low: float, high: float) -> str:
        """A value with its interval."""
        return f"{self.text(value)} ({self.span(low, high)})"

    def size(self, value: float) -> str:
        """A size without its sign; of a ratio, the one that favours the intervention."""
        return self.sizes(value, value)

    def detectable(self, value: float) -> str:
        """The smallest true difference that would be told from none, in the table's words."""
        if value != value:
            return "not worked out"
        return self.text(value) if np.isfinite(value) else "none, however large"

    def sizes(self, smaller: float, larger: float) -> str:
        """Two sizes as ``one to other``, or one where they read alike."""
        linear = self.scale.kind == "linear"
        ends = [float(self.scale.shown(each)) for each in (smaller, larger)]
        told = [self._number(abs(end) if linear else end, False) for end in ends]
        return " to ".join(dict.fromkeys(told)) + self._times

    def zone(self) -> tuple[float, float] | None:
        """Bounds of the effects too small to matter, display units, low end first."""
        if self.worthwhile is None:
            return None
        ends = sorted(float(self.scale.shown(end)) for end in (-self.worthwhile, self.worthwhile))
        return ends[0], ends[1]

    def zone_words(self) -> str:
        """The same in words."""
        return self.span(-self.worthwhile, self.worthwhile) + self._times

    def _number(self, shown: float, sign: bool) -> str:
        return number(shown, decimals=self.scale.decimals, sign=sign) + self.scale.unit


def scale_groups(
    rows: pd.DataFrame,
    study: Study,
    *,
    sizes: str = "effect",
    asking: Iterable[Question] = (),
    questions: Iterable[Question] | None = None,
) -> tuple[ScaleGroup, ...]:
    """Part the results of one study by scale.

    All that is standardised stands on one; percent and ratios are parted by which direction is
    better, what is told in its own unit by unit too.

    Parameters
    ----------
    rows : DataFrame
        With ``metric, unit, better, outcome`` and the column of `sizes`; machine scale.
    study : Study
    sizes : str
        The column that holds the results.
    asking : iterable of Question
        Questions that compare arms of the study, in order of preference.
    questions : iterable of Question, optional
        All of the library; without them nothing is held against a smallest worthwhile effect.

    Returns
    -------
    tuple of ScaleGroup
        Standardised first, counts last; in the order of rows otherwise.
    """
    parts: dict[tuple[str, str, str], list[int]] = {}
    for place, row in enumerate(rows.itertuples()):
        better = "" if row.metric == "standardised" else row.better
        unit = row.unit if row.metric == "raw" else ""
        parts.setdefault((row.metric, unit, better), []).append(place)
    asking, known = list(asking), None if questions is None else list(questions)
    found = []
    for metric, unit, better in sorted(parts, key=lambda key: ORDER.index(key[0])):
        places = parts[metric, unit, better]
        part = rows.iloc[places]
        scale = scale_of(
            reading_question(study, metric=metric),
            units={unit},
            better={better},
            size=float(np.median(np.abs(part[sizes]))),
        )
        worthwhile = None
        if known is not None:
            outcomes = [study.outcome(each) for each in dict.fromkeys(part["outcome"])]
            worthwhile = _worthwhile(outcomes, asking, known, metric=metric, unit=unit)
        found.append(ScaleGroup(metric, scale, worthwhile, tuple(places)))
    return tuple(found)


def _worthwhile(
    outcomes: list[Outcome],
    asking: list[Question],
    questions: list[Question],
    *,
    metric: str,
    unit: str,
) -> float | None:
    """That of the question about these outcomes; in a unit only if it is the question's own."""
    about = [each for each in asking if any(asks_about(each, outcome) for outcome in outcomes)]
    if metric != "raw":
        asked = next(iter((*about, *asking)), None)
        return worthwhile_for_study(asked, questions, metric=metric)
    for question in about:
        own = question.metric == "raw" and question.client.unit is None
        fits = question.dose is None and metric in kin_metrics(question)
        if fits and (own or question.client.unit == unit):
            found = worthwhile_in(question, metric)
            if found is not None:
                return found
    return None
