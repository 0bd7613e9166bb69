"""What it is called when a weighing's effect lies on one side, for each kind of question."""

from __future__ import annotations

from steelyard.pooling.sides import Sides, sides
from steelyard.pooling.weighing import Weighing


def sides_of(weighing: Weighing) -> Sides:
    """Both sides of a weighing in words."""
    return sides(
        metric=weighing.question.metric,
        intervention=weighing.intervention,
        comparator=weighing.comparator,
        dose=weighing.question.dose is not None,
    )


def favourable(weighing: Weighing) -> str:
    """A clause for effects above zero: who does better, what goes together or varies more."""
    return sides_of(weighing).ahead


def unfavourable(weighing: Weighing) -> str:
    """A clause for effects below zero."""
    return sides_of(weighing).behind


def axis_words(weighing: Weighing) -> tuple[str, str]:
    """Words for the left and the right end of the weighing's scale as it is shown."""
    both = sides_of(weighing)
    ends = (both.below, both.above)
    return ends[::-1] if weighing.scale.turned else ends
