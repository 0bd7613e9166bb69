"""Which correlation an effect uses: reported, derived, or assumed by question or default."""

from __future__ import annotations

from steelyard.effects.selection import Pairing
from steelyard.records.question import Question
from steelyard.records.study import Arm
from steelyard.reporting.default_correlation import (
    BETWEEN_ARMS,
    default_correlation,
    is_resting,
)
from steelyard.reporting.number import Number
from steelyard.reporting.summary import ArmSummary


def pre_post(pairing: Pairing, question: Question, summary: ArmSummary, arm: Arm) -> Number:
    """Correlation between before and after in one arm."""
    if summary.r is not None:
        return summary.r
    if question.assume.r_pre_post is not None:
        value = float(question.assume.r_pre_post)
        return Number(value, "imputed", (f"pre-post r {value:.2f} assumed by the question",))
    rests = is_resting(arm)
    value = default_correlation(pairing.outcome.construct_id, rests=rests).value
    words = " for an arm that does not train" if rests else ""
    return Number(value, "imputed", (f"pre-post r {value:.2f} assumed by default{words}",))


def between_arms(pairing: Pairing, question: Question) -> Number:
    """Correlation between two conditions of the same people."""
    reported = pairing.outcome.r_between_arms
    if reported is not None:
        value = float(reported)
        return Number(value, "reported", (f"r between the two conditions {value:.2f} reported",))
    if question.assume.r_between_arms is not None:
        value = float(question.assume.r_between_arms)
        step = f"r between the two conditions {value:.2f} assumed by the question"
        return Number(value, "imputed", (step,))
    step = f"r between the two conditions {BETWEEN_ARMS:.2f} assumed by default"
    return Number(BETWEEN_ARMS, "imputed", (step,))


def origin(rs: tuple[Number, ...]) -> str:
    """Where correlations come from, by the weakest: assumed, derived or reported."""
    if any(r.tier == "imputed" for r in rs):
        return "assumed"
    return "reported" if all(r.tier == "reported" for r in rs) else "derived"
