"""How much of the weight rests on studies with concerns, domain by domain."""

from __future__ import annotations

from steelyard.pooling.pictures import ConcernData

from . import legend
from .canvas import Canvas, Sheet
from .frame import room_for
from .head import describe
from .lettering import text_width
from .look import CONCERN, INK, INK_SOFT, PAPER, SIZE_SMALL
from .picture import Picture
from .scenery import draw_banner, write_notes
from .vector import draw
from .wording import share_in_words

_LEVELS = (("low", "low concern"), ("some", "some concern"), ("high", "high concern"))
_HEIGHT = 22.0


def concern_plot(data: ConcernData, *, width: str = "page") -> Picture:
    """Draw one bar per domain, split by how much weight has low, some and high concern.

    Parameters
    ----------
    data : ConcernData
        Percent of the weight.
    width : str
        ``"page"`` or ``"phone"``.

    Returns
    -------
    Picture
        One hue, darker for more concern, with the share in words.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    whole = room_for(width)
    narrow = width == "phone"
    rows = data.domains.to_dict("records")
    canvas = Canvas(whole)
    y = draw_banner(canvas, 0.0, data.notes)
    left = 0.0 if narrow else 280.0
    canvas.words(
        left, y + 12, "share of the weight", fontSize=SIZE_SMALL, color=INK_SOFT, align="left"
    )
    y += 22
    for row in rows:
        below = canvas.paragraph(0, y + 2, row["domain"], width=whole if narrow else left - 16,
                                 bold=True)  # fmt: skip
        top = below + 3 if narrow else y
        unnamed = _bar(canvas, row, left, top)
        foot = top + _HEIGHT
        if unnamed:
            foot = canvas.paragraph(
                whole, foot + 1, ", ".join(unnamed), width=whole - left, size=SIZE_SMALL,
                color=INK_SOFT, align="right",
            )  # fmt: skip
        y = max(below, foot) + 8
    y = legend.draw_legend(
        canvas, y + 8,
        [legend.Entry(legend.patch(CONCERN[n], edge=INK), words) for n, words in _LEVELS],
    )  # fmt: skip
    y = write_notes(canvas, y + 8, data.notes)
    lines = [f"{row['domain']}: {_shares(row)}." for row in rows]
    return draw(Sheet(canvas, y, data.title, data.subtitle, describe(data, *lines)))


def _shares(row: dict) -> str:
    return ", ".join(f"{words} {share_in_words(row[name])}" for name, words in _LEVELS)


def _bar(canvas: Canvas, row: dict, left: float, top: float) -> list[str]:
    """Draw one bar; return the shares whose pieces are too narrow to be named within."""
    unnamed = []
    x, per_percent = left, (canvas.width - left) / 100
    for name, words in _LEVELS:
        wide = row[name] * per_percent
        if wide <= 0:
            continue
        canvas.box(
            x, x + wide, top, top + _HEIGHT, at_value=False, fill=CONCERN[name], stroke=INK,
            strokeWidth=1,
        )  # fmt: skip
        share = share_in_words(row[name]).replace(" ", "\u00a0")
        text = f"{words.split()[0]} {share}"
        if text_width(text, SIZE_SMALL, bold=True) + 8 <= wide:
            canvas.words(
                x + wide / 2, top + 15, text, align="center", fontSize=SIZE_SMALL,
                fontWeight="bold", color=PAPER if name == "high" else INK,
            )  # fmt: skip
        else:
            unnamed.append(text)
        x += wide
    return unnamed
