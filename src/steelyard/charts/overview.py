"""All recommendations in one picture, in multiples of the smallest effect worth having."""

from __future__ import annotations

from math import isfinite

from steelyard.pooling.pictures import EffectAxis, OverviewData
from steelyard.pooling.verdict import NOT_SETTLED
from steelyard.show import number

from . import legend
from .beams import draw_answer, mark_running_on, say_where, write_warning
from .canvas import Canvas, Sheet
from .frame import Frame, plain_frame, room_for
from .head import describe, draw_head
from .look import (
    BRASS_EDGE,
    BRASS_PALE,
    HAIRLINE,
    INK_SOFT,
    SIZE_BODY,
    SIZE_SMALL,
)
from .picture import Picture
from .scenery import draw_banner, draw_ground, draw_scale, write_notes
from .span import choose_span
from .steps import STAIR_WIDTH, draw_stair
from .vector import draw

_AXIS = EffectAxis(
    title="1 = the smallest effect worth having",
    left_words="worse",
    right_words="better",
    zone=(-1.0, 1.0),
    decimals=1,
)
_LABEL = 330.0
_SURE = 150.0


def overview_plot(data: OverviewData, *, width: str = "page") -> Picture:
    """Draw each recommendation's size, how sure it is, when it was reviewed and what moved.

    Parameters
    ----------
    data : OverviewData
        In multiples of the smallest effect worth having; better to the right.
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
    rows = data.recommendations.to_dict("records")
    frame = (
        plain_frame(whole, left=10.0, right=10.0)
        if narrow
        else Frame(whole, _LABEL, _LABEL + 18, whole - _SURE - 22, whole - _SURE, False)
    )
    table = data.recommendations
    span = choose_span(
        table["estimate"], table["low"], table["high"], keep=(0.0, -1.2, 1.2),
        prefer=(table["prediction_low"].min(), table["prediction_high"].max()), scale="linear",
        max_ticks=6 if narrow else 8,
    )  # fmt: skip
    canvas = Canvas(whole, span, left=frame.left, right=frame.right)
    y = draw_head(canvas, frame, span, _AXIS, draw_banner(canvas, 0.0, data.notes))
    top, tracks = y, []
    for row in rows:
        place, y = _row(canvas, frame, row, y)
        tracks.append((place - 13, place + 13))
        _size(canvas, row, place)
        canvas.may_be_cut(y)
    for start, end in tracks if narrow else [(top, y)]:
        draw_ground(canvas, span, start, end, zone=_AXIS.zone, no_effect=0.0)
    y = draw_scale(canvas, frame, span, y, signed=True, heavy=False)
    level = f"{100 * data.level:g}\u00a0%"
    y = legend.draw_legend(
        canvas, y + 16,
        [
            legend.Entry(legend.poised, f"the answer and its {level} interval"),
            legend.Entry(legend.poised_open, f"the same where the answer is {NOT_SETTLED}"),
            legend.Entry(
                legend.prediction_ribbon, "where the next study's average would probably fall"
            ),
            legend.Entry(legend.zone_patch, "too small to matter"),
            legend.Entry(legend.stair, "how sure: very low, low, moderate or high certainty"),
        ],
    )  # fmt: skip
    y = write_notes(canvas, y + 8, data.notes)
    return draw(Sheet(canvas, y, data.title, data.subtitle, _description(data, rows)))


def _row(canvas: Canvas, frame: Frame, row: dict, y: float) -> tuple[float, float]:
    """Write a row's words; give the middle of its bar and the next row's top, both in pixels."""
    quiet = {"size": SIZE_SMALL, "color": INK_SOFT}
    room = frame.label_width
    canvas.level(0, canvas.width, y, stroke=HAIRLINE, strokeWidth=1)
    y += 6
    sure = row["certainty"]
    if frame.narrow:
        below = canvas.paragraph(0, y, row["statement"], width=room, bold=True)
        below = canvas.paragraph(0, below, row["about"], width=room, **quiet)
        draw_stair(canvas, 0, below + 18, sure)
        words = " · ".join(filter(None, (sure, row["verdict"], _reviewed(row))))
        below = 4 + canvas.paragraph(
            STAIR_WIDTH + 8, below + 3, words, width=room - STAIR_WIDTH - 8, size=SIZE_SMALL
        )
        if row["changed"]:
            below = write_warning(canvas, 0, below, _moved(row), width=room)
        return below + 18, below + 38
    below = canvas.paragraph(0, y, row["statement"], width=room, bold=True)
    below = canvas.paragraph(0, below, row["about"], width=room, **quiet)
    if row["changed"]:
        below = write_warning(canvas, 0, below + 1, _moved(row), width=room)
    x = frame.numbers
    draw_stair(canvas, x, y + 17, sure)
    right = canvas.paragraph(
        x + STAIR_WIDTH + 8, y, sure, width=canvas.width - x - STAIR_WIDTH - 8, bold=True
    )
    for words in filter(None, (row["verdict"], _reviewed(row))):
        right = canvas.paragraph(x, right + 2, words, width=canvas.width - x, **quiet)
    return y + SIZE_BODY * 1.2, max(below, right) + 8


def _reviewed(row: dict) -> str:
    return f"reviewed {row['reviewed']}" if row["reviewed"] else "not reviewed yet"


def _moved(row: dict) -> str:
    return f"moved since told: {row['changed']}"


def _size(canvas: Canvas, row: dict, y: float) -> None:
    span = canvas.span
    if isfinite(row["prediction_low"]) and isfinite(row["prediction_high"]):
        canvas.box(
            span.clip(row["prediction_low"]), span.clip(row["prediction_high"]), y - 6, y + 6,
            fill=BRASS_PALE, stroke=BRASS_EDGE, strokeWidth=1.25, dash=(4, 3), depth=-0.5,
        )  # fmt: skip
    low, high = row["low"], row["high"]
    mark_running_on(
        canvas, span, min(low, row["prediction_low"]), max(high, row["prediction_high"]), y
    )
    estimate = row["estimate"]
    settled = row["verdict"] != NOT_SETTLED
    draw_answer(canvas, span, low, estimate, high, y, thickness=7.0, area=170.0, settled=settled)
    if isfinite(estimate) and not span.low <= estimate <= span.high:
        say_where(canvas, span, {"estimate": estimate, "low_95": low, "high_95": high}, y)


def _description(data: OverviewData, rows: list[dict]) -> str:
    lines = []
    for row in rows:
        size, *bounds = (
            number(row[name], decimals=1, sign=True) for name in ("estimate", "low", "high")
        )
        line = (
            f"{row['statement']} ({row['about']}): {size} times the smallest effect worth having "
            f"({' to '.join(bounds)}); certainty {row['certainty']}; {row['verdict']}; "
            f"{_reviewed(row)}"
        )
        lines.append(line + (f"; {_moved(row)}." if row["changed"] else "."))
    return describe(data, *lines)
