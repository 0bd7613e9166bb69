"""The scale on which a weighing's effects stand in a picture, with its sides in words."""

from __future__ import annotations

from steelyard.pooling.forest_data import axis_title
from steelyard.pooling.pictures import EffectAxis
from steelyard.pooling.side_words import axis_words
from steelyard.pooling.weighing import Weighing


def effect_axis(weighing: Weighing) -> EffectAxis:
    """The axis of a weighing, in display units."""
    scale = weighing.scale
    left, right = axis_words(weighing)
    return EffectAxis(
        title=axis_title(weighing),
        left_words=left,
        right_words=right,
        kind=scale.kind,
        no_effect=scale.no_effect,
        zone=None if weighing.worthwhile is None else zone_shown(weighing, weighing.worthwhile),
        decimals=scale.decimals,
    )


def zone_shown(weighing: Weighing, worthwhile: float) -> tuple[float, float]:
    """Bounds of the effects too small to matter, in display units, low end first."""
    return ends_shown(weighing, -worthwhile, worthwhile)


def ends_shown(weighing: Weighing, low: float, high: float) -> tuple[float, float]:
    """A machine interval in display units, low end first."""
    one, other = (float(weighing.scale.shown(end)) for end in (low, high))
    return (one, other) if one <= other else (other, one)
