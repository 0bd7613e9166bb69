"""What stands behind and around the rows: the scale, the zone, directions, banner and notes."""

from __future__ import annotations

from .canvas import LINE, Canvas
from .frame import Frame
from .lettering import text_width, wrap
from .look import (
    FULCRUM,
    HAIRLINE,
    INK,
    INK_SOFT,
    PAPER,
    SIZE_BODY,
    SIZE_SMALL,
    ZONE_OPACITY,
)
from .span import Span, tick_text


def draw_banner(canvas: Canvas, y: float, notes: tuple[str, ...]) -> float:
    """Box the notes that say the data are invented, so that nobody can miss them."""
    for note in notes:
        if "invented" not in note.lower():
            continue
        lines = len(wrap(note, canvas.width - 24, size=SIZE_BODY, bold=True))
        bottom = y + lines * SIZE_BODY * LINE + 12
        canvas.box(
            0.75,
            canvas.width - 0.75,
            y,
            bottom,
            at_value=False,
            fill=PAPER,
            stroke=INK,
            strokeWidth=1.5,
        )
        canvas.paragraph(12, y + 5, note, width=canvas.width - 24, bold=True)
        y = bottom + 10
    return y


def draw_directions(canvas: Canvas, frame: Frame, y: float, left: str, right: str) -> float:
    """Say at either end of the scale what it means to lie there."""
    room = (frame.right - frame.left) / 2 - 10
    below_left = canvas.paragraph(frame.left, y, left, width=room, bold=True)
    below_right = canvas.paragraph(frame.right, y, right, width=room, bold=True, align="right")
    return max(below_left, below_right)


def draw_scale(
    canvas: Canvas, frame: Frame, span: Span, y: float, *, signed: bool, heavy: bool
) -> float:
    """Draw the scale: a notched bar with labels above if heavy, else a hairline, labels below."""
    if heavy:
        baseline = y + SIZE_BODY
        top, bottom = baseline + 6, baseline + 11
        canvas.box(frame.left, frame.right, top, bottom, at_value=False, fill=INK)
    else:
        top, bottom = y, y + 1
        baseline = y + 8 + SIZE_BODY
        canvas.box(frame.left, frame.right, top, bottom, at_value=False, fill=INK_SOFT)
    for tick in span.ticks:
        if heavy:
            canvas.upright(tick, top - 3, top, stroke=INK, strokeWidth=1.5)
        else:
            canvas.upright(tick, bottom, bottom + 4, stroke=INK_SOFT, strokeWidth=1)
        canvas.words(
            tick,
            baseline,
            tick_text(tick, signed=signed),
            at_value=True,
            align="center",
            fontSize=SIZE_SMALL + 0.5,
            color=INK_SOFT,
        )
    return bottom if heavy else baseline + 4


def draw_ground(
    canvas: Canvas,
    span: Span,
    top: float,
    bottom: float,
    *,
    zone: tuple[float, float] | None,
    no_effect: float,
) -> None:
    """Draw, behind all else, the zone too small to matter, the tick lines and no effect."""
    if zone is not None:
        canvas.box(*map(span.clip, zone), top, bottom, fill=INK, opacity=ZONE_OPACITY, depth=-1)
        for bound in zone:
            if span.low <= bound <= span.high:
                canvas.upright(bound, top, bottom, stroke=INK_SOFT, dash=(1, 3), depth=-1)
    for tick in span.ticks:
        canvas.upright(tick, top, bottom, stroke=HAIRLINE, strokeWidth=0.75, depth=-1)
    canvas.upright(no_effect, top, bottom, stroke=INK, strokeWidth=1.25, depth=-1)


def draw_fulcrum(
    canvas: Canvas,
    frame: Frame,
    span: Span,
    y: float,
    *,
    zone,
    no_effect: float,
    zero_words: str = "",
) -> float:
    """Put the fulcrum under the scale at no effect, and name the zone around it."""
    canvas.mark(no_effect, y + 7, area=150, shape=FULCRUM, fill=INK, strokeWidth=0, opacity=1)
    words = (zero_words or "equal") if zone is None else "too small to matter"
    half = text_width(words, SIZE_SMALL) / 2
    middle = span.position(no_effect, frame.left, frame.right)
    centre = min(max(middle, half), canvas.width - half)
    canvas.words(centre, y + 27, words, align="center", fontSize=SIZE_SMALL, color=INK_SOFT)
    return y + 33


def write_notes(canvas: Canvas, y: float, notes: tuple[str, ...]) -> float:
    """Write the notes that are not in the banner."""
    for note in notes:
        if "invented" in note.lower():
            continue
        y = 3 + canvas.paragraph(0, y, note, width=canvas.width, size=SIZE_SMALL, color=INK_SOFT)
    return y
