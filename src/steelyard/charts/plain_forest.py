"""Where the studies stand, in three fields, for a reader who does not read statistics."""

from __future__ import annotations

from math import isfinite

from steelyard.pooling.pictures import PlainForestData

from . import legend
from .beams import BELOW_BAR, draw_answer, draw_disc, mark_running_on, needs_room
from .canvas import Canvas, Sheet
from .frame import choose_frame
from .head import describe
from .lettering import text_width
from .look import (
    BEAM_95,
    HAIRLINE,
    INK,
    INK_SOFT,
    SIZE_ANSWER,
    SIZE_BODY,
    ZONE_OPACITY,
)
from .picture import Picture
from .placing import spread
from .rowtext import write_row
from .scenery import draw_banner, write_notes
from .span import choose_span
from .vector import draw
from .wording import flags_in_words


def plain_forest(data: PlainForestData, *, width: str = "page") -> Picture:
    """Draw every study in the field where it lies: worse, about the same, better.

    Parameters
    ----------
    data : PlainForestData
        Better to the right.
    width : str
        ``"page"`` or ``"phone"``.

    Returns
    -------
    Picture
        No scale and no figures: a dot for what a study found, a bar for how unsure it is.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    rows = data.studies.to_dict("records")
    frame = choose_frame(width, labels=[row["label"] for row in rows], numbers=[])
    span = choose_span(
        data.studies["estimate"], data.studies["low"], data.studies["high"],
        keep=(*data.zone, data.no_effect, data.estimate), prefer=(data.low, data.high),
        scale=data.kind,
    )  # fmt: skip
    canvas = Canvas(frame.width, span, left=frame.left, right=frame.right)
    y = _fields(canvas, data, draw_banner(canvas, 0.0, data.notes))
    top, tracks, ran_on = y, [], False
    for row in rows:
        count = f"{row['people']:.0f}" if isfinite(row["people"]) else ""
        people = data.people_words.format(count=count) if count else ""
        beside = {"numbers": "", "small": people} if frame.narrow else {"numbers": people}
        bounds = {"estimate": row["estimate"], "low_95": row["low"], "high_95": row["high"]}
        place = write_row(
            canvas, frame, y + 4, row["label"], flags=row["flags"],
            below_bar=BELOW_BAR if needs_room(canvas, span, bounds) else 0.0, **beside,
        )  # fmt: skip
        tracks.append(place.track)
        middle = place.middle
        if row["low"] <= span.high and row["high"] >= span.low:
            canvas.box(
                span.clip(row["low"]), span.clip(row["high"]), middle - 2, middle + 2, fill=BEAM_95
            )
        ran_on |= mark_running_on(canvas, span, row["low"], row["high"], middle)
        draw_disc(canvas, span, bounds, middle, area=150.0, counted=True)
        y = place.bottom
        canvas.may_be_cut(y)
    canvas.level(0, frame.width, y, stroke=HAIRLINE, strokeWidth=1)
    place = write_row(
        canvas, frame, y + 8, data.together_title, size=SIZE_ANSWER, numbers="",
        small=data.together_words,
    )  # fmt: skip
    tracks.append(place.track)
    draw_answer(canvas, span, data.low, data.estimate, data.high, place.middle - 4)
    y = place.bottom
    for start, end in tracks if frame.narrow else [(top, y)]:
        canvas.box(*data.zone, start, end, fill=INK, opacity=ZONE_OPACITY, depth=-1)
        for bound in data.zone:
            canvas.upright(bound, start, end, stroke=INK_SOFT, dash=(1, 3), depth=-1)
    entries = [
        legend.Entry(legend.dot_and_bar, data.dot_words),
        legend.Entry(legend.poised, data.poised_words),
    ]
    if ran_on:
        entries.append(legend.Entry(legend.runs_on, data.cut_words))
    y = legend.draw_legend(canvas, y + 8, entries)
    y = write_notes(canvas, y + 8, data.notes)
    return draw(Sheet(canvas, y, data.title, data.subtitle, _description(data, rows)))


def _fields(canvas: Canvas, data: PlainForestData, y: float) -> float:
    """Name the three fields above the plot, each over its place as far as there is room."""
    low, high = (canvas.across(bound) for bound in data.zone)
    texts = (
        (f"← {data.worse_words}", (canvas.left + low) / 2),
        (data.same_words, (low + high) / 2),
        (f"{data.better_words} →", (high + canvas.right) / 2),
    )
    most = (canvas.right - canvas.left) / 3 - 8
    rooms = [min(most, 1 + text_width(words, SIZE_BODY, bold=True)) for words, _ in texts]
    middles = spread([wish for _, wish in texts], rooms, left=canvas.left, right=canvas.right)
    below = max(
        canvas.paragraph(x, y, words, width=room, bold=True, align="center")
        for (words, _), room, x in zip(texts, rooms, middles, strict=True)
    )
    y = below + 6
    canvas.box(canvas.left, canvas.right, y, y + 5, at_value=False, fill=INK)
    canvas.box(low, high, y, y + 5, at_value=False, fill=BEAM_95)
    return y + 8


def _description(data: PlainForestData, rows: list[dict]) -> str:
    lines = []
    for row in rows:
        if row["estimate"] < data.zone[0]:
            field = data.worse_words
        else:
            field = data.better_words if row["estimate"] > data.zone[1] else data.same_words
        flags = f" ({flags_in_words(row['flags'])})" if row["flags"] else ""
        lines.append(f"{row['label']}{flags}: {field}.")
    return describe(data, f"{data.together_title}: {data.together_words}.", *lines)
