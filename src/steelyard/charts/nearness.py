"""How much of the weight comes from people like those asked about, respect by respect."""

from __future__ import annotations

from steelyard.pooling.pictures import NearnessData

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

_HEIGHT = 22.0
_NEAR, _FAR = CONCERN["high"], CONCERN["low"]


def nearness_plot(data: NearnessData, *, width: str = "page") -> Picture:
    """Draw one bar per respect, filled as far as the weight matches.

    Parameters
    ----------
    data : NearnessData
        Percent of the weight.
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
    rows = data.respects.to_dict("records")
    canvas = Canvas(whole)
    y = draw_banner(canvas, 0.0, data.notes)
    left = 0.0 if narrow else 280.0
    canvas.words(
        left, y + 12, "share of the weight", fontSize=SIZE_SMALL, color=INK_SOFT, align="left"
    )
    y += 22
    for row in rows:
        room = whole if narrow else left - 16
        below = canvas.paragraph(0, y, row["respect"], width=room, bold=True)
        below = canvas.paragraph(
            0, below, f"asked about: {row['asked']}", width=room, size=SIZE_SMALL, color=INK_SOFT
        )
        top = below + 3 if narrow else y + 2
        _bar(canvas, row["near"], left, top)
        y = max(below, top + _HEIGHT) + 10
    y = legend.draw_legend(
        canvas, y + 6,
        [
            legend.Entry(legend.patch(_NEAR, edge=INK), "from studies like what is asked about"),
            legend.Entry(legend.patch(_FAR, edge=INK), "from others, or the paper does not say"),
        ],
    )  # fmt: skip
    y = write_notes(canvas, y + 8, data.notes)
    lines = [
        f"{row['respect']}, asked about {row['asked']}: {share_in_words(row['near'])}"
        for row in rows
    ]
    return draw(Sheet(canvas, y, data.title, data.subtitle, describe(data, *lines)))


def _bar(canvas: Canvas, near: float, left: float, top: float) -> None:
    end = left + near * (canvas.width - left) / 100
    text = share_in_words(near).replace(" ", "\u00a0")
    for start, stop, fill in ((left, end, _NEAR), (end, canvas.width, _FAR)):
        if stop > start:
            canvas.box(
                start, stop, top, top + _HEIGHT, at_value=False, fill=fill, stroke=INK,
                strokeWidth=1,
            )  # fmt: skip
    inside = text_width(text, SIZE_SMALL, bold=True) + 16 <= end - left
    canvas.words(
        left + 8 if inside else end + 8, top + 15, text, fontSize=SIZE_SMALL, fontWeight="bold",
        color=PAPER if inside else INK, align="left",
    )  # fmt: skip
