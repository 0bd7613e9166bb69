"""A weighing's answer as sentences; every number in them comes from the weighing."""

from __future__ import annotations

import numpy as np

from steelyard.pooling.verdict import BETTER, EQUIVALENT, WORSE
from steelyard.pooling.weighing import Weighing
from steelyard.show import count, p_text

SHOWN = 0.05  # p of Q below which studies are said to differ where their SD has no interval
_NOUNS = {
    "risk-ratio": "Pooled risk ratio",
    "odds-ratio": "Pooled odds ratio",
    "variability-ratio": "Pooled ratio of spreads",
    "relative-variability-ratio": "Pooled ratio of spreads relative to the mean",
    "correlation": "Pooled correlation",
    **dict.fromkeys(("standardised", "raw", "percent", "risk-difference"), "Pooled difference"),
}


def answer_sentence(weighing: Weighing) -> str:
    """Size, interval and verdict in one sentence."""
    percent = f"{100 * weighing.level:g} %"
    size = f"{_NOUNS[weighing.question.metric]}: {weighing.text(weighing.estimate)}"
    intervals = f"{percent} interval {weighing.span(weighing.low, weighing.high)}"
    if weighing.verdict.word == EQUIVALENT:
        decisive = weighing.span(weighing.low_90, weighing.high_90)
        intervals += f"; the 90 % interval, which decides on sameness, {decisive}"
    return f"{_capital(weighing.verdict.sentence)}. {size} ({intervals}){_per(weighing)}."


def margin_sentence(weighing: Weighing) -> str:
    """The smallest effect worth having, to be read before the estimate."""
    if weighing.worthwhile is None:
        return f"The smallest effect worth having is {weighing.margin}."
    return f"Too small to matter, set beforehand: {weighing.margin}."


def sameness_sentence(weighing: Weighing) -> str:
    """What two one-sided tests say of sameness; empty where a difference that matters is shown."""
    tests = weighing.equivalence
    if tests is None or weighing.verdict.word in (BETTER, WORSE):
        return ""
    shown = tests.verdict.word == EQUIVALENT
    return (
        "Two one-sided tests against the smallest effect worth having: "
        f"{'a difference that matters is ruled out' if shown else 'sameness is not shown'} "
        f"({p_text(tests.p)}, 90 % interval {weighing.span(weighing.low_90, weighing.high_90)})."
    )


def next_study_sentence(weighing: Weighing) -> str:
    """What a further study, or another group of clients, would probably show."""
    if np.isnan(weighing.prediction_low):
        return (
            "There are too few studies to say what the next one would show."
            if weighing.pooled.between != "common"
            else "One common effect is assumed, so nothing is said of how studies differ."
        )
    span = weighing.span(weighing.prediction_low, weighing.prediction_high)
    often = f"{100 * weighing.level:g} times in 100"
    text = f"A further group like these would, on average, probably ({often}) lie from {span}"
    return f"{text}{_per(weighing)}{_how_studies_differ(weighing)}."


def differ_shown(weighing: Weighing) -> bool:
    """Whether studies differ by more than chance: the interval of their SD leaves zero out.

    Where there is no such interval, the test by Q decides.
    """
    low = weighing.tau2_low
    return bool(weighing.q_p < SHOWN if np.isnan(low) else low > 0)


def _how_studies_differ(weighing: Weighing) -> str:
    if not weighing.tau2 > 0:
        return ""
    if differ_shown(weighing):
        return ": studies differ by more than chance in who took part and what was done"
    return ": studies may differ in who took part and what was done, though chance could do as much"


def evidence_sentence(weighing: Weighing) -> str:
    """How much evidence there is, and what was left out."""
    text = (
        f"This rests on {count(weighing.k_effects, 'effect')} from "
        f"{count(weighing.k_studies, 'study', 'studies')} with {weighing.people:,} people."
    )
    if weighing.left_out:
        studies = len({out.study for out in weighing.left_out})
        text += f" {count(studies, 'study', 'studies')} touched the question but gave "
        text += "nothing to pool, or not all of it; the reasons are listed."
    return text


def _per(weighing: Weighing) -> str:
    question = weighing.question
    if question.dose is None:
        return ""
    return f" for every {float(question.dose_step or 1):g} more {question.dose.replace('_', ' ')}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
