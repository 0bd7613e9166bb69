"""How one estimate is drawn: nested intervals as a beam, the estimate as a disc on it."""

from __future__ import annotations

from math import isfinite

from .canvas import Canvas
from .lettering import text_width
from .look import (
    BEAM_50,
    BEAM_80,
    BEAM_95,
    BRASS,
    BRASS_BEAM,
    DISC,
    INK_SOFT,
    NOT_COUNTED,
    PAPER,
    PENNANT,
    POISE,
    RUNS_ON_LEFT,
    RUNS_ON_RIGHT,
    SIZE_SMALL,
    WARNING,
)
from .span import Span
from .wording import flags_in_words, part_flags

_SHELLS = ((95, 3.0, BEAM_95), (80, 6.5, BEAM_80), (50, 11.0, BEAM_50))
RUNS_ON_AREA = 150.0


def draw_beam(
    canvas: Canvas, span: Span, row, y: float, *, counted: bool, heft: float = 1.0, tip: str = ""
) -> bool:
    """Draw the nested 95, 80 and 50 % intervals; say whether one runs on past the edge.

    Parameters
    ----------
    canvas : Canvas
    span : Span
        The visible part of the scale.
    row : mapping
        With ``low_50 … high_95``, display units; an interval with a NaN bound is left out.
    y : float
        Middle of the beam, pixels.
    counted : bool
        False for a study shown but not counted: pale, and the widest interval only.
    heft : float
        Multiplier of the thickness in (0, 1], so that a vague study does not look weighty.
    tip : str
        What a live chart says when pointed at.
    """
    for level, thickness, colour in _SHELLS:
        low, high = row[f"low_{level}"], row[f"high_{level}"]
        if not (isfinite(low) and isfinite(high)) or high < span.low or low > span.high:
            continue
        low, high = span.clip(low), span.clip(high)
        if not counted:
            canvas.level(
                low, high, y, at_value=True, stroke=NOT_COUNTED, strokeWidth=1.5, dash=(2, 2)
            )
            break
        half = heft * thickness / 2
        canvas.box(low, high, y - half, y + half, fill=colour, tip=tip)
    return mark_running_on(canvas, span, row["low_95"], row["high_95"], y, counted=counted)


def mark_running_on(
    canvas: Canvas, span: Span, low: float, high: float, y: float, *, counted: bool = True
) -> bool:
    """Mark the ends at which an interval goes on beyond what is shown; say whether there are."""
    colour = DISC if counted else NOT_COUNTED
    if low < span.low:
        canvas.mark(
            span.low, y, area=RUNS_ON_AREA, shape=RUNS_ON_LEFT, xOffset=-6,
            fill=colour, strokeWidth=0, opacity=1,
        )  # fmt: skip
    if high > span.high:
        canvas.mark(
            span.high, y, area=RUNS_ON_AREA, shape=RUNS_ON_RIGHT, xOffset=6,
            fill=colour, strokeWidth=0, opacity=1,
        )  # fmt: skip
    return low < span.low or high > span.high


_FURTHER = ("lies further left", "lies further right")
_CLEAR = 12.0
BELOW_BAR = 16.0


def draw_disc(
    canvas: Canvas, span: Span, row, y: float, *, area: float, counted: bool, tip=""
) -> None:
    """Draw the estimate; if it lies beyond what is shown, say on which side."""
    estimate = row["estimate"]
    if not isfinite(estimate):
        return
    if not span.low <= estimate <= span.high:
        say_where(canvas, span, row, y)
        return
    if counted:
        style = {"fill": DISC, "stroke": PAPER, "strokeWidth": 1.5}
    else:
        style = {"fill": PAPER, "stroke": NOT_COUNTED, "strokeWidth": 1.6}
    canvas.mark(estimate, y, area=area, tip=tip, shape="circle", opacity=1, depth=0.5, **style)


def needs_room(canvas: Canvas, span: Span, row) -> bool:
    """Whether the words for an estimate beyond the edge only fit below the visible bar."""
    estimate, low, high = row["estimate"], row["low_95"], row["high_95"]
    if not isfinite(estimate) or span.low <= estimate <= span.high:
        return False
    if high < span.low or low > span.high or not (isfinite(low) and isfinite(high)):
        return False
    if estimate < span.low:
        free = canvas.right - canvas.across(span.clip(high))
    else:
        free = canvas.across(span.clip(low)) - canvas.left
    return free < max(text_width(words, SIZE_SMALL) for words in _FURTHER) + 2 * _CLEAR


def say_where(canvas: Canvas, span: Span, row, y: float) -> None:
    """Say on which side an estimate lies that is not shown, where no bar is."""
    left = row["estimate"] < span.low
    words = _FURTHER[0] if left else _FURTHER[1]
    width = text_width(words, SIZE_SMALL)
    baseline = y + SIZE_SMALL * 0.35
    shown = row["low_95"] <= span.high and row["high_95"] >= span.low
    if needs_room(canvas, span, row):
        baseline += BELOW_BAR - 1
        x = canvas.left + 4 if left else canvas.right - 4 - width
    elif shown and left:
        x = canvas.across(span.clip(row["high_95"])) + _CLEAR
    elif shown:
        x = canvas.across(span.clip(row["low_95"])) - _CLEAR - width
    else:
        x = canvas.left + _CLEAR if left else canvas.right - _CLEAR - width
    # The ground's lines would strike the words through.
    canvas.box(
        x - 3, x + width + 3, baseline - SIZE_SMALL, baseline + 4,
        at_value=False, fill=PAPER, opacity=0.85,
    )  # fmt: skip
    canvas.words(
        x, baseline, words, align="left", fontSize=SIZE_SMALL, color=INK_SOFT, fontStyle="italic"
    )


def draw_answer(
    canvas: Canvas, span: Span, low: float, estimate: float, high: float, y: float, *,
    thickness: float = 8.0, area: float = 270.0, settled: bool = True,
) -> None:  # fmt: skip
    """Draw an answer: a brass bar for its interval, the poise hanging below its middle.

    One that is not settled is drawn hollow, so that a wide bar does not look weighty.
    """
    poise = {"fill": BRASS, "stroke": PAPER} if settled else {"fill": PAPER, "stroke": BRASS}
    if isfinite(low) and isfinite(high):
        canvas.box(
            span.clip(low), span.clip(high), y - thickness / 2, y + thickness / 2,
            fill=BRASS_BEAM if settled else PAPER, stroke=BRASS, strokeWidth=1,
        )  # fmt: skip
    if span.low <= estimate <= span.high:
        canvas.mark(
            estimate, y + thickness / 2 + area**0.5 / 4, area=area, shape=POISE, strokeWidth=1.25,
            opacity=1, depth=0.5, **poise,
        )  # fmt: skip


def write_flags(
    canvas: Canvas, x: float, y: float, flags: str, *, width: float, warning: str = ""
) -> float:
    """Write a row's flags, grave ones in red and the rest quietly; returns the pixel below them.

    Parameters
    ----------
    canvas : Canvas
    x, y : float
        Left and top, pixels.
    flags : str
        Flags separated by ``"; "``.
    width : float
        Room, pixels.
    warning : str
        Other words as grave as the gravest flags; they come first.
    """
    parted = part_flags(flags)
    if grave := "; ".join(filter(None, (warning, parted.grave))):
        y = write_warning(canvas, x, y, grave, width=width)
    if parted.quiet:
        y = _write_remark(canvas, x, y, parted.quiet, width=width)
    return y


def write_named_flags(
    canvas: Canvas, x: float, y: float, name: str, *, flags: str, width: float
) -> float:
    """Write a study's name and flags where its row is not beside; returns the pixel below."""
    write = write_warning if part_flags(flags).grave else _write_remark
    return write(canvas, x, y, f"{name}: {flags_in_words(flags)}", width=width)


def write_warning(canvas: Canvas, x: float, y: float, words: str, *, width: float) -> float:
    """Write a warning in red behind a small pennant; returns the pixel below it."""
    canvas.mark(
        x + 4,
        y + SIZE_SMALL * 0.65,
        at_value=False,
        area=85,
        shape=PENNANT,
        fill=WARNING,
        strokeWidth=0,
        opacity=1,
    )
    return canvas.paragraph(
        x + 14, y, words, width=width - 14, size=SIZE_SMALL, color=WARNING, bold=True
    )


def _write_remark(canvas: Canvas, x: float, y: float, words: str, *, width: float) -> float:
    canvas.level(x, x + 8, y + SIZE_SMALL * 0.75, stroke=INK_SOFT, strokeWidth=1.25)
    return canvas.paragraph(x + 14, y, words, width=width - 14, size=SIZE_SMALL, color=INK_SOFT)
