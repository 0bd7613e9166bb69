"""Every defensible way to weigh at once: the answers in order, and the choices behind each."""

from __future__ import annotations

from math import ceil

import numpy as np

from steelyard.pooling.pictures import ChoicesData
from steelyard.show import count, interval, number

from . import legend
from .canvas import Canvas, Sheet
from .frame import room_for
from .head import describe
from .lettering import wrap
from .look import (
    BRASS,
    DISC,
    HAIRLINE,
    INK,
    INK_SOFT,
    PAPER,
    POISE,
    SIZE_SMALL,
    WAYS,
)
from .panel import Panel
from .picture import Picture
from .scenery import draw_banner, write_notes
from .span import choose_span, even_span
from .upright import draw_upright_ground, write_sides
from .vector import draw

_STRIP = 12.0
_FINEST = 6.0
_SHADES = 5


def choices_plot(data: ChoicesData, *, width: str = "page") -> Picture:
    """Draw the answer under every way to weigh, and beneath it what each way chose.

    Parameters
    ----------
    data : ChoicesData
        Ways sorted by estimate; display units.
    width : str
        ``"page"`` or ``"phone"``.

    Returns
    -------
    Picture
        Left the smallest answers, right the largest. In the strips, darker means that more of
        the ways at that place took the option: an even strip is a choice that hardly matters.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    whole = room_for(width)
    narrow = width == "phone"
    ways, axis = data.ways, data.axis
    shipped = ways.iloc[data.shipped]
    upward = choose_span(
        ways["estimate"], ways["low"], ways["high"],
        keep=(axis.no_effect, *(axis.zone or ()), *ways["estimate"]),
        prefer=(shipped["low"], shipped["high"]), scale=axis.kind, max_ticks=7,
    )  # fmt: skip
    canvas = Canvas(whole)
    y = write_sides(canvas, draw_banner(canvas, 0.0, data.notes), axis)
    y = 20 + canvas.paragraph(0, y, _used(data), width=whole, color=BRASS, bold=True)
    left = 124.0 if narrow else 230.0
    panel = Panel(
        canvas, even_span(-0.5, len(ways) - 0.5, max_ticks=4), upward, left, whole - 6,
        y, y + (180 if narrow else 230),
    )  # fmt: skip
    draw_upright_ground(panel, axis)
    _band(panel, data)
    canvas.level(panel.left, panel.right, panel.bottom, stroke=INK_SOFT, strokeWidth=1)
    y = panel.bottom + 4
    ends = ("the smallest", "the largest") if narrow else ("the smallest answer", "the largest")
    for x, words, align in ((panel.left, ends[0], "left"), (panel.right, ends[1], "right")):
        canvas.words(x, y + SIZE_SMALL, words, align=align, fontSize=SIZE_SMALL, color=INK_SOFT)
    bottom = _strips(panel, data, y + 20)
    x = panel.x(data.shipped)
    rule = {"at_value": False, "stroke": BRASS, "strokeWidth": 1.5}
    canvas.upright(x, panel.top, panel.bottom, **rule)
    canvas.upright(x, y + 22, bottom, dash=(2, 3), **rule)
    canvas.mark(
        x, panel.top - 6, at_value=False, area=230, shape=POISE, fill=BRASS, stroke=PAPER,
        strokeWidth=1, opacity=1,
    )  # fmt: skip
    y = legend.draw_legend(canvas, bottom + 14, _entries(data))
    y = write_notes(canvas, y + 8, data.notes)
    return draw(Sheet(canvas, y, data.title, data.subtitle, _description(data)))


def _used(data: ChoicesData) -> str:
    style = {"decimals": data.axis.decimals, "sign": data.axis.kind == "linear"}
    row = data.ways.iloc[data.shipped]
    return (
        f"The way used: {number(row['estimate'], **style)} "
        f"({interval(row['low'], row['high'], **style)}); of "
        f"{count(len(data.ways), 'way')}, from {number(data.ways['estimate'].min(), **style)} to "
        f"{number(data.ways['estimate'].max(), **style)}"
    )


def _band(panel: Panel, data: ChoicesData) -> None:
    """Each way's interval as a fine upright stroke, its estimate on a line through all."""
    ways, upward = data.ways, panel.upward
    step = (panel.right - panel.left) / len(ways)
    pieces = []
    for place, (low, high) in enumerate(zip(ways["low"], ways["high"], strict=True)):
        if np.isfinite(low) and np.isfinite(high) and high > upward.low and low < upward.high:
            x = panel.x(place)
            pieces.append(((x, panel.y(upward.clip(low))), (x, panel.y(upward.clip(high)))))
    # Strokes closer than a pixel would only darken each other.
    every = ceil(0.5 / step) if step < 0.5 else 1
    panel.canvas.strokes(
        pieces[::every],
        stroke=WAYS[2],
        opacity=0.75,
        strokeWidth=round(min(max(0.72 * step * every, 0.5), 9), 2),
    )
    points = [(panel.x(i), panel.y(value)) for i, value in enumerate(ways["estimate"])]
    if len(points) > 1:
        panel.canvas.line(points[::every], stroke=DISC, strokeWidth=2)
    if step > 6:
        for x, y in points:
            panel.canvas.mark(
                x, y, at_value=False, area=36, shape="circle", fill=DISC, strokeWidth=0, opacity=1
            )
    row = ways.iloc[data.shipped]
    x = panel.x(data.shipped)
    panel.canvas.mark(
        x, panel.y(row["estimate"]), at_value=False, area=90, shape="circle", fill=BRASS,
        stroke=PAPER, strokeWidth=1.5, opacity=1,
    )  # fmt: skip


def _strips(panel: Panel, data: ChoicesData, y: float) -> float:
    canvas, ways = panel.canvas, data.ways
    cells = int(min(len(ways), (panel.right - panel.left) // _FINEST))
    cell = np.arange(len(ways)) * cells // len(ways)
    in_cell = np.bincount(cell, minlength=cells)
    step = (panel.right - panel.left) / cells
    shipped = ways.iloc[data.shipped]
    room = panel.left - 14
    for choice in data.choices:
        canvas.level(0, canvas.width, y, stroke=HAIRLINE, strokeWidth=1)
        y = 2 + canvas.paragraph(0, y + 2, choice.words, width=canvas.width, size=SIZE_SMALL,
                                 color=INK_SOFT)  # fmt: skip
        for option in choice.options:
            used = shipped[choice.column] == option
            taken = np.bincount(
                cell, weights=(ways[choice.column] == option).to_numpy(float), minlength=cells
            )
            lines = len(wrap(option, room - 12, size=SIZE_SMALL, bold=used))
            height = lines * SIZE_SMALL * 1.3
            middle = y + height / 2
            if used:
                canvas.box(
                    panel.left, panel.right, middle - _STRIP / 2 - 1, middle + _STRIP / 2 + 1,
                    at_value=False, fill=PAPER, stroke=BRASS, strokeWidth=1, depth=-1,
                )  # fmt: skip
                canvas.mark(
                    4, middle, at_value=False, area=50, shape=POISE, fill=BRASS, strokeWidth=0,
                    opacity=1,
                )  # fmt: skip
            canvas.paragraph(
                12, y, option, width=room - 12, size=SIZE_SMALL, bold=used,
                color=BRASS if used else INK,
            )  # fmt: skip
            _strip(panel, taken / in_cell, step, middle)
            y += max(height, _STRIP) + 3
        y += 4
    return y


def _strip(panel: Panel, shares: np.ndarray, step: float, middle: float) -> None:
    """Cells darker where more ways took the option; runs of one shade are one stroke."""
    shades = np.ceil(shares * _SHADES).astype(int)
    starts = np.flatnonzero(np.diff(shades, prepend=-1))
    ends = np.append(starts[1:], len(shades))
    for shade in range(1, _SHADES + 1):
        pieces = [
            ((panel.left + a * step, middle), (panel.left + b * step, middle))
            for a, b in zip(starts, ends, strict=True)
            if shades[a] == shade
        ]
        panel.canvas.strokes(pieces, stroke=WAYS[shade], strokeWidth=_STRIP)


def _entries(data: ChoicesData) -> list[legend.Entry]:
    level = f"{100 * data.level:g}\u00a0%"
    entries = [
        legend.Entry(legend.ways_band, f"the answer of each way, with its {level} interval"),
        legend.Entry(legend.stroke(BRASS, 1.5), "the way used, and what it chose"),
        legend.Entry(
            legend.shades(WAYS[1], WAYS[3], WAYS[5]),
            "the darker, the more of the ways at that place took the option; "
            "a choice whose strips are even hardly matters",
        ),
    ]
    if data.axis.zone is not None:
        bounds = interval(
            *data.axis.zone, decimals=data.axis.decimals, sign=data.axis.kind == "linear"
        )
        entries.insert(2, legend.Entry(legend.zone_patch, f"too small to matter: {bounds}"))
    return entries


def _description(data: ChoicesData) -> str:
    shipped = data.ways.iloc[data.shipped]
    chosen = "; ".join(f"{c.words}: {shipped[c.column]}" for c in data.choices)
    return describe(data, f"Scale: {data.axis.title}.", _used(data) + ".", f"It chose {chosen}.")
