"""The forest plot: the answer on top, every study hanging below it."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from typing import TYPE_CHECKING, Any

from steelyard.pooling.display import ForestData
from steelyard.show import count, interval

from . import legend
from .beams import BELOW_BAR, draw_beam, draw_disc, mark_running_on, needs_room
from .canvas import Canvas, Sheet
from .frame import Frame, choose_frame
from .lettering import text_width
from .look import (
    BRASS,
    BRASS_BEAM,
    BRASS_EDGE,
    BRASS_PALE,
    BRASS_TINT,
    HAIRLINE,
    INK_SOFT,
    PAPER,
    POISE,
    SIZE_ANSWER,
    SIZE_SMALL,
)
from .picture import Picture
from .rowtext import RowPlace, write_row
from .scenery import (
    draw_banner,
    draw_directions,
    draw_fulcrum,
    draw_ground,
    draw_scale,
    write_notes,
)
from .span import Span, choose_span
from .vector import draw
from .wording import (
    NOT_COUNTED_WORDS,
    estimate_in_words,
    flags_in_words,
    share_in_words,
    unbroken,
)

if TYPE_CHECKING:
    import altair as alt

POOLED_WORDS = "All studies together"
ALONE_WORDS = "The one study"
NEXT_WORDS = "Where the next study's average would probably fall"
_MANY = 20


def forest_plot(data: ForestData, *, width: str = "page") -> alt.LayerChart:
    """Draw a weighing: each study, the answer, and what the next study may show.

    Parameters
    ----------
    data : ForestData
        In display units.
    width : str
        ``"page"`` (about 860 px) or ``"phone"`` (360 px, words above the bars).

    Returns
    -------
    altair.LayerChart
        With title, answer sentence and a description for those who cannot see it.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    from .layered import altair_chart

    return altair_chart(_Forest(data, width).sheet())


def forest_picture(data: ForestData, *, width: str = "page") -> Picture:
    """Draw what `forest_plot` draws as a still picture, fast enough to redraw while typing."""
    return draw(_Forest(data, width).sheet())


def forest_svg(data: ForestData, *, width: str = "page") -> str:
    """Write what `forest_picture` draws as SVG text."""
    return forest_picture(data, width=width).svg


def _without_new(flags: str) -> tuple[bool, list[str]]:
    """Whether a row is marked as new, and its other flags."""
    others = [flag for flag in flags.split("; ") if flag]
    return "new" in others, [flag for flag in others if flag != "new"]


class _Forest:
    """One drawing in progress: the data, the room, and the shapes so far."""

    def __init__(self, data: ForestData, width: str):
        self.data = data
        self.rows: list[dict[str, Any]] = data.rows.to_dict("records")
        self.signed = data.scale == "linear"
        self.numbers = [
            self._numbers(row["estimate"], row["low_95"], row["high_95"]) for row in self.rows
        ]
        self.frame: Frame = choose_frame(
            width,
            labels=[row["label"] for row in self.rows],
            numbers=[*self.numbers, self._numbers(data.estimate, data.low, data.high)],
        )
        self.span: Span = choose_span(
            [row["estimate"] for row in self.rows if row["pooled"]],
            [row["low_95"] for row in self.rows],
            [row["high_95"] for row in self.rows],
            keep=(data.no_effect, data.estimate, *(data.zone or ())),
            prefer=(data.low, data.high, data.prediction_low, data.prediction_high),
            scale=data.scale,
            max_ticks=6 if self.frame.narrow else 8,
        )
        self.canvas = Canvas(
            self.frame.width, self.span, left=self.frame.left, right=self.frame.right
        )
        self.compact = len(self.rows) > _MANY and not self.frame.narrow
        self.heaviest = max((row["weight"] for row in self.rows), default=0.0) or 1.0
        self.level = unbroken(f"{100 * data.level:g} %")
        self.tracks: list[tuple[float, float]] = []
        self.ran_on = False
        self.counted = sum(bool(row["pooled"]) for row in self.rows)

    def _numbers(self, estimate: float, low: float, high: float) -> str:
        return estimate_in_words(
            estimate, low, high, decimals=self.data.decimals, signed=self.signed
        )

    def sheet(self) -> Sheet:
        canvas, data = self.canvas, self.data
        y = self._head(draw_banner(canvas, 0.0, data.notes))
        y = draw_fulcrum(canvas, self.frame, self.span, y, zone=data.zone, no_effect=data.no_effect)
        top = y
        if isfinite(data.estimate):
            y = self._answer(y)
        if isfinite(data.prediction_low) and isfinite(data.prediction_high):
            y = self._next_study(y)
        y = self._study_header(y + 4)
        for row, numbers in zip(self.rows, self.numbers, strict=True):
            y = self._study(y, row, numbers)
            canvas.may_be_cut(y)
        self._ground([(top, y)] if not self.frame.narrow else self.tracks)
        y = self._foot(y)
        return Sheet(canvas, y, data.title, data.subtitle, self._description())

    def _head(self, y: float) -> float:
        y = self._axis_title(y)
        y = draw_directions(
            self.canvas, self.frame, y + 2, self.data.left_words, self.data.right_words
        )
        return draw_scale(self.canvas, self.frame, self.span, y + 4, signed=self.signed, heavy=True)

    def _axis_title(self, y: float) -> float:
        frame = self.frame
        return self.canvas.paragraph(
            (frame.left + frame.right) / 2, y, self.data.axis_title,
            width=frame.right - frame.left, size=SIZE_SMALL, color=INK_SOFT, align="center",
        )  # fmt: skip

    def _foot(self, y: float) -> float:
        y = draw_scale(self.canvas, self.frame, self.span, y, signed=self.signed, heavy=False)
        if len(self.rows) > _MANY:
            y = self._axis_title(y + 2)
        y = legend.draw_legend(self.canvas, y + 16, self._legend_entries())
        return write_notes(self.canvas, y + 8, self.data.notes)

    def _row(self, y: float, heading: str, **words) -> RowPlace:
        place = write_row(self.canvas, self.frame, y, heading, compact=self.compact, **words)
        if place.track is not None:
            self.tracks.append(place.track)
        return place

    def _pooled_words(self) -> str:
        return ALONE_WORDS if self.counted == 1 else POOLED_WORDS

    def _answer(self, y: float) -> float:
        data, canvas, span = self.data, self.canvas, self.span
        numbers = self._numbers(data.estimate, data.low, data.high)
        bounded = isfinite(data.low) and isfinite(data.high)
        small = count(self.counted, "study", "studies")
        place = self._row(
            y + 6, self._pooled_words(), size=SIZE_ANSWER, numbers=numbers,
            small=f"{small}, {self.level} interval" if bounded else small,
        )  # fmt: skip
        # The poise hangs below its bar, so that a narrow interval stays in sight.
        middle = place.middle - 4
        if bounded:
            canvas.box(
                span.clip(data.low), span.clip(data.high), middle - 4, middle + 4,
                fill=BRASS_BEAM, stroke=BRASS, strokeWidth=1, tip=numbers,
            )  # fmt: skip
            self.ran_on |= mark_running_on(canvas, span, data.low, data.high, middle)
        canvas.mark(
            data.estimate, middle + 12, area=270, shape=POISE, opacity=1, fill=BRASS,
            stroke=PAPER, strokeWidth=1.25, tip=numbers,
        )  # fmt: skip
        return place.bottom

    def _next_study(self, y: float) -> float:
        data, canvas, span = self.data, self.canvas, self.span
        low, high = data.prediction_low, data.prediction_high
        numbers = interval(low, high, decimals=data.decimals, sign=self.signed)
        place = self._row(y, NEXT_WORDS, numbers=numbers, small=f"{self.level} prediction interval")
        middle = place.middle
        canvas.box(
            span.clip(low), span.clip(high), middle - 6, middle + 6, fill=BRASS_PALE,
            stroke=BRASS_EDGE, strokeWidth=1.5, dash=(4, 3), tip=numbers,
        )  # fmt: skip
        self.ran_on |= mark_running_on(canvas, span, low, high, middle)
        return place.bottom

    def _study_header(self, y: float) -> float:
        canvas, frame, data = self.canvas, self.frame, self.data
        canvas.level(0, frame.width, y, stroke=HAIRLINE, strokeWidth=1)
        who = "people analysed" if self.compact else "people"
        words = f"{who}: {data.intervention} v {data.comparator}"
        if self.compact:
            words += " · share of the weight"
        below = canvas.paragraph(
            0, y + 6, words, width=frame.label_width, size=SIZE_SMALL, color=INK_SOFT
        )
        if not frame.narrow:
            below = max(
                below,
                canvas.paragraph(
                    frame.numbers, y + 6, "estimate (95\u00a0%\u00a0interval)",
                    width=frame.width - frame.numbers, size=SIZE_SMALL, color=INK_SOFT,
                ),
            )  # fmt: skip
        return below + 8

    def _people(self, row: dict[str, Any]) -> str:
        sizes = [row["n_intervention"], row["n_comparator"]]
        known = all(isfinite(size) for size in sizes)
        people = f"{sizes[0]:.0f} v {sizes[1]:.0f}" if known else "size not reported"
        words = people + (" people analysed" if known and not self.compact else "")
        if known and row["people"] < sum(sizes):
            words = f"{row['people']:.0f}{'' if self.compact else ' people'}, the same under both"
        if row["pooled"]:
            share = share_in_words(row["weight"])
            words += f" · {share}" if self.compact else f" · weight {share}"
        if row["n_effects"] > 1:
            words += f" · {count(int(row['n_effects']), 'result')}"
        return unbroken(words)

    def _study(self, y: float, row: dict[str, Any], numbers: str) -> float:
        counted = bool(row["pooled"])
        new, flags = _without_new(row["flags"])
        if not counted:
            flags.append(NOT_COUNTED_WORDS)
        words = "; ".join(flags)
        top, room = y, BELOW_BAR if needs_room(self.canvas, self.span, row) else 0.0
        if new:
            y = self._badge(y + 4)
        place = self._row(
            y, row["label"], numbers=numbers, small=self._people(row), flags=words,
            soft=not counted, below_bar=room,
        )  # fmt: skip
        if new:
            self.canvas.box(
                -6, self.frame.width + 6, top - 2, place.bottom - 4, at_value=False, depth=-3,
                fill=BRASS_PALE, stroke=BRASS, strokeWidth=1.5,
            )  # fmt: skip
            place = replace(place, bottom=place.bottom + 5)
        tip = "; ".join(
            filter(None, (row["label"], numbers, self._people(row), flags_in_words(words)))
        )
        share = row["weight"] / self.heaviest
        style = {"counted": counted, "tip": tip}
        self.ran_on |= draw_beam(
            self.canvas, self.span, row, place.middle, heft=max(share**0.5, 0.4), **style
        )
        largest = 130.0 if self.compact else 230.0
        area = max(largest * share, 22.0) if counted else 70.0
        draw_disc(self.canvas, self.span, row, place.middle, area=area, **style)
        return place.bottom

    def _badge(self, y: float) -> float:
        words, height = "new: just added", SIZE_SMALL + 7
        width = text_width(words, SIZE_SMALL, bold=True) + 14
        self.canvas.box(0, width, y, y + height, at_value=False, fill=BRASS)
        self.canvas.words(
            7, y + SIZE_SMALL + 1.5, words, fontSize=SIZE_SMALL, fontWeight="bold", color=PAPER
        )
        return y + height + 2

    def _ground(self, tracks: list[tuple[float, float]]) -> None:
        data, canvas, span = self.data, self.canvas, self.span
        bands = (
            (data.prediction_low, data.prediction_high, BRASS_PALE, BRASS_EDGE, (4, 3)),
            (data.low, data.high, BRASS_TINT, BRASS_EDGE, ()),
        )
        for top, bottom in tracks:
            for low, high, tint, _, _ in bands:
                if isfinite(low) and isfinite(high):
                    canvas.box(span.clip(low), span.clip(high), top, bottom, fill=tint, depth=-2)
            draw_ground(canvas, span, top, bottom, zone=data.zone, no_effect=data.no_effect)
            for low, high, _, edge, dash in bands:
                for bound in (low, high):
                    if span.low <= bound <= span.high:
                        canvas.upright(
                            bound, top, bottom, stroke=edge, strokeWidth=1, dash=dash, depth=-1
                        )
            if isfinite(data.estimate):
                canvas.upright(data.estimate, top, bottom, stroke=BRASS, strokeWidth=1.5, depth=-1)

    def _beyond(self, row: dict[str, Any]) -> bool:
        """Whether no part of a study's interval is shown."""
        return row["high_95"] < self.span.low or row["low_95"] > self.span.high

    def _legend_entries(self) -> list[legend.Entry]:
        data = self.data
        entries = [
            legend.Entry(
                legend.nested_beam,
                "one study; thick, middle and thin: its 50, 80 and 95\u00a0% interval",
            ),
            legend.Entry(legend.discs, "its estimate: the larger the disc, the more it weighs"),
        ]
        if isfinite(data.estimate):
            whole = "the one study" if self.counted == 1 else "all studies weighed together"
            entries.append(legend.Entry(legend.poised, f"the answer: {whole}"))
        if isfinite(data.low):
            entries.append(
                legend.Entry(
                    legend.pooled_ribbon,
                    f"the answer and its {self.level} interval",
                )
            )
        if isfinite(data.prediction_low):
            entries.append(
                legend.Entry(
                    legend.prediction_ribbon,
                    "where the next study's average would probably fall "
                    f"({self.level} prediction interval)",
                )
            )
        if data.zone is not None:
            bounds = interval(*data.zone, decimals=data.decimals, sign=self.signed)
            entries.append(legend.Entry(legend.zone_patch, f"too small to matter: {bounds}"))
        if not all(row["pooled"] for row in self.rows):
            entries.append(legend.Entry(legend.not_counted, "shown, but not counted in the answer"))
        if self.ran_on:
            words = "the interval runs on past the edge"
            if any(self._beyond(row) for row in self.rows):
                words += " (arrow alone: all of it)"
            entries.append(legend.Entry(legend.runs_on, words))
        return entries

    def _description(self) -> str:
        data = self.data
        parts = [data.title, data.subtitle, f"Scale: {data.axis_title}."]
        parts.append(f"To the left: {data.left_words}; to the right: {data.right_words}.")
        if isfinite(data.estimate):
            parts.append(
                f"{self._pooled_words()}: {self._numbers(data.estimate, data.low, data.high)}."
            )
        if isfinite(data.prediction_low):
            bounds = (data.prediction_low, data.prediction_high)
            words = interval(*bounds, decimals=data.decimals, sign=self.signed)
            parts.append(f"{NEXT_WORDS}: {words}.")
        for row, numbers in zip(self.rows, self.numbers, strict=True):
            flags = f" ({flags_in_words(row['flags'])})" if row["flags"] else ""
            parts.append(f"{row['label']}{flags}: {numbers}.")
        return " ".join(filter(None, (*parts, *data.notes)))
