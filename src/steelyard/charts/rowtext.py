"""The words of one row, beside its beam on a page and above it on a phone."""

from __future__ import annotations

from dataclasses import dataclass

from .beams import write_flags
from .canvas import Canvas
from .frame import Frame
from .lettering import text_width
from .look import INK, INK_SOFT, SIZE_BODY, SIZE_SMALL

_TRACK = 24.0


@dataclass(frozen=True, slots=True)
class RowPlace:
    """Where a row stands, in pixels down.

    Attributes
    ----------
    middle : float
        Of the row's beam.
    bottom : float
        Where the next row begins.
    track : tuple of float or None
        Top and bottom of the strip that holds the beam; None where rows share one ground.
    """

    middle: float
    bottom: float
    track: tuple[float, float] | None


def write_row(
    canvas: Canvas,
    frame: Frame,
    y: float,
    heading: str,
    *,
    numbers: str,
    small: str = "",
    printed: str = "",
    flags: str = "",
    warning: str = "",
    size: float = SIZE_BODY,
    soft: bool = False,
    compact: bool = False,
    below_bar: float = 0.0,
) -> RowPlace:
    """Write a row's words and find the place of its beam.

    Parameters
    ----------
    canvas, frame : Canvas, Frame
    y : float
        Top of the row, pixels.
    heading : str
        What the row is about; set bold.
    numbers : str
        The estimate and interval in words.
    small, printed, flags : str
        Quiet words below the heading, quiet words below the numbers, and flags.
    warning : str
        Other words as grave as the gravest flags.
    size : float
        Of the heading, pixels; above the body size the numbers are bold too.
    soft : bool
        Pale, for what is shown but not counted.
    compact : bool
        Try to set `small` beside the heading, for long lists.
    below_bar : float
        Pixels kept free below the beam for words about it.
    """
    colour = INK_SOFT if soft else INK
    strong = size > SIZE_BODY
    room = frame.label_width
    quiet = {"size": SIZE_SMALL, "color": INK_SOFT}
    heading_width = text_width(heading, size, bold=True)
    below = canvas.paragraph(0, y, heading, width=room, size=size, color=colour, bold=True)
    top = y + size - SIZE_BODY
    if frame.narrow:
        beside = heading_width + text_width(numbers, SIZE_BODY, bold=strong) + 10 < room
        end = canvas.paragraph(
            room if beside else 0, top if beside else below, numbers,
            width=room, color=colour, bold=strong, align="right" if beside else "left",
        )  # fmt: skip
        below = max(below, end)
        small = " · ".join(filter(None, (small, printed)))
        right_end = below
    else:
        room_right = frame.width - frame.numbers
        right_end = canvas.paragraph(
            frame.numbers, top, numbers, width=room_right, color=colour, bold=strong
        )
        if printed:
            right_end = canvas.paragraph(
                frame.numbers, right_end, printed, width=room_right, **quiet
            )
    if small:
        aside = compact and heading_width + text_width(small, SIZE_SMALL) + 12 < room
        if aside:
            canvas.paragraph(room, y + 1, small, width=room, align="right", **quiet)
        else:
            below = canvas.paragraph(0, below, small, width=room, **quiet)
    if flags or warning:
        below = write_flags(canvas, 0, below + 1, flags, width=room, warning=warning)
    below = max(below, right_end)
    if frame.narrow:
        track = (below + 3, below + 3 + _TRACK + below_bar)
        return RowPlace(track[0] + _TRACK / 2, track[1] + 11, track)
    gap = 10 if not compact else 8 if below - y > 1.5 * size else 4
    middle = y + size * 0.7
    return RowPlace(middle, max(below + gap, middle + below_bar + (8 if below_bar else 0)), None)
