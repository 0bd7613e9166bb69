"""Which spread of changes an effect rests on: the printed one, or what a correlation implies."""

from __future__ import annotations

from dataclasses import replace

from steelyard.records.question import Question
from steelyard.reporting.number import Number
from steelyard.reporting.summary import ArmSummary, implied_correlation


def r_of_printed_change(summary: ArmSummary) -> Number | None:
    """The correlation that a printed change SD implies, where the paper prints r as well.

    The change SD is what the variance needs and r only leads to it, so the SD counts first.
    None where the paper does not print both, or where they cannot belong together.
    """
    if summary.r is None or summary.r.tier != "reported":
        return None
    implied = implied_correlation(summary)
    if implied is None:
        return None
    step = f"the change SD counts before the printed r {summary.r.value:g}"
    return replace(implied, chain=(*implied.chain, step))


def change_form(question: Question, summaries: list[ArmSummary]) -> str:
    """``observed`` or ``equal`` change SDs for a standardised effect, as asked or by ``auto``.

    ``auto`` takes the change SDs as observed where the paper tells them: printed, or by both
    SDs and r. Where r is assumed, or the SD after training is missing, the published formula
    with equal SDs stands.
    """
    asked = question.model.change_spread
    if asked != "auto":
        return asked
    printed = [implied_correlation(summary) is not None for summary in summaries]
    known = [
        own or (summary.r is not None and _has_sd(summary.pre) and _has_sd(summary.post))
        for own, summary in zip(printed, summaries, strict=True)
    ]
    return "observed" if all(known) or any(printed) else "equal"


def _has_sd(moments) -> bool:
    return moments is not None and moments.sd is not None
