"""A recommended dose over what the studies tested, each part on a scale of its own."""

from __future__ import annotations

from math import isfinite

from steelyard.pooling.pictures import TestedDoseData

from . import legend
from .canvas import Canvas, Sheet
from .frame import choose_frame
from .head import describe
from .look import BEAM_80, BRASS, BRASS_BEAM, CHANCE, INK, PAPER
from .picture import Picture
from .rowtext import write_row
from .scenery import draw_banner, write_notes
from .vector import draw

_AROUND = 0.15
_ONE = 9.0


def tested_dose_plot(data: TestedDoseData, *, width: str = "page") -> Picture:
    """Draw one row per part of the dose: what was tested, and over it what is recommended.

    Parameters
    ----------
    data : TestedDoseData
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
    rows = data.parts.to_dict("records")
    frame = choose_frame(
        width, labels=[row["part"] for row in rows], numbers=[row["mark"] for row in rows]
    )
    canvas = Canvas(frame.width)
    y = draw_banner(canvas, 0.0, data.notes)
    for row in rows:
        place = write_row(
            canvas, frame, y + 4, f"{row['part']}: {row['recommended']}", numbers=row["mark"],
            small=row["tested"],
        )  # fmt: skip
        _spans(canvas, row, frame.left, frame.right, place.middle)
        y = place.bottom
    y = legend.draw_legend(
        canvas, y + 10,
        [
            legend.Entry(_tested_sign, "what the studies tested, from least to most"),
            legend.Entry(_recommended_sign, "what is recommended"),
        ],
    )  # fmt: skip
    y = write_notes(canvas, y + 8, data.notes)
    lines = [f"{r['part']}: {r['recommended']}; {r['tested']}; {r['mark']}." for r in rows]
    return draw(Sheet(canvas, y, data.title, data.subtitle, describe(data, *lines)))


def _spans(canvas: Canvas, row: dict, left: float, right: float, middle: float) -> None:
    """Both ranges between the lowest and the highest of the four ends, with room around."""
    tested = isfinite(row["tested_low"])
    ends = [row["low"], row["high"]]
    if tested:
        ends += [row["tested_low"], row["tested_high"]]
    low, high = min(ends), max(ends)
    around = _AROUND * (right - left)

    def across(value: float) -> float:
        if high == low:
            return (left + right) / 2
        return left + around + (value - low) / (high - low) * (right - left - 2 * around)

    canvas.level(left, right, middle, stroke=CHANCE[95], strokeWidth=1)
    if tested:
        _tested(canvas, across(row["tested_low"]), across(row["tested_high"]), middle)
    _recommended(canvas, across(row["low"]), across(row["high"]), middle)


def _tested(canvas: Canvas, start: float, stop: float, middle: float) -> None:
    start, stop = _at_least(start, stop, 2 * _ONE)
    canvas.box(
        start, stop, middle - 9, middle + 9, at_value=False, fill=CHANCE[90], stroke=BEAM_80,
        strokeWidth=1,
    )  # fmt: skip


def _recommended(canvas: Canvas, start: float, stop: float, middle: float) -> None:
    if stop - start < _ONE:
        canvas.mark(
            (start + stop) / 2, middle, at_value=False, area=100, shape="circle", fill=BRASS,
            stroke=PAPER, strokeWidth=1.5, opacity=1,
        )  # fmt: skip
        return
    canvas.box(
        start, stop, middle - 4, middle + 4, at_value=False, fill=BRASS_BEAM, stroke=INK,
        strokeWidth=1,
    )  # fmt: skip


def _at_least(start: float, stop: float, wide: float) -> tuple[float, float]:
    if stop - start >= wide:
        return start, stop
    middle = (start + stop) / 2
    return middle - wide / 2, middle + wide / 2


def _tested_sign(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(
        x + 4, x + 42, y - 6, y + 6, at_value=False, fill=CHANCE[90], stroke=BEAM_80, strokeWidth=1
    )


def _recommended_sign(canvas: Canvas, x: float, y: float) -> None:
    _recommended(canvas, x + 4, x + 28, y)
    _recommended(canvas, x + 38, x + 38, y)
