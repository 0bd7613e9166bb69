"""Facts as a person reads them, in the unit of their weighing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from steelyard.judging.certainty.facts import SHARES
from steelyard.judging.conditions import unknown
from steelyard.pooling.weighing import Weighing
from steelyard.records.question import RATIO_METRICS, Question
from steelyard.show import number

RATIOS = RATIO_METRICS - {"percent"}
SHIFTS = frozenset(("shift_without_high", "shift_unlimited"))
LABELS = {
    "worthwhile": "smallest worthwhile effect",
    "k_studies": "studies",
    "people_needed_per_arm": "people needed an arm",
    "people_per_arm": "people an arm",
    "tau": "between-study SD",
    "overlap": "studies whose own interval holds the estimate",
    "match_together": "weight that matches the person",
    "match_worst": "weight that matches in the least matching respect",
    "surrogate": "weight from stand-ins",
    "elsewhere": "weight from other parts of the body",
    "none_planned": "no study with a public plan",
    "zones_more": "further answers the next study may give",
    "bounds_crossed": "thresholds inside the interval",
    "prediction": "next study",
    "asymmetry_p": "p of small against large",
    "shift_unlimited": "shift at unlimited size",
    "unlimited": "answer at unlimited size",
    "alike_by_size": "small and large studies alike",
    "randomised_weight": "weight from groups formed by chance",
    "weight_high": "weight of high concern",
    "weight_some_or_high": "weight of some or high concern",
    "weight_not_appraised": "weight not appraised yet",
    "shift_without_high": "shift without high concern",
    "suspect_weight": "weight of suspect numbers",
}


def label_of(fact: str) -> str:
    """What a fact is called."""
    return LABELS.get(fact, fact.replace("_", " "))


def share_text(share: float) -> str:
    """A fraction as a percent, never rounded to all or nothing when it is neither."""
    percent = 100 * share
    if 0 < percent < 1:
        return "under 1 %"
    if 99 < percent < 100:
        return "over 99 %"
    return f"{percent:.0f} %"


def is_ratio_below_one(question: Question) -> bool:
    """Whether the smallest worthwhile effect is stated as a ratio such as 0.8."""
    stated = question.smallest_worthwhile
    return question.metric in RATIOS and stated is not None and stated < 1


def worthwhile_text(weighing: Weighing, value: float) -> str:
    """A smallest worthwhile effect (machine scale) as the question would state it."""
    question, scale = weighing.question, weighing.scale
    if question.metric == "percent":
        return f"{100 * np.expm1(value):.3g} %"
    if question.metric in RATIOS:
        return f"{np.exp(-value if is_ratio_below_one(question) else value):.3g}"
    if question.metric == "correlation":
        return f"{np.tanh(value):.3g}"
    factor = 100 if question.metric == "risk-difference" else 1
    return f"{factor * value:.3g}{scale.unit}"


def shift_text(weighing: Weighing, value: float) -> str:
    """How far one estimate lies from another, either way; value on the machine scale, not below 0.

    Of ratios a factor, since a difference of logarithms is one; of correlations in Fisher's z.
    """
    metric = weighing.question.metric
    if metric in RATIOS:
        return f"a factor of {np.exp(value):.3g}"
    return f"{value:.3g} of z" if metric == "correlation" else worthwhile_text(weighing, value)


def _spread_text(weighing: Weighing, value: float) -> str:
    """An SD between studies, which of ratios has a meaning on the log scale alone."""
    if weighing.question.metric in RATIOS:
        return f"{value:.3g} on the log scale"
    return shift_text(weighing, value)


def texts_of(facts: Mapping[str, Any], weighing: Weighing) -> dict[str, str]:
    """Every fact as text, with the interval and the prediction interval."""
    found = {name: _text(name, value, weighing) for name, value in facts.items()}
    found["interval"] = weighing.span(weighing.low, weighing.high)
    found["prediction"] = (
        "no prediction interval"
        if np.isnan(weighing.prediction_low)
        else weighing.span(weighing.prediction_low, weighing.prediction_high)
    )
    found["estimate"] = weighing.text(weighing.estimate)
    if not unknown(facts.get("unlimited")):
        ends = weighing.span(facts["unlimited_low"], facts["unlimited_high"])
        found["unlimited"] = f"{weighing.text(facts['unlimited'])} ({ends})"
    return found


def _text(name: str, value: Any, weighing: Weighing) -> str:
    if unknown(value):
        return "not known"
    if name == "worthwhile":
        return worthwhile_text(weighing, float(value))
    if name in SHIFTS:
        return shift_text(weighing, float(value))
    if name == "tau":
        return _spread_text(weighing, float(value))
    if name in SHARES:
        return share_text(float(value))
    if name == "asymmetry_p":
        return "under 0.001" if value < 0.001 else number(float(value), decimals=3)
    if name in ("people_per_arm", "largest_study_per_arm"):
        return f"{value:,.0f}"
    if name == "people_needed_per_arm":
        return f"{np.ceil(value):,.0f}"
    return f"{value:.3g}" if isinstance(value, float) else str(value)
