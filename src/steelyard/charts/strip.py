"""A range strip in kilograms or millimetres: the average, the next group, one person."""

from __future__ import annotations

from math import isfinite

from steelyard.pooling.pictures import EffectAxis, StripData

from .canvas import LINE, Canvas, Sheet
from .frame import Frame, choose_frame
from .head import describe, draw_head
from .lettering import text_width
from .look import (
    BRASS,
    BRASS_BEAM,
    BRASS_PALE,
    BRASS_TINT,
    INK,
    INK_SOFT,
    PAPER,
    POISE,
    SIZE_BODY,
    SIZE_SMALL,
)
from .picture import Picture
from .rowtext import write_row
from .scenery import draw_banner, draw_ground, draw_scale, write_notes
from .span import Span, choose_span
from .vector import draw

# The wider the range is, the paler: average, next group, one person, and any further.
_TINTS = (BRASS_BEAM, BRASS_TINT, BRASS_PALE)

_PAPER_WIDTH = 560.0


def strip_plot(data: StripData, *, width: str = "page") -> Picture:
    """Draw ranges below each other on one scale, in a unit the client knows.

    Parameters
    ----------
    data : StripData
    width : str
        ``"page"`` or ``"phone"``.

    Returns
    -------
    Picture

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    rows = data.ranges.to_dict("records")
    frame = choose_frame(
        width, labels=[row["words"] for row in rows], numbers=[row["numbers"] for row in rows]
    )
    span = _span(data, ticks=6 if frame.narrow else 8)
    axis = EffectAxis(
        title=data.axis_title or f"difference, in {data.unit}", left_words=data.left_words,
        right_words=data.right_words, decimals=data.decimals, zero_words=data.zero_words,
    )  # fmt: skip
    canvas = Canvas(frame.width, span, left=frame.left, right=frame.right)
    y = draw_head(canvas, frame, span, axis, draw_banner(canvas, 0.0, data.notes))
    y = _ranges(canvas, frame, span, data, y)
    y = write_notes(canvas, y + 12, data.notes)
    return draw(Sheet(canvas, y, data.title, data.subtitle, _in_words(data)))


def strip_on_paper(data: StripData) -> Picture:
    """The same for a sheet of paper: low, and small enough that its letters need no shrinking.

    Parameters
    ----------
    data : StripData

    Returns
    -------
    Picture
        Without the notched bar and the boxed notes: the sheet says what the notes say.
    """
    rows = data.ranges.to_dict("records")
    labels, numbers = (
        min(max(text_width(row[name], SIZE_BODY, bold=True) for row in rows) + 6, most)
        for name, most in (("words", 140.0), ("numbers", 240.0))
    )
    start = _PAPER_WIDTH - numbers
    frame = Frame(_PAPER_WIDTH, labels, labels + 18, start - 18, start, False)
    span = _span(data, ticks=5)
    canvas = Canvas(frame.width, span, left=frame.left, right=frame.right)
    y = _ranges(canvas, frame, span, data, 0.0)
    canvas.paragraph(
        (frame.left + frame.right) / 2, y + 4, data.axis_title or f"difference, in {data.unit}",
        width=frame.width, size=SIZE_SMALL, color=INK_SOFT, align="center",
    )  # fmt: skip
    return draw(Sheet(canvas, y + 4 + SIZE_SMALL * LINE, data.title, "", _in_words(data)))


def _span(data: StripData, *, ticks: int) -> Span:
    ends = data.ranges[["low", "high", "estimate"]].to_numpy().ravel()
    values = [0.0, *(float(v) for v in (*ends, data.worthwhile) if isfinite(v))]
    return choose_span([], [], [], keep=tuple(values), scale="linear", max_ticks=ticks)


def _in_words(data: StripData) -> str:
    lines = [f"{row['words']}: {row['numbers']}." for row in data.ranges.to_dict("records")]
    if isfinite(data.worthwhile):
        lines.append(f"{data.worthwhile_words}: from {data.worthwhile:g} {data.unit}.")
    return describe(data, *lines)


def _ranges(canvas: Canvas, frame: Frame, span: Span, data: StripData, y: float) -> float:
    """The rows over their ground, with the mark above and the scale below."""
    marked = isfinite(data.worthwhile)
    if marked:
        y = _worthwhile(canvas, data, y)
    top, tracks = y, []
    rows = data.ranges.to_dict("records")
    for place_in_list, row in enumerate(rows):
        place = write_row(canvas, frame, y + 4, row["words"], numbers=row["numbers"])
        tracks.append(place.track)
        middle = place.middle
        if isfinite(row["low"]) and isfinite(row["high"]):
            canvas.box(
                row["low"], row["high"], middle - 8, middle + 8,
                fill=_TINTS[min(place_in_list, len(_TINTS) - 1)], stroke=BRASS, strokeWidth=1.25,
            )  # fmt: skip
        if isfinite(row["estimate"]):
            canvas.mark(
                row["estimate"], middle + 2, area=200, shape=POISE, fill=BRASS, stroke=PAPER,
                strokeWidth=1.25, opacity=1, depth=0.5,
            )  # fmt: skip
        y = place.bottom + 6
    for start, end in tracks if frame.narrow else [(top, y)]:
        draw_ground(canvas, span, start, end, zone=None, no_effect=0.0)
        if marked:
            canvas.upright(data.worthwhile, start, end, stroke=INK, strokeWidth=2, dash=(1.5, 3))
    return draw_scale(canvas, frame, span, y, signed=True, heavy=False)


def _worthwhile(canvas: Canvas, data: StripData, y: float) -> float:
    x = canvas.across(data.worthwhile)
    words = f"{data.worthwhile_words} {data.from_here_words or 'from here on'} →"
    wide = min(1 + text_width(words, SIZE_SMALL, bold=True), canvas.width)
    left = min(max(x - 2, 0), canvas.width - wide)
    y = 3 + canvas.paragraph(left, y, words, width=wide, size=SIZE_SMALL, bold=True)
    canvas.upright(data.worthwhile, y, y + 7, stroke=INK, strokeWidth=2)
    return y + 7
