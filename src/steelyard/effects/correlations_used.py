"""Which correlation an effect uses: reported, derived, or assumed by question or default."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from steelyard.effects.formed import PAIRED_DESIGNS
from steelyard.effects.selection import Pairing
from steelyard.records.question import Question
from steelyard.records.study import Arm
from steelyard.reporting.default_correlation import (
    BETWEEN_ARMS,
    BETWEEN_ARMS_RANGE,
    BETWEEN_OUTCOMES,
    BETWEEN_OUTCOMES_RANGE,
    DefaultCorrelation,
    default_correlation,
    is_resting,
)
from steelyard.reporting.number import Number
from steelyard.reporting.summary import ArmSummary, find_result, summarise


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


def assumable_between(question: Question, name: str) -> DefaultCorrelation:
    """What may be assumed between two conditions of one person, or between outcomes.

    `name` is that of the question's field, ``r_between_arms`` or ``r_between_outcomes``.
    """
    usual, ends = _BETWEEN[name]
    asked, span = getattr(question.assume, name), getattr(question.assume, f"{name}_range")
    value = usual if asked is None else float(asked)
    low, high = ends if span is None else map(float, span)
    return DefaultCorrelation(value, min(low, value), max(high, value))


_BETWEEN = {
    "r_between_arms": (BETWEEN_ARMS, BETWEEN_ARMS_RANGE),
    "r_between_outcomes": (BETWEEN_OUTCOMES, BETWEEN_OUTCOMES_RANGE),
}


def assumes_between_arms(rows: pd.DataFrame) -> bool:
    """Whether a limb or period design among effect rows rests on an assumed correlation."""
    paired = rows["design"].isin(PAIRED_DESIGNS)
    return bool((paired & rows["assumed"].str.contains("between the two conditions")).any())


def knows_its_r(pairing: Pairing, arm: Arm) -> bool:
    """Whether the paper tells the pre-post r of one arm, or the SDs that it follows from."""
    found = find_result(pairing.study, outcome=pairing.outcome.id, arm=arm.id, week=pairing.week)
    return found is not None and summarise(pairing.study, found).r is not None


def assumed_ends(
    question: Question, pairings: Iterable[Pairing], end: str
) -> frozenset[tuple[str, bool, float]]:
    """The pre-post r assumed at one end for arms that tell none: construct, whether at rest, r."""
    return frozenset(
        (construct, is_resting(arm), assumable(question, construct, arm).at(end))
        for pairing in pairings
        for construct in [pairing.outcome.construct_id]
        for arm in (pairing.intervention, pairing.comparator)
        if not knows_its_r(pairing, arm)
    )


def ends_by_arm(question: Question, pairings: Iterable[Pairing], end: str) -> str:
    """The same in words; arms that rest are named apart where theirs is another."""
    found = assumed_ends(question, pairings, end)
    trained, resting = ({r for _, rests, r in found if rests is kind} for kind in (False, True))
    if not resting or trained == resting:
        return _range(trained)
    rest = f"resting arms {_range(resting)}"
    return f"{_range(trained)} ({rest})" if trained else rest


def _range(values: set[float]) -> str:
    low, high = (f"{end(values):.2f}" for end in (min, max))
    return low if low == high else f"{low} to {high}"


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
