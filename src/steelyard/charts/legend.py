"""The marks explained once, in words, below the plot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from .beams import RUNS_ON_AREA
from .canvas import LINE, Canvas
from .look import (
    BEAM_50,
    BEAM_80,
    BEAM_95,
    BRASS,
    BRASS_EDGE,
    BRASS_PALE,
    BRASS_TINT,
    DISC,
    INK,
    INK_SOFT,
    NOT_COUNTED,
    PAPER,
    RUNS_ON_RIGHT,
    SIZE_SMALL,
    ZONE_OPACITY,
)

_GLYPH = 46.0
_GAP = 26.0
_HALF = 7.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One sign and what it means; `draw(canvas, x, y)` draws it 46 pixels wide, `y` its middle."""

    draw: Callable[[Canvas, float, float], None]
    words: str


def draw_legend(canvas: Canvas, y: float, entries: list[Entry]) -> float:
    """Set the entries side by side as far as they fit, else below each other."""
    column = canvas.width if canvas.width < 500 else (canvas.width - _GAP) / 2
    room = column - _GLYPH - 10
    for start in range(0, len(entries), per_line := int(canvas.width // column)):
        below = y
        for place, entry in enumerate(entries[start : start + per_line]):
            x = place * (column + _GAP)
            entry.draw(canvas, x, y + SIZE_SMALL * LINE / 2 + 1)
            below = max(
                below,
                canvas.paragraph(
                    x + _GLYPH + 10, y, entry.words, width=room, size=SIZE_SMALL, color=INK_SOFT
                ),
            )
        y = below + 5
    return y


def nested_beam(canvas: Canvas, x: float, y: float) -> None:
    for inset, half, colour in ((0, 1.5, BEAM_95), (8, 3.25, BEAM_80), (15, 5.5, BEAM_50)):
        canvas.box(x + inset, x + _GLYPH - inset, y - half, y + half, at_value=False, fill=colour)


def discs(canvas: Canvas, x: float, y: float) -> None:
    for across, area in ((10, 25), (32, 170)):
        canvas.mark(
            x + across, y, at_value=False, area=area, shape="circle", opacity=1,
            fill=DISC, stroke=PAPER, strokeWidth=1.5,
        )  # fmt: skip


def pooled_ribbon(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x + 10, x + 36, y - _HALF, y + _HALF, at_value=False, fill=BRASS_TINT)
    canvas.upright(x + 23, y - _HALF, y + _HALF, at_value=False, stroke=BRASS, strokeWidth=1.5)


def prediction_ribbon(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x + 2, x + 44, y - _HALF, y + _HALF, at_value=False, fill=BRASS_PALE)
    for edge in (x + 2, x + 44):
        canvas.upright(
            edge, y - _HALF, y + _HALF, at_value=False, stroke=BRASS_EDGE, strokeWidth=1.25,
            dash=(4, 3),
        )  # fmt: skip


def zone_patch(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x + 8, x + 38, y - _HALF, y + _HALF, at_value=False, fill=INK, opacity=ZONE_OPACITY)
    for edge in (x + 8, x + 38):
        canvas.upright(edge, y - _HALF, y + _HALF, at_value=False, stroke=INK_SOFT, dash=(1, 3))


def not_counted(canvas: Canvas, x: float, y: float) -> None:
    canvas.level(x + 2, x + 44, y, stroke=NOT_COUNTED, strokeWidth=1.5, dash=(2, 2))
    canvas.mark(
        x + 23, y, at_value=False, area=80, shape="circle", opacity=1,
        fill=PAPER, stroke=NOT_COUNTED, strokeWidth=1.6,
    )  # fmt: skip


def runs_on(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x + 4, x + 36, y - 1.5, y + 1.5, at_value=False, fill=BEAM_95)
    canvas.mark(
        x + 41, y, at_value=False, area=RUNS_ON_AREA, shape=RUNS_ON_RIGHT, fill=DISC, strokeWidth=0,
        opacity=1,
    )  # fmt: skip
