"""What it is called when an effect lies on the favourable side, for each kind of question."""

from __future__ import annotations

from steelyard.pooling.weighing import Weighing


def favourable(weighing: Weighing) -> str:
    """A clause for effects above zero: who does better, or what goes together."""
    if weighing.question.metric == "correlation":
        return "the one goes with the other"
    return f"{weighing.intervention} does better"


def unfavourable(weighing: Weighing) -> str:
    """A clause for effects below zero."""
    if weighing.question.metric == "correlation":
        return "the one goes against the other"
    return f"{weighing.comparator} does better"
