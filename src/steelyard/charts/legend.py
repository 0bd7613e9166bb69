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
    BRASS_BEAM,
    BRASS_EDGE,
    BRASS_PALE,
    BRASS_TINT,
    DISC,
    INK,
    INK_SOFT,
    NOT_COUNTED,
    PAPER,
    PENNANT,
    POISE,
    RUNS_ON_RIGHT,
    SIZE_SMALL,
    WAYS,
    ZONE_OPACITY,
)
from .steps import draw_stair

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


def patch(fill: str, *, edge: str = "") -> Callable[[Canvas, float, float], None]:
    """A filled patch, as a sign for an area."""
    style = {"fill": fill} | ({"stroke": edge, "strokeWidth": 1.5} if edge else {})

    def sign(canvas: Canvas, x: float, y: float) -> None:
        canvas.box(x + 8, x + 38, y - _HALF, y + _HALF, at_value=False, **style)

    return sign


def stroke(color: str, width: float, dash: tuple = ()) -> Callable[[Canvas, float, float], None]:
    """A piece of a line."""

    def sign(canvas: Canvas, x: float, y: float) -> None:
        canvas.level(x + 4, x + 42, y, stroke=color, strokeWidth=width, dash=dash)

    return sign


def disc(fill: str, edge: str, *, area: float = 110.0) -> Callable[[Canvas, float, float], None]:
    """A disc as it stands in the plot."""

    def sign(canvas: Canvas, x: float, y: float) -> None:
        canvas.mark(
            x + 23, y, at_value=False, area=area, shape="circle", opacity=1, fill=fill,
            stroke=edge, strokeWidth=1.75,
        )  # fmt: skip

    return sign


def curve_band(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x + 4, x + 42, y - _HALF, y + _HALF, at_value=False, fill=BRASS_TINT)
    canvas.level(x + 4, x + 42, y, stroke=BRASS, strokeWidth=3)


def hatched(canvas: Canvas, x: float, y: float) -> None:
    pieces = [((x + 8 + i, y + _HALF), (x + 8 + i + 14, y - _HALF)) for i in range(0, 18, 5)]
    canvas.strokes(pieces, stroke=INK_SOFT, strokeWidth=0.8)


def ways_band(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x + 4, x + 42, y - _HALF, y + _HALF, at_value=False, fill=WAYS[2], opacity=0.75)
    canvas.line([(x + 4, y + 4), (x + 42, y - 4)], stroke=DISC, strokeWidth=2)


def shades(*fills: str) -> Callable[[Canvas, float, float], None]:
    """Patches side by side, from pale to dark."""

    def sign(canvas: Canvas, x: float, y: float) -> None:
        for place, fill in enumerate(fills):
            left = x + 4 + 13 * place
            canvas.box(left, left + 13, y - 6, y + 6, at_value=False, fill=fill)

    return sign


def moved(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x + 2, x + 44, y - 1.5, y + 1.5, at_value=False, fill=BEAM_95)
    canvas.box(x + 12, x + 34, y - 4.5, y + 4.5, at_value=False, fill=BEAM_50)


def pennant(canvas: Canvas, x: float, y: float) -> None:
    canvas.mark(
        x + 23, y, at_value=False, area=230, shape=PENNANT, fill=INK, strokeWidth=0, opacity=1
    )


def _rise(x: float, y: float) -> list[tuple[float, float]]:
    """Corners of a small hill."""
    heights = (0.0, 0.03, 0.15, 0.5, 0.88, 1.0, 0.88, 0.5, 0.15, 0.03, 0.0)
    return [(x + 3 + 4 * i, y + _HALF - 14 * part) for i, part in enumerate(heights)]


def hill(fill: str, edge: str) -> Callable[[Canvas, float, float], None]:
    """A small curve over its area."""

    def sign(canvas: Canvas, x: float, y: float) -> None:
        points = _rise(x, y)
        canvas.line(points, closed=True, fill=fill)
        canvas.line(points, stroke=edge, strokeWidth=2)

    return sign


def poised(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x + 6, x + 40, y - 5, y + 1, at_value=False, fill=BRASS_BEAM, stroke=BRASS,
               strokeWidth=1)  # fmt: skip
    canvas.mark(x + 23, y + 4, at_value=False, area=130, shape=POISE, fill=BRASS, stroke=PAPER,
                strokeWidth=1, opacity=1)  # fmt: skip


def poised_open(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x + 6, x + 40, y - 5, y + 1, at_value=False, fill=PAPER, stroke=BRASS,
               strokeWidth=1)  # fmt: skip
    canvas.mark(x + 23, y + 4, at_value=False, area=130, shape=POISE, fill=PAPER, stroke=BRASS,
                strokeWidth=1.25, opacity=1)  # fmt: skip


def stair(canvas: Canvas, x: float, y: float) -> None:
    draw_stair(canvas, x + 7, y + 8, "moderate")


def dashed_hill(canvas: Canvas, x: float, y: float) -> None:
    points = _rise(x, y)
    canvas.line(points, closed=True, fill=BEAM_95, opacity=0.3)
    canvas.line(points, stroke=BEAM_50, strokeWidth=2, dash=(4, 3))


def dot_and_bar(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x + 3, x + 43, y - 2, y + 2, at_value=False, fill=BEAM_95)
    disc(DISC, PAPER, area=130.0)(canvas, x, y)
