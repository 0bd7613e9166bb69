"""A hundred people and how they would fare: own small figures, row by row."""

from __future__ import annotations

from steelyard.errors import UsageError
from steelyard.pooling.pictures import HundredData

from .canvas import Canvas, Sheet
from .frame import room_for
from .head import describe
from .look import BEAM_80, BRASS, INK, PAPER, SIZE_ANSWER
from .picture import Picture
from .scenery import draw_banner, write_notes
from .vector import draw

# Fill and edge differ in lightness and in pattern: full, hollow, crossed out.
_BETTER, _SAME, _WORSE = range(3)
_HEAD = 4.2


def hundred_plot(data: HundredData, *, width: str = "page") -> Picture:
    """Draw a hundred figures: who gains, who ends about the same, who ends worse.

    Parameters
    ----------
    data : HundredData
    width : str
        ``"page"`` or ``"phone"``.

    Returns
    -------
    Picture
        Full figures gain, hollow ones do not, hollow and struck through ones end worse. Of
        pairs, two figures stand side by side, and the one that gains more by enough is full.

    Raises
    ------
    UsageError
        If `width` is neither of the two, or the three groups are not a hundred people.
    """
    whole = room_for(width)
    narrow = width == "phone"
    groups = (
        (_BETTER, data.better, data.better_words),
        (_SAME, data.same, data.same_words),
        (_WORSE, data.worse, data.worse_words),
    )
    if sum(people for _, people, _ in groups) != 100 or min(p for _, p, _ in groups) < 0:
        raise UsageError(
            "better, same and worse are 100 people together, "
            f"not {data.better}, {data.same} and {data.worse}"
        )
    canvas = Canvas(whole)
    y = draw_banner(canvas, 0.0, data.notes) + 4
    per_row = 10 if narrow else 20
    across, down = (whole / 10, 34.0) if narrow else (whole / 20, 40.0)
    one, indent = (_pair, 46) if data.pairs else (_person, 30)
    place = 0
    for kind, people, _ in groups:
        for _ in range(people):
            row, column = divmod(place, per_row)
            one(canvas, (column + 0.5) * across, y + row * down, kind)
            place += 1
    y += down * (100 // per_row) + 6
    for kind, people, words in groups:
        if not people:
            continue
        one(canvas, 0.6 * indent - 6, y, kind)
        below = canvas.paragraph(
            indent, y + 2, data.of_100_words.format(count=people, words=words),
            width=whole - indent, size=SIZE_ANSWER, bold=True,
        )  # fmt: skip
        y = max(below, y + 30) + 6
    y = write_notes(canvas, y + 4, data.notes)
    lines = [
        f"{data.of_100_words.format(count=people, words=words)}." for _, people, words in groups
    ]
    return draw(Sheet(canvas, y, data.title, data.subtitle, describe(data, *lines)))


def _person(canvas: Canvas, x: float, top: float, kind: int) -> None:
    fill = BRASS if kind == _BETTER else PAPER
    edge = {_BETTER: BRASS, _SAME: BEAM_80, _WORSE: INK}[kind]
    _figure(canvas, x, top, fill=fill, edge=edge)
    if kind == _WORSE:
        canvas.line([(x - 9, top + 28), (x + 9, top + 1)], stroke=INK, strokeWidth=2.25)


def _pair(canvas: Canvas, x: float, top: float, kind: int) -> None:
    """Two people, the first with the change; nobody in a pair is crossed out for gaining less."""
    for side, ahead, colour in ((-1, _BETTER, BRASS), (1, _WORSE, INK)):
        full = kind == ahead
        fill, edge = (colour, colour) if full else (PAPER, BEAM_80)
        _figure(canvas, x + 7.5 * side, top, fill=fill, edge=edge)


def _figure(canvas: Canvas, x: float, top: float, *, fill: str, edge: str) -> None:
    """A head on a kettle-shaped body, 28 pixels high, its middle at `x`."""
    style = {"fill": fill, "stroke": edge, "strokeWidth": 1.5}
    canvas.mark(
        x, top + _HEAD + 1, at_value=False, area=(2 * _HEAD) ** 2, shape="circle", opacity=1,
        **style,
    )  # fmt: skip
    shoulder, foot, waist = top + 11, top + 28, top + 20
    outline = [
        (x - 4, shoulder), (x + 4, shoulder), (x + 7, waist - 4), (x + 5.5, waist),
        (x + 4.5, foot), (x - 4.5, foot), (x - 5.5, waist), (x - 7, waist - 4),
    ]  # fmt: skip
    canvas.line(outline, closed=True, strokeLinejoin="round", **style)
