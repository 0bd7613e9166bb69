"""How the answer moved as studies came in, how sure it was, and what clients were told when."""

from __future__ import annotations

from itertools import pairwise
from math import isfinite

from steelyard.pooling.pictures import HistoryData
from steelyard.show import count, interval

from . import legend
from .canvas import Canvas, Sheet
from .frame import room_for
from .head import describe
from .lettering import text_width
from .look import (
    BRASS,
    BRASS_EDGE,
    BRASS_TINT,
    DISC,
    INK,
    INK_SOFT,
    PAPER,
    PENNANT,
    SIZE_SMALL,
)
from .naming import Naming
from .panel import Panel
from .picture import Picture
from .scenery import draw_banner, write_notes
from .span import Span, choose_span
from .steps import draw_stair
from .upright import draw_upright_ground, write_sides
from .vector import draw
from .wording import estimate_in_words


def history_plot(data: HistoryData, *, width: str = "page") -> Picture:
    """Draw the answer at the end of each year, held until the next study came.

    Parameters
    ----------
    data : HistoryData
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
    whole = room_for(width)
    narrow = width == "phone"
    axis, years = data.axis, data.years.to_dict("records")
    told = data.told.to_dict("records")
    upward = choose_span(
        data.years["estimate"], data.years["low"], data.years["high"],
        keep=(axis.no_effect, *(axis.zone or ()), *data.years["estimate"], *data.told["estimate"]),
        scale=axis.kind, max_ticks=7,
    )  # fmt: skip
    canvas = Canvas(whole)
    y = write_sides(canvas, draw_banner(canvas, 0.0, data.notes), axis)
    span = _years(years, told, 5 if narrow else 12)
    panel = Panel(canvas, span, upward, 50.0, whole - 8, y, y + (250 if narrow else 320))
    draw_upright_ground(panel, axis)
    _band(panel, years)
    listed = _told(panel, told, years)
    y = panel.foot_scale("", signed=False)
    y = _certainty(panel, years, y)
    y = legend.draw_legend(canvas, y + 12, _entries(data))
    quiet = {"width": whole, "size": SIZE_SMALL, "color": INK_SOFT}
    for row in listed:
        y = 2 + canvas.paragraph(0, y, row["words"], **quiet)
    came = "; ".join(f"{row['year']}: {row['added']}" for row in years if row["added"])
    if came:
        y = canvas.paragraph(0, y + 6, f"Came in: {came}.", **quiet)
    y = write_notes(canvas, y + 8, data.notes)
    return draw(Sheet(canvas, y, data.title, data.subtitle, _description(data, years, told)))


def _years(years: list[dict], told: list[dict], most: int) -> Span:
    """Whole years as ticks, with room for the last one's answer to be seen."""
    first = min(row["year"] for row in (*years, *told))
    last = max(row["year"] for row in (*years, *told))
    low, high = first - 0.4, last + 0.9
    step = next(s for s in (1, 2, 5, 10, 20, 50) if (high - low) / s <= most)
    ticks = tuple(float(y) for y in range(int(first), int(last) + 1) if y % step == 0)
    return Span(low, high, False, ticks)


def _band(panel: Panel, years: list[dict]) -> None:
    ends = [*(row["year"] for row in years[1:]), panel.across.high]
    for row, end in zip(years, ends, strict=True):
        if isfinite(row["low"]) and isfinite(row["high"]):
            panel.ribbon([row["year"], end], [row["low"]] * 2, [row["high"]] * 2, fill=BRASS_TINT,
                         depth=-3)  # fmt: skip
            for side in ("low", "high"):
                panel.trace([row["year"], end], [row[side]] * 2, stroke=BRASS_EDGE, strokeWidth=1)
        panel.trace([row["year"], end], [row["estimate"]] * 2, stroke=BRASS, strokeWidth=2.5)
    for before, after in pairwise(years):
        panel.trace(
            [after["year"]] * 2, sorted((before["estimate"], after["estimate"])), stroke=BRASS,
            strokeWidth=1, dash=(2, 2),
        )  # fmt: skip
    for row in years:
        panel.canvas.mark(
            *panel.inside(panel.x(row["year"]), panel.y(row["estimate"])), at_value=False, area=95,
            shape="circle", fill=DISC, stroke=PAPER, strokeWidth=1.5, opacity=1,
        )  # fmt: skip


def _told(panel: Panel, told: list[dict], years: list[dict]) -> list[dict]:
    """Plant a pennant where something was told; return those whose words found no room."""
    names = Naming(
        panel.canvas, left=panel.left, right=panel.right, top=panel.top, bottom=panel.bottom
    )
    for row in years:
        names.take(panel.x(row["year"]), panel.y(row["estimate"]), 6)
    listed = []
    for row in told:
        x, y = panel.inside(panel.x(row["year"]), panel.y(row["estimate"]))
        names.take(x, y - 8, 10)
    for row in told:
        x, y = panel.inside(panel.x(row["year"]), panel.y(row["estimate"]))
        panel.canvas.mark(
            x + 5, y - 10, at_value=False, area=330, shape=PENNANT, fill=INK, stroke=PAPER,
            strokeWidth=1, opacity=1,
        )  # fmt: skip
        if not names.write(x, y - 12, row["words"], half=10, color=INK, bold=True):
            listed.append(row)
    return listed


def _certainty(panel: Panel, years: list[dict], y: float) -> float:
    """Write the certainty below the year from which it held, on a second line if crowded."""
    canvas, last, rows = panel.canvas, "", []
    for row in years:
        if not row["certainty"] or row["certainty"] == last:
            continue
        last = row["certainty"]
        width = 40 + text_width(last, SIZE_SMALL)
        x = min(panel.x(row["year"]), canvas.width - width)
        line = next((i for i, end in enumerate(rows) if x > end + 8), len(rows))
        rows[line : line + 1] = [x + width]
        middle = y + 4 + 22 * line
        canvas.upright(x, middle, middle + 18, at_value=False, stroke=INK_SOFT, strokeWidth=1)
        draw_stair(canvas, x + 4, middle + 16, last)
        canvas.words(x + 40, middle + 14, last, fontSize=SIZE_SMALL, color=INK)
    if rows:
        canvas.words(0, y + 14, "sure?", fontSize=SIZE_SMALL, color=INK_SOFT)
    return y + (4 + 22 * len(rows) if rows else 0)


def _entries(data: HistoryData) -> list[legend.Entry]:
    level = f"{100 * data.level:g}\u00a0%"
    entries = [
        legend.Entry(legend.curve_band, f"the answer as it stood, with its {level} interval"),
        legend.Entry(legend.disc(DISC, PAPER), "a year in which studies came in"),
    ]
    if len(data.told):
        entries.append(legend.Entry(legend.pennant, "what clients were told"))
    if data.axis.zone is not None:
        bounds = interval(
            *data.axis.zone, decimals=data.axis.decimals, sign=data.axis.kind == "linear"
        )
        entries.append(legend.Entry(legend.zone_patch, f"too small to matter: {bounds}"))
    return entries


def _description(data: HistoryData, years: list[dict], told: list[dict]) -> str:
    style = {"decimals": data.axis.decimals, "signed": data.axis.kind == "linear"}
    lines = [
        f"{row['year']}: {estimate_in_words(row['estimate'], row['low'], row['high'], **style)}, "
        f"{count(int(row['studies']), 'study', 'studies')}"
        + (f", certainty {row['certainty']}." if row["certainty"] else ".")
        for row in years
    ]
    lines += [f"{int(row['year'])}: {row['words']}." for row in told]
    return describe(data, f"Scale: {data.axis.title}.", *lines)
