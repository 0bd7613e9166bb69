"""What to believe after the evidence: about the average, and about the next group."""

from __future__ import annotations

from steelyard.pooling.pictures import BeliefData, Chances, EffectAxis
from steelyard.show import interval

from . import legend
from .canvas import Canvas, Sheet
from .frame import Frame, choose_frame, plain_frame, room_for
from .head import describe, draw_head
from .lettering import text_width
from .look import (
    BEAM_80,
    BRASS,
    BRASS_EDGE,
    BRASS_PALE,
    BRASS_TINT,
    DISC,
    HAIRLINE,
    INK,
    INK_SOFT,
    PAPER,
    SIZE_BODY,
    SIZE_SMALL,
    ZONE_OPACITY,
)
from .panel import Panel
from .picture import Picture
from .placing import spread
from .rowtext import write_row
from .scenery import draw_banner, draw_ground, draw_scale, write_notes
from .span import Span, choose_span, tick_text
from .vector import draw
from .wording import estimate_in_words

_SEEN = 0.004
_APART = 8.0
NEXT = "The average effect in the next group like these"


def belief_plot(data: BeliefData, *, width: str = "page") -> Picture:
    """Draw how likely each size of effect is, with the chances written in.

    Parameters
    ----------
    data : BeliefData
        In display units.
    width : str
        ``"page"`` or ``"phone"``.

    Returns
    -------
    Picture
        Above, the average effect; below it, that in a next group; then one strip per prior.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    whole = room_for(width)
    narrow = width == "phone"
    axis = data.axis
    frame = plain_frame(whole, left=10.0, right=10.0)
    canvas_span = _visible(data, narrow)
    canvas = Canvas(whole, canvas_span, left=frame.left, right=frame.right)
    y = draw_head(canvas, frame, canvas_span, axis, draw_banner(canvas, 0.0, data.notes))
    height = 110.0 if narrow else 130.0
    for column, heading, chances, bounds, colours in (
        ("average", "The average effect", data.average, data.average_interval, (BRASS_TINT, BRASS)),
        ("following", NEXT, data.following, data.following_interval,
         (BRASS_PALE, BRASS_EDGE)),
    ):  # fmt: skip
        y = canvas.paragraph(0, y + 10, heading, width=whole, bold=True)
        y = canvas.paragraph(0, y, _interval(data, bounds), width=whole)
        y = _chances(canvas, frame, axis, chances, y + 4)
        _hill(canvas, canvas_span, frame, data, column, bounds, colours, y, y + height)
        y += height
    y = draw_scale(canvas, frame, canvas_span, y, signed=axis.kind == "linear", heavy=False)
    y = legend.draw_legend(canvas, y + 14, _entries(data))
    if len(data.priors):
        y = _priors(canvas, data, width, y + 10)
    y = write_notes(canvas, y + 8, data.notes)
    return draw(Sheet(canvas, y, data.title, data.subtitle, _description(data)))


def _visible(data: BeliefData, narrow: bool) -> Span:
    """Where the curves can be seen to differ from nothing."""
    curves = data.curves
    high = curves["average"] > _SEEN * curves["average"].max()
    high |= curves["following"] > 5 * _SEEN * curves["following"].max()
    seen = curves["value"][high]
    return choose_span(
        [], [], [], keep=(data.axis.no_effect, *(data.axis.zone or ()), seen.min(), seen.max()),
        scale=data.axis.kind, max_ticks=6 if narrow else 9,
    )  # fmt: skip


def _interval(data: BeliefData, bounds: tuple[float, float]) -> str:
    words = interval(*bounds, decimals=data.axis.decimals, sign=data.axis.kind == "linear")
    return f"{words} ({100 * data.level:g}\u00a0% of the belief)"


def _chances(canvas: Canvas, frame: Frame, axis: EffectAxis, chances: Chances, y: float) -> float:
    """Write the chances below, within and above the zone, each over its place if it has room."""
    low, high = (canvas.across(bound) for bound in axis.zone or (axis.no_effect, axis.no_effect))
    texts = [
        (chances.below, axis.left_words, (frame.left + low) / 2),
        (chances.within, "too small to matter", (low + high) / 2),
        (chances.above, axis.right_words, (high + frame.right) / 2),
    ]
    if axis.zone is None:
        del texts[1]
    most = (frame.right - frame.left) / len(texts) - _APART
    rooms = [
        min(most, 1 + max(text_width(chance, SIZE_BODY, bold=True), text_width(words, SIZE_SMALL)))
        for chance, words, _ in texts
    ]
    wishes = [wish for *_, wish in texts]
    middles = spread(wishes, rooms, left=frame.left, right=frame.right, gap=_APART)
    below = y
    for (chance, words, _), room, x in zip(texts, rooms, middles, strict=True):
        end = canvas.paragraph(x, y, chance, width=room, bold=True, color=BRASS, align="center")
        quiet = {"size": SIZE_SMALL, "color": INK_SOFT, "align": "center"}
        below = max(below, canvas.paragraph(x, end, words, width=room, **quiet))
    return below + 6


def _hill(canvas, span, frame, data, column, bounds, colours, top, bottom) -> None:
    curves, axis = data.curves, data.axis
    tint, edge = colours
    upward = Span(0.0, 1.08 * float(curves[column].max()), False, ())
    panel = Panel(canvas, span, upward, frame.left, frame.right, top, bottom)
    draw_ground(canvas, span, top, bottom, zone=axis.zone, no_effect=axis.no_effect)
    seen = curves[curves["value"].between(span.low, span.high)]
    corners = panel.path(seen["value"], seen[column])
    first, last = corners[0][0], corners[-1][0]
    canvas.line([(first, bottom), *corners, (last, bottom)], closed=True, fill=tint, opacity=0.85)
    canvas.line(corners, stroke=edge, strokeWidth=2.5)
    canvas.level(frame.left, frame.right, bottom, stroke=INK_SOFT, strokeWidth=1)
    canvas.box(
        span.clip(bounds[0]), span.clip(bounds[1]), bottom - 5, bottom, fill=edge,
        stroke=PAPER, strokeWidth=0.75,
    )  # fmt: skip


def _priors(canvas: Canvas, data: BeliefData, width: str, y: float) -> float:
    axis, rows = data.axis, data.priors.to_dict("records")
    signed = axis.kind == "linear"
    canvas.level(0, canvas.width, y, stroke=HAIRLINE, strokeWidth=1)
    y = canvas.paragraph(0, y + 6, "Had one believed otherwise before", width=canvas.width,
                         bold=True)  # fmt: skip
    numbers = [
        estimate_in_words(r["estimate"], r["low"], r["high"], decimals=axis.decimals, signed=signed)
        for r in rows
    ]
    frame = choose_frame(width, labels=[row["words"] for row in rows], numbers=numbers)
    # A second scale on the same canvas, so its marks stand at pixels.
    span, top, tracks = canvas.span, y + 4, []

    def across(value: float) -> float:
        return span.position(span.clip(value), frame.left, frame.right)

    y = top
    for row, words in zip(rows, numbers, strict=True):
        small = f"chance to matter: {row['above']}" + ("; the one used" if row["used"] else "")
        place = write_row(canvas, frame, y + 4, row["words"], numbers=words, small=small)
        tracks.append(place.track)
        ends, middle = (across(row["low"]), across(row["high"])), place.middle
        colour = BRASS if row["used"] else BEAM_80
        canvas.box(*ends, middle - 2.5, middle + 2.5, at_value=False, fill=colour)
        canvas.mark(
            across(row["estimate"]), middle, at_value=False, area=110, shape="circle",
            fill=BRASS if row["used"] else DISC, stroke=PAPER, strokeWidth=1.5, opacity=1,
        )  # fmt: skip
        y = place.bottom
    for start, end in tracks if frame.narrow else [(top, y)]:
        if axis.zone is not None:
            canvas.box(
                across(axis.zone[0]), across(axis.zone[1]), start, end, at_value=False, fill=INK,
                opacity=ZONE_OPACITY, depth=-1,
            )  # fmt: skip
        canvas.upright(
            across(axis.no_effect), start, end, at_value=False, stroke=INK, strokeWidth=1.25,
            depth=-1,
        )  # fmt: skip
    every = 1 if (frame.right - frame.left) / max(len(span.ticks), 1) > 45 else 2
    for tick in span.ticks[::every]:
        canvas.words(
            across(tick), y + 12, tick_text(tick, signed=signed), align="center",
            fontSize=SIZE_SMALL, color=INK_SOFT,
        )  # fmt: skip
    return y + 16


def _entries(data: BeliefData) -> list[legend.Entry]:
    level = f"{100 * data.level:g}\u00a0%"
    entries = [
        legend.Entry(legend.hill(BRASS_TINT, BRASS), "the higher, the more likely; bar: "
                     f"{level} of the belief"),
        legend.Entry(legend.hill(BRASS_PALE, BRASS_EDGE), "the same in the next group, whose "
                     "people and training differ"),
    ]  # fmt: skip
    if data.axis.zone is not None:
        bounds = interval(
            *data.axis.zone, decimals=data.axis.decimals, sign=data.axis.kind == "linear"
        )
        entries.append(legend.Entry(legend.zone_patch, f"too small to matter: {bounds}"))
    return entries


def _description(data: BeliefData) -> str:
    parts = [f"Scale: {data.axis.title}."]
    for heading, chances, bounds in (
        ("The average effect", data.average, data.average_interval),
        (NEXT, data.following, data.following_interval),
    ):
        parts.append(
            f"{heading}: {_interval(data, bounds)}; {data.axis.left_words}: {chances.below}; "
            f"too small to matter: {chances.within}; {data.axis.right_words}: {chances.above}."
        )
    style = {"decimals": data.axis.decimals, "signed": data.axis.kind == "linear"}
    for row in data.priors.to_dict("records"):
        words = estimate_in_words(row["estimate"], row["low"], row["high"], **style)
        parts.append(f"Prior: {row['words']}: {words}, chance to matter {row['above']}.")
    return describe(data, *parts)
