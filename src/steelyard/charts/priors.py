"""A chance under many priors, as one line per belief about the effect."""

from __future__ import annotations

from steelyard.pooling.pictures import PriorsData
from steelyard.show import number

from . import legend
from .canvas import Canvas, Sheet
from .frame import room_for
from .head import describe
from .look import BRASS, DISC, INK_SOFT, PAPER, SIZE_SMALL
from .panel import Panel
from .picture import Picture
from .scenery import draw_banner, write_notes
from .span import Span, even_span
from .vector import draw

_STYLES = ((BRASS, ()), (DISC, (6, 4)), (INK_SOFT, (2, 3)))


def priors_plot(data: PriorsData, *, width: str = "page") -> Picture:
    """Draw the chance against the spread that was expected between studies.

    Parameters
    ----------
    data : PriorsData
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
    whole, curves = room_for(width), data.curves
    canvas = Canvas(whole)
    y = draw_banner(canvas, 0.0, data.notes)
    y = canvas.paragraph(0, y, data.chance_title, width=whole, size=SIZE_SMALL, color=INK_SOFT)
    spreads = sorted(set(curves["spread"]))
    across = Span(spreads[0] / 1.15, spreads[-1] * 1.15, True, tuple(spreads))
    panel = Panel(
        canvas, across, even_span(0.0, 100.0, max_ticks=6, margin=0.03),
        42.0, whole - 10, y + 8, y + 198,
    )  # fmt: skip
    panel.side_scale(signed=False)
    entries = []
    words = list(dict.fromkeys(curves["words"]))
    for each, (color, dash) in zip(words, _STYLES, strict=False):
        part = curves[curves["words"] == each]
        panel.trace(part["spread"], part["chance"], stroke=color, strokeWidth=2.5, dash=dash)
        for at, chance in zip(part["spread"], part["chance"], strict=True):
            canvas.mark(panel.x(at), panel.y(chance), at_value=False, area=70, shape="circle",
                        fill=color, stroke=PAPER, strokeWidth=1, opacity=1)  # fmt: skip
        entries.append(legend.Entry(legend.stroke(color, 2.5, dash), each))
    y = panel.foot_scale(data.spread_title, signed=False)
    y = legend.draw_legend(canvas, y + 12, entries)
    y = write_notes(canvas, y + 8, data.notes)
    lines = [
        f"{row['words']}, spread {row['spread']:g}: {number(row['chance'], decimals=0)} in 100."
        for row in curves.to_dict("records")
    ]
    return draw(Sheet(canvas, y, data.title, data.subtitle, describe(data, *lines)))
