"""Certainty as a small stair in one hue: the higher it is filled, the surer the answer."""

from __future__ import annotations

from steelyard.pooling.pictures import CERTAINTY_WORDS

from .canvas import Canvas
from .look import BEAM_50, PAPER

_STEP = 8.0
_RISE = 4.0
STAIR_WIDTH = _STEP * len(CERTAINTY_WORDS)


def draw_stair(canvas: Canvas, x: float, bottom: float, certainty: str) -> None:
    """Draw four steps on a base line, filled as far as the certainty goes; none if unknown."""
    reached = CERTAINTY_WORDS.index(certainty) + 1 if certainty in CERTAINTY_WORDS else 0
    for place in range(len(CERTAINTY_WORDS)):
        left, height = x + place * _STEP, _RISE * (place + 1)
        canvas.box(
            left + 0.5, left + _STEP - 1, bottom - height, bottom, at_value=False,
            fill=BEAM_50 if place < reached else PAPER, stroke=BEAM_50, strokeWidth=1,
        )  # fmt: skip
