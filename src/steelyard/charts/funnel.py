"""The funnel: do small studies tell another story than large ones?"""

from __future__ import annotations

from math import isfinite

from steelyard.pooling.pictures import FunnelData
from steelyard.show import count, number

from . import legend
from .beams import write_named_flags
from .canvas import Canvas, Sheet
from .frame import plain_frame, room_for
from .head import describe, draw_head
from .look import (
    BRASS,
    CHANCE,
    DISC,
    HAIRLINE,
    INK,
    INK_SOFT,
    NOT_COUNTED,
    PAPER,
    POISE,
    SIZE_SMALL,
    WARNING,
)
from .naming import Naming
from .panel import Panel
from .picture import Picture
from .scenery import draw_banner, write_notes
from .span import choose_span, even_span
from .vector import draw
from .wording import flags_in_words, part_flags

_CONTOURS = (
    (99, "chance alone would rarely do it (p 0.01 to 0.05)"),
    (95, "chance alone might do it (p 0.05 to 0.10)"),
    (90, "chance alone would often do it (p above 0.10)"),
)


def funnel_plot(data: FunnelData, *, width: str = "page") -> Picture:
    """Draw every study by its effect and its precision, precise studies on top.

    Parameters
    ----------
    data : FunnelData
        In display units.
    width : str
        ``"page"`` or ``"phone"``.

    Returns
    -------
    Picture
        Shaded by how easily chance alone would give such a study; outside the shading, hardly.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    whole = room_for(width)
    narrow = width == "phone"
    frame = plain_frame(whole, left=40.0 if narrow else 150.0, right=10.0 if narrow else 60.0)
    axis, studies = data.axis, data.studies.to_dict("records")
    estimates = [*data.studies["estimate"], *data.filled["estimate"]]
    span = choose_span(
        estimates, [], [], keep=(axis.no_effect, data.estimate, *(axis.zone or ())),
        prefer=estimates, scale=axis.kind, max_ticks=6 if narrow else 8,
    )  # fmt: skip
    errors = [*data.studies["standard_error"], *data.filled["standard_error"]]
    canvas = Canvas(whole, span, left=frame.left, right=frame.right)
    y = draw_head(canvas, frame, span, axis, draw_banner(canvas, 0.0, data.notes))
    if narrow:
        words = f"further down: smaller studies (numbers: {data.error_title})"
        y = 10 + canvas.paragraph(0, y, words, width=whole, size=SIZE_SMALL, color=INK_SOFT)
    height = 330.0 if narrow else 400.0
    panel = Panel(
        canvas, span, even_span(0.0, 1.06 * max(errors), max_ticks=6),
        frame.left, frame.right, y, y + height, down=True,
    )  # fmt: skip
    if not narrow:
        _side_words(panel, data.error_title)
    _ground(panel, data)
    names = Naming(canvas, left=panel.left, right=panel.right, top=y + 22, bottom=panel.bottom)
    numbered = _studies(panel, data, studies, names)
    y = _legend(canvas, panel.bottom + 16, data, any(not row["pooled"] for row in studies))
    for place, row in enumerate(numbered, 1):
        remarks = [row["flags"]] if row["flags"] else []
        if not span.low <= row["estimate"] <= span.high:
            remarks.append("lies further out")
        name = f"{place}: {row['label']}"
        y = 2 + write_named_flags(canvas, 0, y, name, flags="; ".join(remarks), width=whole)
    y = write_notes(canvas, y + 8, data.notes)
    return draw(Sheet(canvas, y, data.title, data.subtitle, _description(data, studies)))


def _side_words(panel: Panel, error_title: str) -> None:
    room = panel.left - 48
    quiet = {"width": room, "size": SIZE_SMALL, "color": INK_SOFT}
    below = panel.canvas.paragraph(0, panel.top, "large, precise studies", **quiet)
    panel.canvas.paragraph(0, below + 4, f"(numbers: {error_title})", **quiet)
    panel.canvas.paragraph(0, panel.bottom - 36, "small studies", **quiet)


def _ground(panel: Panel, data: FunnelData) -> None:
    canvas, contours = panel.canvas, data.contours
    for level, _ in _CONTOURS:
        low = panel.path(contours[f"low_{level}"], contours["standard_error"])
        high = panel.path(contours[f"high_{level}"], contours["standard_error"])
        panel.area(low + high[::-1], fill=CHANCE[level])
    panel.side_scale(signed=False)
    edge = {"stroke": INK_SOFT, "strokeWidth": 1}
    canvas.level(panel.left, panel.right, panel.bottom, **edge)
    canvas.upright(data.axis.no_effect, panel.top, panel.bottom, stroke=INK, strokeWidth=1.25)
    if len(data.funnel):
        for side in ("low", "high"):
            panel.trace(
                data.funnel[side], data.funnel["standard_error"],
                stroke=BRASS, strokeWidth=1.5, dash=(5, 4),
            )  # fmt: skip
    if isfinite(data.estimate_filled):
        canvas.upright(
            data.estimate_filled, panel.top, panel.bottom, stroke=BRASS, strokeWidth=1.5,
            dash=(1.5, 3),
        )  # fmt: skip
    canvas.upright(data.estimate, panel.top, panel.bottom, stroke=BRASS, strokeWidth=2)
    canvas.mark(
        data.estimate, panel.top + 8, area=270, shape=POISE, fill=BRASS, stroke=PAPER,
        strokeWidth=1.25, opacity=1,
    )  # fmt: skip


def _studies(panel: Panel, data: FunnelData, studies: list[dict], names: Naming) -> list[dict]:
    """Draw the studies; number and return those of which there is something to say."""
    canvas = panel.canvas
    for row in data.filled.to_dict("records"):
        x, y = panel.inside(panel.x(row["estimate"]), panel.y(row["standard_error"]))
        canvas.mark(
            x, y, at_value=False, area=95, shape="circle", fill=PAPER, stroke=BRASS,
            strokeWidth=2, opacity=1,
        )  # fmt: skip
        names.take(x, y, 5)
    places = []
    for row in studies:
        x, y = panel.inside(panel.x(row["estimate"]), panel.y(row["standard_error"]))
        places.append((x, y))
        if row["pooled"]:
            style = {"fill": DISC, "stroke": PAPER, "strokeWidth": 1.5}
        else:
            style = {"fill": PAPER, "stroke": NOT_COUNTED, "strokeWidth": 1.6}
        canvas.mark(x, y, at_value=False, area=110, shape="circle", opacity=1, **style)
        names.take(x, y, 5.5)
    numbered = []
    for row, (x, y) in zip(studies, places, strict=True):
        outside = not panel.across.low <= row["estimate"] <= panel.across.high
        if row["flags"] or outside:
            numbered.append(row)
            color = WARNING if part_flags(row["flags"]).grave else INK_SOFT
            names.write(x, y, str(len(numbered)), half=5.5, color=color, bold=True)
    return numbered


def _legend(canvas: Canvas, y: float, data: FunnelData, uncounted: bool) -> float:
    entries = [legend.Entry(legend.patch(CHANCE[level]), words) for level, words in _CONTOURS[::-1]]
    entries.append(
        legend.Entry(
            legend.patch(PAPER, edge=HAIRLINE), "outside: hardly chance alone (p below 0.01)"
        )
    )
    entries.append(legend.Entry(legend.stroke(BRASS, 2.0), "all studies together"))
    if len(data.funnel):
        entries.append(
            legend.Entry(
                legend.stroke(BRASS, 1.5, (5, 4)),
                "95\u00a0% of studies would lie between these if they differed by chance alone",
            )
        )
    entries.append(legend.Entry(legend.disc(DISC, PAPER), "a study"))
    if uncounted:
        entries.append(legend.Entry(legend.disc(PAPER, NOT_COUNTED), "shown, but not counted"))
    if len(data.filled):
        words = "filled in to mirror a study on the other side (trim and fill); no such study"
        entries.append(legend.Entry(legend.disc(PAPER, BRASS), words))
    if isfinite(data.estimate_filled):
        words = "the answer with those filled in: " + number(
            data.estimate_filled, decimals=data.axis.decimals, sign=data.axis.kind == "linear"
        )
        entries.append(legend.Entry(legend.stroke(BRASS, 1.5, (1.5, 3)), words))
    return legend.draw_legend(canvas, y, entries)


def _description(data: FunnelData, studies: list[dict]) -> str:
    axis = data.axis
    signed = axis.kind == "linear"
    rows = [
        f"{row['label']}: {number(row['estimate'], decimals=axis.decimals, sign=signed)}, "
        f"standard error {number(row['standard_error'])}"
        + (f" ({flags_in_words(row['flags'])})." if row["flags"] else ".")
        for row in studies
    ]
    together = number(data.estimate, decimals=axis.decimals, sign=signed)
    filled = f"Filled in: {count(len(data.filled), 'study', 'studies')}."
    return describe(data, f"Scale: {axis.title}.", f"All studies together: {together}.", *rows,
                    filled if len(data.filled) else "")  # fmt: skip
