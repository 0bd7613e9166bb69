"""Which correlation an effect uses: reported, derived, or assumed by question or default."""

from __future__ import annotations

from steelyard.effects.selection import Pairing
from steelyard.records.question import Question
from steelyard.records.study import Arm
from steelyard.reporting.default_correlation import (
    BETWEEN_ARMS,
    DefaultCorrelation,
    default_correlation,
    is_resting,
)
from steelyard.reporting.number import Number
from steelyard.reporting.summary import ArmSummary


def assumable(question: Question, construct: str, arm: Arm) -> DefaultCorrelation:
    """What may be assumed for the pre-post r of one arm: the usual value, a low and a high.

    The question's own value and range, else those of the default for the construct and for arms
    that train or do not; the ends reach at least to the value.
    """
    usual = default_correlation(construct, rests=is_resting(arm))
    asked, ends = question.assume.r_pre_post, question.assume.r_pre_post_range
    value = usual.value if asked is None else float(asked)
    low, high = (usual.low, usual.high) if ends is None else map(float, ends)
    return DefaultCorrelation(value, min(low, value), max(high, value))


def assumable_of_both(question: Question, pairing: Pairing) -> DefaultCorrelation:
    """The same for one r that stands for both arms: the mean of the two."""
    construct = pairing.outcome.construct_id
    pair = [assumable(question, construct, a) for a in (pairing.intervention, pairing.comparator)]
    return DefaultCorrelation(
        *(sum(each.at(end) for each in pair) / 2 for end in ("usual", "low", "high"))
    )


def assumed_by(question: Question, pairing: Pairing) -> str:
    """Whose assumption a pre-post r is, in words."""
    source = "by default" if question.assume.r_pre_post is None else "by the question"
    ends = {"low": "at its low end, ", "high": "at its high end, "}
    return f"assumed {ends.get(pairing.assumed_r, '')}{source}"


def pre_post(pairing: Pairing, question: Question, summary: ArmSummary, arm: Arm) -> Number:
    """Correlation between before and after in one arm."""
    if summary.r is not None:
        return summary.r
    value = assumable(question, pairing.outcome.construct_id, arm).at(pairing.assumed_r)
    step = f"pre-post r {value:.2f} {assumed_by(question, pairing)}"
    if is_resting(arm) and question.assume.r_pre_post is None:
        step += " for an arm that does not train"
    return Number(value, "imputed", (step,))


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
