"""Two overlapping hills of people, and where one client stands among them."""

from __future__ import annotations

from math import isfinite

import numpy as np

from steelyard.pooling.pictures import HillsData
from steelyard.show import number

from . import legend
from .canvas import LINE, Canvas, Sheet
from .frame import room_for
from .head import describe
from .lettering import text_width, wrap_evenly
from .look import BEAM_50, BEAM_95, BRASS, BRASS_BEAM, INK, PAPER, POISE, SIZE_BODY
from .panel import Panel
from .picture import Picture
from .scenery import draw_banner, write_notes
from .span import Span, even_span
from .vector import draw


def hills_plot(data: HillsData, *, width: str = "page") -> Picture:
    """Draw where people end with and without the change, in a unit the client knows.

    Parameters
    ----------
    data : HillsData
    width : str
        ``"page"`` or ``"phone"``.

    Returns
    -------
    Picture
        The change as a filled hill, the usual as a dashed line, so that a grey print tells them
        apart; the client as a weight on a line.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    whole = room_for(width)
    narrow = width == "phone"
    curves = data.curves
    canvas = Canvas(whole)
    y = draw_banner(canvas, 0.0, data.notes)
    client = ""
    if isfinite(data.client):
        client = f"{data.client_words}: {number(data.client, decimals=data.decimals)}"
    room = len(wrap_evenly(client, whole, size=SIZE_BODY, bold=True)) * SIZE_BODY * LINE
    top = y + (room + 12 if client else 4)
    tallest = 1.06 * float(np.max(curves[["usual", "changed"]].to_numpy()))
    values = [curves["value"].min(), curves["value"].max()]
    if isfinite(data.client):
        values.append(data.client)
    panel = Panel(
        canvas, even_span(min(values), max(values), max_ticks=6 if narrow else 10),
        Span(0.0, tallest, False, ()), 14.0, whole - 14, top, top + (170 if narrow else 230),
    )  # fmt: skip
    for column, fill, edge, opacity, dash in (
        ("usual", BEAM_95, BEAM_50, 0.3, (6, 4)), ("changed", BRASS_BEAM, BRASS, 0.5, ()),
    ):  # fmt: skip
        corners = panel.path(curves["value"], curves[column])
        base = [(corners[-1][0], panel.bottom), (corners[0][0], panel.bottom)]
        canvas.line([*corners, *base], closed=True, fill=fill, opacity=opacity)
        canvas.line(corners, stroke=edge, strokeWidth=2.5, dash=dash)
    if isfinite(data.client):
        _client(panel, data.client, client, y)
    y = panel.foot_scale(data.axis_title, signed=False)
    entries = [
        legend.Entry(legend.dashed_hill, data.usual_words),
        legend.Entry(legend.hill(BRASS_BEAM, BRASS), data.changed_words),
    ]
    y = legend.draw_legend(canvas, y + 14, entries)
    y = write_notes(canvas, y + 8, data.notes)
    parts = [f"Scale: {data.axis_title}.", f"Two hills: {data.usual_words}; {data.changed_words}."]
    if isfinite(data.client):
        parts.append(f"{client}.")
    return draw(Sheet(canvas, y, data.title, data.subtitle, describe(data, *parts)))


def _client(panel: Panel, client: float, words: str, y: float) -> None:
    canvas, x = panel.canvas, panel.x(client)
    canvas.upright(x, panel.top - 6, panel.bottom, at_value=False, stroke=INK, strokeWidth=1.75)
    canvas.mark(
        x, panel.bottom - 10, at_value=False, area=260, shape=POISE, fill=INK, stroke=PAPER,
        strokeWidth=1.25, opacity=1,
    )  # fmt: skip
    half = min(text_width(words, SIZE_BODY, bold=True), canvas.width) / 2
    middle = min(max(x, half), canvas.width - half)
    canvas.paragraph(middle, y, words, width=canvas.width, bold=True, align="center")
