"""The reading chart: everything one study measured, a panel for each scale it is told on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from steelyard.pooling.display import ReadingData, ReadingPanel

from . import legend
from .beams import BELOW_BAR, draw_beam, draw_disc, needs_room
from .canvas import Canvas, Sheet
from .frame import Frame, choose_frame
from .look import HAIRLINE, INK_SOFT, SIZE_SMALL
from .picture import Picture
from .rowtext import write_row
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
from .wording import estimate_in_words, flags_in_words

if TYPE_CHECKING:
    import altair as alt

_DISC_AREA = 120.0


def reading_chart(data: ReadingData, *, width: str = "page") -> alt.LayerChart:
    """Draw every outcome of one study, with the result in the paper's own unit beside it.

    Parameters
    ----------
    data : ReadingData
        In display units.
    width : str
        ``"page"`` (about 860 px) or ``"phone"`` (360 px, words above the bars).

    Returns
    -------
    altair.LayerChart
        With title, sentence and a description for those who cannot see it.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    from .layered import altair_chart

    return altair_chart(_sheet(data, width))


def reading_picture(data: ReadingData, *, width: str = "page") -> Picture:
    """Draw what `reading_chart` draws as a still picture, many times faster."""
    return draw(_sheet(data, width))


def _sheet(data: ReadingData, width: str) -> Sheet:
    panels = [_Panel.of(panel) for panel in data.panels]
    frame = choose_frame(
        width,
        labels=[row["outcome"] for panel in panels for row in panel.rows],
        numbers=[words for panel in panels for words in panel.numbers],
    )
    canvas = Canvas(frame.width, left=frame.left, right=frame.right)
    y, ran_on = draw_banner(canvas, 0.0, data.notes), False
    for place, panel in enumerate(panels):
        if place:
            canvas.may_be_cut(y + 6)
            y += 22
        y, went_on = _draw_panel(canvas, frame, y, panel)
        ran_on |= went_on
    if panels:
        y = legend.draw_legend(canvas, y + 16, _entries(data, ran_on=ran_on))
    y = write_notes(canvas, y + 8, data.notes)
    return Sheet(canvas, y, data.title, data.subtitle, _description(data, panels))


@dataclass(frozen=True, slots=True, eq=False)
class _Panel:
    """One scale with its rows, and each row's numbers in words."""

    data: ReadingPanel
    rows: list[dict]
    numbers: list[str]
    signed: bool

    @classmethod
    def of(cls, data: ReadingPanel) -> _Panel:
        signed = data.scale == "linear"
        rows = data.rows.to_dict("records")
        style = {"decimals": data.decimals, "signed": signed}
        numbers = [
            estimate_in_words(row["estimate"], row["low_95"], row["high_95"], **style)
            for row in rows
        ]
        return cls(data, rows, numbers, signed)

    def span(self, frame: Frame) -> Span:
        """The visible part of the scale."""
        return choose_span(
            [row["estimate"] for row in self.rows],
            [row["low_95"] for row in self.rows],
            [row["high_95"] for row in self.rows],
            keep=(self.data.no_effect, *(self.data.zone or ())),
            scale=self.data.scale,
            max_ticks=6 if frame.narrow else 8,
        )


def _draw_panel(canvas: Canvas, frame: Frame, y: float, panel: _Panel) -> tuple[float, bool]:
    """Draw one scale with its rows; the pixel below it, and whether an interval runs on."""
    data, span, signed = panel.data, panel.span(frame), panel.signed
    canvas.pin(span)
    middle, room = (frame.left + frame.right) / 2, frame.right - frame.left
    quiet = {"size": SIZE_SMALL, "color": INK_SOFT}
    y = canvas.paragraph(middle, y, data.axis_title, width=room, align="center", **quiet)
    y = draw_directions(canvas, frame, y + 2, data.left_words, data.right_words)
    y = draw_scale(canvas, frame, span, y + 4, signed=signed, heavy=True)
    at_zero = {"zone": data.zone, "no_effect": data.no_effect}
    y = draw_fulcrum(canvas, frame, span, y, zero_words=data.zero_words, **at_zero)

    top, tracks, ran_on, construct = y, [], False, None
    for row, words in zip(panel.rows, panel.numbers, strict=True):
        if row["construct"] != construct:
            construct = row["construct"]
            canvas.level(0, frame.width, y + 2, stroke=HAIRLINE, strokeWidth=1)
            y = 6 + canvas.paragraph(0, y + 6, construct, width=frame.label_width, **quiet)
        place = write_row(
            canvas, frame, y, row["outcome"], numbers=words, flags=row["flags"],
            printed=row["printed"],
            below_bar=BELOW_BAR if needs_room(canvas, span, row) else 0.0,
        )  # fmt: skip
        if place.track is not None:
            tracks.append(place.track)
        tip = "; ".join(
            filter(None, (row["outcome"], words, row["printed"], flags_in_words(row["flags"])))
        )
        style = {"counted": True, "tip": tip}
        ran_on |= draw_beam(canvas, span, row, place.middle, **style)
        draw_disc(canvas, span, row, place.middle, area=_DISC_AREA, **style)
        y = place.bottom
        canvas.may_be_cut(y)
    for start, end in tracks if frame.narrow else [(top, y)]:
        draw_ground(canvas, span, start, end, **at_zero)
    return draw_scale(canvas, frame, span, y, signed=signed, heavy=False), ran_on


def _entries(data: ReadingData, *, ran_on: bool) -> list[legend.Entry]:
    entries = [
        legend.Entry(
            legend.nested_beam,
            "one outcome; thick, middle and thin: its 50, 80 and 95\u00a0% interval",
        )
    ]
    for words in dict.fromkeys(panel.zone_words for panel in data.panels if panel.zone):
        entries.append(legend.Entry(legend.zone_patch, f"too small to matter: {words}"))
    if ran_on:
        entries.append(legend.Entry(legend.runs_on, "the interval runs on past the edge"))
    return entries


def _description(data: ReadingData, panels: list[_Panel]) -> str:
    parts = [data.title, data.subtitle]
    for panel in panels:
        parts.append(f"Scale: {panel.data.axis_title}.")
        parts.append(
            f"To the left: {panel.data.left_words}; to the right: {panel.data.right_words}."
        )
        for row, words in zip(panel.rows, panel.numbers, strict=True):
            flags = f" ({flags_in_words(row['flags'])})" if row["flags"] else ""
            parts.append(f"{row['outcome']}{flags}: {words}.")
    return " ".join(filter(None, (*parts, *data.notes)))
