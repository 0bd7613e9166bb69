"""What the pooled number of a caption is a number of."""

from __future__ import annotations

from steelyard.explaining.evidence import Evidence
from steelyard.explaining.names import names_of
from steelyard.explaining.wording.catalogue import Catalogue

QUANTITIES = {
    **dict.fromkeys(("standardised", "raw", "percent"), "mean"),
    **dict.fromkeys(("variability-ratio", "relative-variability-ratio"), "spread"),
    "risk-ratio": "risk",
    "risk-difference": "risk_difference",
    "odds-ratio": "odds",
    "correlation": "correlation",
}


def pooled_quantity(evidence: Evidence, words: Catalogue) -> str:
    """The kind of number, its outcome, and for a dose its step."""
    question, names = evidence.question, names_of(evidence, words)
    key = QUANTITIES[question.metric] + ("_dose" if question.dose is not None else "")
    return words.say(f"quantity.{key}", outcome=names.outcome, a=names.a, b=names.b)
