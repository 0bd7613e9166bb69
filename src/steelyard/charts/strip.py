"""A range strip in kilograms or millimetres: the average, the next group, one person."""

from __future__ import annotations

from math import isfinite

from steelyard.pooling.pictures import EffectAxis, StripData

from .canvas import Canvas, Sheet
from .frame import choose_frame
from .head import describe, draw_head
from .lettering import text_width
from .look import BRASS, BRASS_BEAM, BRASS_PALE, BRASS_TINT, INK, PAPER, POISE, SIZE_SMALL
from .picture import Picture
from .rowtext import write_row
from .scenery import draw_banner, draw_ground, draw_scale, write_notes
from .span import choose_span
from .vector import draw

# The wider the range is, the paler: average, next group, one person, and any further.
_TINTS = (BRASS_BEAM, BRASS_TINT, BRASS_PALE)


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
    marked = isfinite(data.worthwhile)
    values = [v for row in rows for v in (row["low"], row["high"], row["estimate"]) if isfinite(v)]
    span = choose_span(
        [], [], [], keep=(0.0, *values, *([data.worthwhile] if marked else [])), scale="linear",
        max_ticks=6 if frame.narrow else 8,
    )  # fmt: skip
    axis = EffectAxis(
        title=data.axis_title or f"difference, in {data.unit}", left_words=data.left_words,
        right_words=data.right_words, decimals=data.decimals, zero_words=data.zero_words,
    )  # fmt: skip
    canvas = Canvas(frame.width, span, left=frame.left, right=frame.right)
    y = draw_head(canvas, frame, span, axis, draw_banner(canvas, 0.0, data.notes))
    if marked:
        y = _worthwhile(canvas, data, y)
    top, tracks = y, []
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
    y = draw_scale(canvas, frame, span, y, signed=True, heavy=False)
    y = write_notes(canvas, y + 12, data.notes)
    lines = [f"{row['words']}: {row['numbers']}." for row in rows]
    if marked:
        lines.append(f"{data.worthwhile_words}: from {data.worthwhile:g} {data.unit}.")
    return draw(Sheet(canvas, y, data.title, data.subtitle, describe(data, *lines)))


def _worthwhile(canvas: Canvas, data: StripData, y: float) -> float:
    x = canvas.across(data.worthwhile)
    words = f"{data.worthwhile_words} {data.from_here_words or 'from here on'} →"
    wide = min(1 + text_width(words, SIZE_SMALL, bold=True), canvas.width)
    left = min(max(x - 2, 0), canvas.width - wide)
    y = 3 + canvas.paragraph(left, y, words, width=wide, size=SIZE_SMALL, bold=True)
    canvas.upright(data.worthwhile, y, y + 7, stroke=INK, strokeWidth=2)
    return y + 7
