"""The head of a chart: what the scale measures, what its sides mean, the notched bar."""

from __future__ import annotations

from steelyard.pooling.pictures import EffectAxis

from .canvas import Canvas
from .frame import Frame
from .look import INK_SOFT, SIZE_SMALL
from .scenery import draw_directions, draw_fulcrum, draw_scale
from .span import Span


def draw_head(canvas: Canvas, frame: Frame, span: Span, axis: EffectAxis, y: float) -> float:
    """Draw the head over a plot from its frame's left to right; returns the pixel below it."""
    y = canvas.paragraph(
        (frame.left + frame.right) / 2, y, axis.title,
        width=frame.right - frame.left, size=SIZE_SMALL, color=INK_SOFT, align="center",
    )  # fmt: skip
    y = draw_directions(canvas, frame, y + 2, axis.left_words, axis.right_words)
    y = draw_scale(canvas, frame, span, y + 4, signed=axis.kind == "linear", heavy=True)
    return draw_fulcrum(
        canvas,
        frame,
        span,
        y,
        zone=axis.zone,
        no_effect=axis.no_effect,
        zero_words=axis.zero_words,
    )


def describe(data, *parts: str) -> str:
    """What a picture says to those who cannot see it: title, sentence, parts, notes."""
    return " ".join(filter(None, (data.title, data.subtitle, *parts, *data.notes)))
