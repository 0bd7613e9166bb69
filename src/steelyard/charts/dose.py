"""Dose and response: how the effect grows with the dose, and where the evidence ends."""

from __future__ import annotations

from math import isfinite

from steelyard.errors import UsageError
from steelyard.pooling.pictures import DoseData, DoseForm
from steelyard.show import interval, number

from . import legend
from .beams import write_named_flags
from .canvas import Canvas, Sheet
from .frame import room_for
from .head import describe
from .lettering import text_width
from .look import (
    BEAM_80,
    BEAM_95,
    BRASS,
    BRASS_EDGE,
    BRASS_TINT,
    DISC,
    INK_SOFT,
    PAPER,
    SIZE_SMALL,
)
from .panel import Panel
from .picture import Picture
from .scenery import draw_banner, write_notes
from .span import choose_span, even_span
from .upright import draw_upright_ground, write_sides
from .vector import draw
from .wording import flags_in_words

BEYOND = "beyond the evidence"
_DASHES = ((7, 3), (2, 3), (9, 3, 2, 3), (4, 4))


def dose_plot(data: DoseData, *, form: str | None = None, width: str = "page") -> Picture:
    """Draw effect against dose: every result, the curve with its band, and other forms of it.

    Parameters
    ----------
    data : DoseData
        In display units.
    form : str, optional
        Name of the form drawn with its band; else the one the answer rests on.
    width : str
        ``"page"`` or ``"phone"``.

    Returns
    -------
    Picture
        What lies beyond the evidence is hatched and says so.

    Raises
    ------
    UsageError
        If `width` is neither of the two, or there is no such form.
    """
    whole = room_for(width)
    chosen = _chosen(data, form or data.form)
    axis, curve = data.axis, chosen.curve
    points = data.points.to_dict("records")
    backed = curve[curve["dose"].between(data.evidence_low, data.evidence_high)]
    upward = choose_span(
        data.points["estimate"], data.points["low"], data.points["high"],
        keep=(axis.no_effect, *(axis.zone or ()), *backed["estimate"]),
        prefer=(*backed["low"], *backed["high"]), scale=axis.kind, max_ticks=7,
    )  # fmt: skip
    doses = [*curve["dose"], *data.points["dose"]]
    canvas = Canvas(whole)
    y = write_sides(canvas, draw_banner(canvas, 0.0, data.notes), axis)
    narrow = width == "phone"
    panel = Panel(
        canvas,
        even_span(
            min(doses), max(doses), max_ticks=6 if narrow else 10, margin=0.02,
            whole=all(float(point["dose"]).is_integer() for point in points),
        ),
        upward, 50.0, whole - 6, y, y + (300 if narrow else 380),
    )  # fmt: skip
    draw_upright_ground(panel, axis)
    panel.ribbon(curve["dose"], curve["low"], curve["high"], fill=BRASS_TINT, depth=-3)
    for side in ("low", "high"):
        panel.trace(curve["dose"], curve[side], stroke=BRASS_EDGE, strokeWidth=1)
    others = [other for other in data.forms if other.name != chosen.name]
    for other, dash in zip(others, _DASHES, strict=False):
        panel.trace(
            other.curve["dose"], other.curve["estimate"], stroke=BEAM_80, strokeWidth=1.75,
            dash=dash,
        )  # fmt: skip
    panel.trace(curve["dose"], curve["estimate"], stroke=BRASS, strokeWidth=3)
    beyond = _hatch_beyond(panel, data)
    _draw_points(panel, points)
    y = panel.foot_scale(data.dose_title, signed=False)
    y = legend.draw_legend(canvas, y + 14, _entries(data, chosen, others, beyond))
    for name, flags in dict.fromkeys((r["label"], r["flags"]) for r in points if r["flags"]):
        y = 2 + write_named_flags(canvas, 0, y, name, flags=flags, width=whole)
    y = write_notes(canvas, y + 8, data.notes)
    return draw(Sheet(canvas, y, data.title, data.subtitle, _description(data, chosen, points)))


def _chosen(data: DoseData, name: str) -> DoseForm:
    for form in data.forms:
        if form.name == name:
            return form
    known = ", ".join(repr(form.name) for form in data.forms)
    raise UsageError(f"form is one of {known}, not {name!r}")


def _hatch_beyond(panel: Panel, data: DoseData) -> bool:
    """Hatch where there are no data; say whether there is such a place."""
    ends = (
        (panel.left, panel.x(max(data.evidence_low, panel.across.low))),
        (panel.x(min(data.evidence_high, panel.across.high)), panel.right),
    )
    shown = False
    for left, right in ends:
        if right - left < 0.03 * (panel.right - panel.left):
            continue
        shown = True
        box = {"at_value": False, "fill": PAPER, "opacity": 0.55}
        panel.canvas.box(left, right, panel.top, panel.bottom, **box)
        panel.hatch(left, right, stroke=INK_SOFT, strokeWidth=0.8, opacity=0.7)
        if right - left > text_width(BEYOND, SIZE_SMALL) + 12:
            middle, y = (left + right) / 2, panel.bottom - 12
            half = text_width(BEYOND, SIZE_SMALL) / 2 + 4
            panel.canvas.box(
                middle - half, middle + half, y - SIZE_SMALL, y + 5, at_value=False, fill=PAPER
            )
            panel.canvas.words(
                middle, y, BEYOND, align="center", fontSize=SIZE_SMALL, color=INK_SOFT,
                fontStyle="italic",
            )  # fmt: skip
    return shown


def _draw_points(panel: Panel, points: list[dict]) -> None:
    canvas = panel.canvas
    heaviest = max((row["weight"] for row in points), default=1.0) or 1.0
    for study in dict.fromkeys(row["study"] for row in points):
        own = sorted((row for row in points if row["study"] == study), key=lambda r: r["dose"])
        if len(own) > 1:
            panel.trace(
                [r["dose"] for r in own], [r["estimate"] for r in own], stroke=INK_SOFT,
                strokeWidth=1,
            )  # fmt: skip
    for row in points:
        x = panel.x(row["dose"])
        if isfinite(row["low"]) and isfinite(row["high"]):
            panel.trace(
                [row["dose"]] * 2, [row["low"], row["high"]], stroke=BEAM_95, strokeWidth=2,
                depth=-0.5,
            )  # fmt: skip
        if panel.upward.low <= row["estimate"] <= panel.upward.high:
            canvas.mark(
                x, panel.y(row["estimate"]), at_value=False, shape="circle", opacity=1,
                area=max(260 * row["weight"] / heaviest, 26), fill=DISC, stroke=PAPER,
                strokeWidth=1.5,
            )  # fmt: skip


def _entries(data: DoseData, chosen: DoseForm, others, beyond: bool) -> list[legend.Entry]:
    level = f"{100 * data.level:g}\u00a0%"
    entries = [
        legend.Entry(legend.curve_band, f"{chosen.words}, with its {level} interval"),
        legend.Entry(legend.discs, "one result: the larger, the more it weighs; bar: its interval"),
    ]
    for other, dash in zip(others, _DASHES, strict=False):
        words = f"another form: {other.words}"
        entries.append(legend.Entry(legend.stroke(BEAM_80, 1.75, dash), words))
    if data.points["study"].duplicated().any():
        words = "joins the results of one study"
        entries.append(legend.Entry(legend.stroke(INK_SOFT, 1), words))
    if data.axis.zone is not None:
        bounds = interval(
            *data.axis.zone, decimals=data.axis.decimals, sign=data.axis.kind == "linear"
        )
        entries.append(legend.Entry(legend.zone_patch, f"too small to matter: {bounds}"))
    if beyond:
        entries.append(legend.Entry(legend.hatched, f"{BEYOND}: no study went there"))
    return entries


def _description(data: DoseData, chosen: DoseForm, points: list[dict]) -> str:
    style = {"decimals": data.axis.decimals, "sign": data.axis.kind == "linear"}
    rows = [
        f"{row['label']}, {data.dose_title} {row['dose']:g}: {number(row['estimate'], **style)} "
        f"({interval(row['low'], row['high'], **style)})"
        + (f" ({flags_in_words(row['flags'])})." if row["flags"] else ".")
        for row in points
    ]
    reach = f"There are data from {data.evidence_low:g} to {data.evidence_high:g}."
    return describe(data, f"Curve: {chosen.words}.", reach, *rows)
