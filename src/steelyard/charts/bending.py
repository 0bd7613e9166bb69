"""How far each study lies from the others, and how far it moves the answer."""

from __future__ import annotations

from steelyard.pooling.pictures import BendingData
from steelyard.show import number

from . import legend
from .canvas import Canvas, Sheet
from .frame import room_for
from .head import describe
from .look import BRASS_PALE, DISC, HAIRLINE, INK, INK_SOFT, PAPER, SIZE_SMALL
from .naming import Naming
from .panel import Panel
from .picture import Picture
from .scenery import draw_banner, write_notes
from .span import even_span
from .vector import draw

_NAMED = 3


def bending_plot(data: BendingData, *, width: str = "page") -> Picture:
    """Draw a disc per study: across, its distance from the others; upward, its pull.

    Parameters
    ----------
    data : BendingData
        In display units.
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
    whole, rows = room_for(width), data.studies.to_dict("records")
    reach = 1.15 * max(data.far * 1.2, *(abs(row["distance"]) for row in rows))
    top = 1.15 * max(0.5, *(row["move"] for row in rows))
    canvas = Canvas(whole)
    y = draw_banner(canvas, 0.0, data.notes)
    words = "upward: how far the answer moves without the study, in its standard errors"
    y = canvas.paragraph(0, y, words, width=whole, size=SIZE_SMALL, color=INK_SOFT)
    panel = Panel(
        canvas, even_span(-reach, reach, max_ticks=9), even_span(0.0, top, max_ticks=5),
        42.0, whole - 8, y + 8, y + 8 + (210 if width == "phone" else 240),
    )  # fmt: skip
    ends = panel.x(-data.far), panel.x(data.far)
    canvas.box(*ends, panel.top, panel.bottom, at_value=False, fill=BRASS_PALE, depth=-3)
    for end in ends:
        canvas.upright(end, panel.top, panel.bottom, at_value=False, stroke=HAIRLINE,
                       strokeWidth=1.5, depth=-2)  # fmt: skip
    canvas.upright(panel.x(0), panel.top, panel.bottom, at_value=False, stroke=INK,
                   strokeWidth=1.25, depth=-2)  # fmt: skip
    panel.side_scale(signed=False)
    names = Naming(canvas, left=panel.left, right=panel.right, top=panel.top, bottom=panel.bottom)
    places = [panel.inside(panel.x(row["distance"]), panel.y(row["move"])) for row in rows]
    for x, at in places:
        names.take(x, at, 6)
        canvas.mark(x, at, at_value=False, area=110, shape="circle", fill=DISC, stroke=PAPER,
                    strokeWidth=1.5, opacity=1)  # fmt: skip
    for place, (row, (x, at)) in enumerate(zip(rows, places, strict=True)):
        if place < _NAMED or abs(row["distance"]) > data.far:
            names.write(x, at, row["label"], half=6, color=INK)
    title = (
        f"standard deviations from the others (left: {data.below} more than they do; "
        f"right: {data.above} more)"
    )
    y = panel.foot_scale(title, signed=True)
    entries = [
        legend.Entry(legend.disc(DISC, PAPER), "a study"),
        legend.Entry(legend.patch(BRASS_PALE, edge=HAIRLINE),
                     f"within {data.far:g} standard deviations: not far"),
    ]  # fmt: skip
    y = legend.draw_legend(canvas, y + 12, entries)
    y = write_notes(canvas, y + 8, data.notes)
    lines = [
        f"{row['label']}: {number(row['distance'], sign=True)} from the others, moves the answer "
        f"by {number(row['move'])} standard errors."
        for row in rows
    ]
    return draw(Sheet(canvas, y, data.title, data.subtitle, describe(data, *lines)))
