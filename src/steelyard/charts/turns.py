"""What the answer turns on: the answer again, without each study in turn."""

from __future__ import annotations

from math import isfinite

from steelyard.pooling.pictures import TurnsData
from steelyard.show import count, interval

from . import legend
from .beams import draw_answer, mark_running_on
from .canvas import Canvas, Sheet
from .frame import choose_frame
from .head import describe, draw_head
from .look import (
    BEAM_50,
    BEAM_95,
    BRASS,
    BRASS_EDGE,
    BRASS_TINT,
    DISC,
    HAIRLINE,
    PAPER,
    SIZE_ANSWER,
)
from .picture import Picture
from .rowtext import write_row
from .scenery import draw_banner, draw_ground, draw_scale, write_notes
from .span import Span, choose_span
from .vector import draw
from .wording import estimate_in_words

_MANY = 20


def turns_plot(data: TurnsData, *, width: str = "page") -> Picture:
    """Draw how far the answer moves when a study is left out, the most telling study first.

    Parameters
    ----------
    data : TurnsData
        In display units.
    width : str
        ``"page"`` or ``"phone"``.

    Returns
    -------
    Picture
        A dark bar from the answer with all to the answer without: its length is the move.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    axis, rows = data.axis, data.without.to_dict("records")
    signed = axis.kind == "linear"

    def words(row) -> str:
        return estimate_in_words(
            row["estimate"], row["low"], row["high"], decimals=axis.decimals, signed=signed
        )

    everything = {"estimate": data.estimate, "low": data.low, "high": data.high}
    frame = choose_frame(
        width, labels=[f"without {row['label']}" for row in rows],
        numbers=[words(row) for row in (everything, *rows)],
    )  # fmt: skip
    span = choose_span(
        [row["estimate"] for row in rows], [row["low"] for row in rows],
        [row["high"] for row in rows], scale=axis.kind, max_ticks=6 if frame.narrow else 8,
        keep=(axis.no_effect, data.estimate, *(axis.zone or ()), *data.without["estimate"]),
        prefer=(data.low, data.high),
    )  # fmt: skip
    canvas = Canvas(frame.width, span, left=frame.left, right=frame.right)
    y = draw_head(canvas, frame, span, axis, draw_banner(canvas, 0.0, data.notes))
    top, tracks = y, []
    place = write_row(
        canvas, frame, y + 6, "With every study", size=SIZE_ANSWER, numbers=words(everything),
        small=f"{100 * data.level:g}\u00a0% interval",
    )  # fmt: skip
    tracks.append(place.track)
    draw_answer(canvas, span, data.low, data.estimate, data.high, place.middle - 4)
    y = place.bottom
    canvas.level(0, frame.width, y, stroke=HAIRLINE, strokeWidth=1)
    y += 8
    compact = len(rows) > _MANY and not frame.narrow
    for row in rows:
        place = write_row(
            canvas, frame, y, f"without {row['label']}", numbers=words(row), flags=row["flags"],
            warning=row["turns"], soft=not row["turns"], compact=compact,
        )  # fmt: skip
        tracks.append(place.track)
        _move(canvas, span, data.estimate, row, place.middle)
        y = place.bottom
        canvas.may_be_cut(y)
    _ground(canvas, span, data, tracks if frame.narrow else [(top, y)])
    y = draw_scale(canvas, frame, span, y, signed=signed, heavy=False)
    y = legend.draw_legend(canvas, y + 16, _entries(data))
    y = write_notes(canvas, y + 8, data.notes)
    lines = [f"Without {row['label']}: {words(row)}"
             + (f" ({row['turns']})." if row["turns"] else ".") for row in rows]  # fmt: skip
    turning = sum(bool(row["turns"]) for row in rows)
    description = describe(
        data, f"Scale: {axis.title}.", f"With every study: {words(everything)}.",
        f"The answer turns on {count(turning, 'study', 'studies')}.", *lines,
    )  # fmt: skip
    return draw(Sheet(canvas, y, data.title, data.subtitle, description))


def _move(canvas: Canvas, span: Span, answer: float, row: dict, y: float) -> None:
    if isfinite(row["low"]) and isfinite(row["high"]):
        canvas.box(span.clip(row["low"]), span.clip(row["high"]), y - 1.5, y + 1.5, fill=BEAM_95)
        mark_running_on(canvas, span, row["low"], row["high"], y)
    if not isfinite(row["estimate"]):
        return
    ends = sorted((span.clip(answer), span.clip(row["estimate"])))
    canvas.box(*ends, y - 4.5, y + 4.5, fill=BEAM_50)
    style = {"fill": DISC, "stroke": PAPER} if row["turns"] else {"fill": PAPER, "stroke": DISC}
    canvas.mark(
        span.clip(row["estimate"]),
        y,
        area=120,
        shape="circle",
        strokeWidth=1.75,
        opacity=1,
        **style,
    )


def _ground(canvas: Canvas, span: Span, data: TurnsData, tracks) -> None:
    axis = data.axis
    for top, bottom in tracks:
        if isfinite(data.low) and isfinite(data.high):
            canvas.box(
                span.clip(data.low), span.clip(data.high), top, bottom, fill=BRASS_TINT, depth=-2
            )
            for bound in (data.low, data.high):
                if span.low <= bound <= span.high:
                    canvas.upright(bound, top, bottom, stroke=BRASS_EDGE, strokeWidth=1, depth=-1)
        draw_ground(canvas, span, top, bottom, zone=axis.zone, no_effect=axis.no_effect)
        canvas.upright(data.estimate, top, bottom, stroke=BRASS, strokeWidth=1.5, depth=-1)


def _entries(data: TurnsData) -> list[legend.Entry]:
    level = f"{100 * data.level:g}\u00a0%"
    entries = [
        legend.Entry(legend.pooled_ribbon, f"the answer with every study, its {level} interval"),
        legend.Entry(legend.moved, "how far it moves without the study; thin: the new interval"),
        legend.Entry(legend.disc(DISC, PAPER), "without it, a reader would decide otherwise"),
        legend.Entry(legend.disc(PAPER, DISC), "without it, nothing changes that matters"),
    ]
    if data.axis.zone is not None:
        bounds = interval(
            *data.axis.zone, decimals=data.axis.decimals, sign=data.axis.kind == "linear"
        )
        entries.append(legend.Entry(legend.zone_patch, f"too small to matter: {bounds}"))
    return entries
