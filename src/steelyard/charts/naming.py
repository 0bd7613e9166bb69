"""Names beside points, each where it covers neither a point nor another name."""

from __future__ import annotations

from .canvas import Canvas
from .lettering import text_width
from .look import INK_SOFT, PAPER, SIZE_SMALL

_REACH = 3.0


class Naming:
    """Keeps the boxes that are taken; writes a name at the first free place around its point.

    Parameters
    ----------
    canvas : Canvas
    left, right, top, bottom : float
        Pixels within which names stand.
    """

    def __init__(self, canvas: Canvas, *, left: float, right: float, top: float, bottom: float):
        self._canvas = canvas
        self._edges = (left, right, top, bottom)
        self._taken: list[tuple[float, float, float, float]] = []

    def take(self, x: float, y: float, half: float) -> None:
        """Keep a square free of names."""
        self._taken.append((x - half, x + half, y - half, y + half))

    def write(self, x: float, y: float, text: str, *, half: float, color=INK_SOFT, bold=False):
        """Write a name close to its point; say whether there was room."""
        width, height = text_width(text, SIZE_SMALL, bold=bold), SIZE_SMALL
        for step in (1.0, 2.2, 3.4):
            gap = half + _REACH * step
            for left, middle in (
                (x + gap, y), (x - gap - width, y), (x - width / 2, y - gap - height / 2),
                (x - width / 2, y + gap + height / 2), (x + gap * 0.7, y - gap),
                (x + gap * 0.7, y + gap), (x - gap * 0.7 - width, y - gap),
                (x - gap * 0.7 - width, y + gap),
            ):  # fmt: skip
                box = (left, left + width, middle - height / 2, middle + height / 2)
                if self._free(box):
                    self._taken.append(box)
                    self._canvas.box(
                        left - 1, left + width + 1, box[2] - 1, box[3] + 1, at_value=False,
                        fill=PAPER, opacity=0.75,
                    )  # fmt: skip
                    self._canvas.words(
                        left, middle + SIZE_SMALL * 0.35, text, fontSize=SIZE_SMALL, color=color,
                        fontWeight="bold" if bold else "normal",
                    )  # fmt: skip
                    return True
        return False

    def _free(self, box: tuple[float, float, float, float]) -> bool:
        left, right, top, bottom = self._edges
        if box[0] < left or box[1] > right or box[2] < top or box[3] > bottom:
            return False
        return not any(
            box[0] < other[1] and other[0] < box[1] and box[2] < other[3] and other[2] < box[3]
            for other in self._taken
        )
