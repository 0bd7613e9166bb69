"""The answer after each further study, one panel per order."""

from __future__ import annotations

from math import isfinite

from steelyard.pooling.pictures import GatheringData
from steelyard.show import interval

from . import legend
from .canvas import Canvas, Sheet
from .frame import room_for
from .head import describe
from .look import BEAM_80, BRASS_EDGE, BRASS_TINT, DISC, INK, PAPER
from .panel import Panel
from .picture import Picture
from .scenery import draw_banner, write_notes
from .span import Span, choose_span
from .upright import draw_upright_ground, write_sides
from .vector import draw
from .wording import estimate_in_words

_GAP = 58.0
_BESIDE = 560.0


def gathering_plot(data: GatheringData, *, width: str = "page") -> Picture:
    """Draw the answer and its interval against the number of studies so far.

    Parameters
    ----------
    data : GatheringData
        In display units.
    width : str
        ``"page"`` (panels side by side) or ``"phone"`` (one below the other).

    Returns
    -------
    Picture

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    whole, axis, steps = room_for(width), data.axis, data.steps
    last = steps.iloc[-1]
    upward = choose_span(
        steps["estimate"], steps["low"], steps["high"],
        keep=(axis.no_effect, *(axis.zone or ()), last["low"], last["high"]),
        prefer=steps["estimate"], scale=axis.kind, max_ticks=6,
    )  # fmt: skip
    canvas = Canvas(whole)
    y = write_sides(canvas, draw_banner(canvas, 0.0, data.notes), axis)
    orders = list(dict.fromkeys(steps["order"]))
    beside = whole > _BESIDE and len(orders) > 1
    room = (whole - _GAP * len(orders)) / len(orders) if beside else whole - _GAP
    bottom = y
    for place, order in enumerate(orders):
        left = _GAP - 8 + (place * (room + _GAP) if beside else 0)
        top = y if beside else bottom + (12 if place else 0)
        bottom = _panel(canvas, data, order, upward, left, left + room, top)
    y = legend.draw_legend(canvas, bottom + 12, _entries(data))
    y = write_notes(canvas, y + 8, data.notes)
    return draw(Sheet(canvas, y, data.title, data.subtitle, _description(data)))


def _panel(canvas, data, order: str, upward: Span, left, right, top) -> float:
    rows = data.steps[data.steps["order"] == order].to_dict("records")
    k = len(rows)
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000) if k / s <= 8)
    ticks = tuple(float(n) for n in range(1, k + 1) if n % step == 0)
    head = canvas.paragraph(left, top, order.capitalize(), width=right - left, bold=True)
    panel = Panel(
        canvas, Span(0.4, k + 0.6, False, ticks), upward, left, right, head + 4, head + 214
    )
    draw_upright_ground(panel, data.axis)
    last = rows[-1]
    if isfinite(last["low"]) and isfinite(last["high"]):
        panel.ribbon([0.4, k + 0.6], [last["low"]] * 2, [last["high"]] * 2, fill=BRASS_TINT,
                     depth=-3)  # fmt: skip
        for end in ("low", "high"):
            panel.trace([0.4, k + 0.6], [last[end]] * 2, stroke=BRASS_EDGE, strokeWidth=1)
    for row in rows:
        ends = (row["low"], row["high"])
        if all(map(isfinite, ends)):
            panel.trace([row["studies"]] * 2, ends, stroke=BEAM_80, strokeWidth=2 if k < 40 else 1)
    panel.trace([row["studies"] for row in rows], [row["estimate"] for row in rows], stroke=DISC,
                strokeWidth=1.25)  # fmt: skip
    for row in rows:
        canvas.mark(
            *panel.inside(panel.x(row["studies"]), panel.y(row["estimate"])), at_value=False,
            area=70 if k < 40 else 16, shape="circle", fill=DISC, stroke=PAPER,
            strokeWidth=1, opacity=1,
        )  # fmt: skip
    return panel.foot_scale("studies so far", signed=False)


def _entries(data: GatheringData) -> list[legend.Entry]:
    level = f"{100 * data.level:g}\u00a0%"
    entries = [
        legend.Entry(legend.disc(DISC, PAPER), f"the answer so far; line: its {level} interval"),
        legend.Entry(legend.patch(BRASS_TINT, edge=BRASS_EDGE), "the interval with all of them"),
    ]
    if data.axis.zone is not None:
        bounds = interval(
            *data.axis.zone, decimals=data.axis.decimals, sign=data.axis.kind == "linear"
        )
        entries.append(legend.Entry(legend.zone_patch, f"too small to matter: {bounds}"))
    else:
        entries.append(legend.Entry(legend.stroke(INK, 1.25), "no effect"))
    return entries


def _description(data: GatheringData) -> str:
    style = {"decimals": data.axis.decimals, "signed": data.axis.kind == "linear"}
    lines = [
        f"{row['order']}, {row['studies']}, {row['label']}: "
        f"{estimate_in_words(row['estimate'], row['low'], row['high'], **style)}."
        for row in data.steps.to_dict("records")
    ]
    return describe(data, f"Scale: {data.axis.title}.", *lines)
