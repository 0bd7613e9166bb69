"""A plot with a scale across and one upward: from values to pixels."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from .canvas import Canvas
from .look import HAIRLINE, INK_SOFT, SIZE_SMALL
from .span import Span, tick_text


@dataclass(frozen=True, slots=True)
class Panel:
    """A rectangle of a canvas with two scales.

    Attributes
    ----------
    canvas : Canvas
    across, upward : Span
        Visible parts of the two quantities.
    left, right, top, bottom : float
        Pixels; `upward.low` stands at `bottom`, unless `down` turns it over.
    down : bool
    """

    canvas: Canvas
    across: Span
    upward: Span
    left: float
    right: float
    top: float
    bottom: float
    down: bool = False

    def x(self, value: float) -> float:
        return self.across.position(value, self.left, self.right)

    def y(self, value: float) -> float:
        ends = (self.top, self.bottom) if self.down else (self.bottom, self.top)
        return self.upward.position(value, *ends)

    def inside(self, x: float, y: float) -> tuple[float, float]:
        """A pixel, or the nearest one within the panel."""
        return min(max(x, self.left), self.right), min(max(y, self.top), self.bottom)

    def path(self, values, heights) -> list[tuple[float, float]]:
        """Pixels of values and heights, wherever they lie."""
        return [(self.x(v), self.y(h)) for v, h in zip(values, heights, strict=True)]

    def area(self, corners: list[tuple[float, float]], **style) -> None:
        """Fill what lies within the panel of an area given by the pixels of its corners."""
        for along, edge, keep in (
            (0, self.left, 1), (0, self.right, -1), (1, self.top, 1), (1, self.bottom, -1),
        ):  # fmt: skip
            corners = _cut(corners, along, edge, keep)
        if corners:
            self.canvas.line(corners, closed=True, **style)

    def trace(self, values, heights, **style) -> None:
        """Draw a line through values, only where it lies within the panel."""
        points = self.path(values, heights)
        run: list[tuple[float, float]] = []
        for start, end in pairwise(points):
            piece = _within(start, end, self)
            if piece is None:
                continue
            if not run or run[-1] != piece[0]:
                if run:
                    self.canvas.line(run, **style)
                run = [piece[0]]
            run.append(piece[1])
        if run:
            self.canvas.line(run, **style)

    def hatch(self, left: float, right: float, *, gap: float = 7.0, **style) -> None:
        """Slanted strokes over the whole height between two pixels across."""
        height, pieces = self.bottom - self.top, []
        for start in np.arange(left - height, right, gap):
            # From (start, bottom) up to (start + height, top), cut to the strip.
            first, last = max(start, left), min(start + height, right)
            if last > first:
                pieces.append(
                    ((first, self.bottom - (first - start)), (last, self.bottom - (last - start)))
                )
        self.canvas.strokes(pieces, **style)

    def ribbon(self, values, lows, highs, **style) -> None:
        """Fill between two lines over the same values across."""
        self.area(self.path(values, lows) + self.path(values, highs)[::-1], **style)

    def side_scale(self, *, signed: bool, grid: bool = True) -> None:
        """Labels at the left edge, with a hairline across for each."""
        for tick in self.upward.ticks:
            y = self.y(tick)
            if grid:
                self.canvas.level(
                    self.left, self.right, y, stroke=HAIRLINE, strokeWidth=0.75, depth=-1
                )
            self.canvas.words(
                self.left - 7, y + 4, tick_text(tick, signed=signed), align="right",
                fontSize=SIZE_SMALL + 0.5, color=INK_SOFT,
            )  # fmt: skip

    def foot_scale(self, title: str, *, signed: bool) -> float:
        """A hairline with labels below, and the title of the scale; returns the pixel below."""
        canvas = self.canvas
        canvas.level(self.left, self.right, self.bottom, stroke=INK_SOFT, strokeWidth=1)
        for tick in self.across.ticks:
            x = self.x(tick)
            canvas.box(x - 0.5, x + 0.5, self.bottom, self.bottom + 5, at_value=False,
                       fill=INK_SOFT)  # fmt: skip
            canvas.words(
                x, self.bottom + 18, tick_text(tick, signed=signed), align="center",
                fontSize=SIZE_SMALL + 0.5, color=INK_SOFT,
            )  # fmt: skip
        return canvas.paragraph(
            (self.left + self.right) / 2, self.bottom + 22, title, width=self.right - self.left,
            size=SIZE_SMALL, color=INK_SOFT, align="center",
        )  # fmt: skip


def _cut(corners, along: int, edge: float, keep: int) -> list[tuple[float, float]]:
    """Corners of the part of an area on one side of a line: on the larger side if keep is 1."""
    kept = []
    for before, after in zip([*corners[-1:], *corners[:-1]], corners, strict=True):
        depths = [keep * (corner[along] - edge) for corner in (before, after)]
        if (depths[0] < 0) != (depths[1] < 0):
            share = depths[0] / (depths[0] - depths[1])
            kept.append(tuple(b + share * (a - b) for b, a in zip(before, after, strict=True)))
        if depths[1] >= 0:
            kept.append(after)
    return kept


def _within(start, end, panel: Panel):
    """The part of a straight piece that lies within the panel; None where there is none."""
    (x1, y1), (x2, y2) = start, end
    first, last = 0.0, 1.0
    for at, change, low, high in (
        (x1, x2 - x1, panel.left, panel.right),
        (y1, y2 - y1, panel.top, panel.bottom),
    ):
        if change == 0:
            if not low <= at <= high:
                return None
            continue
        enters, leaves = sorted(((low - at) / change, (high - at) / change))
        first, last = max(first, enters), min(last, leaves)
    if first >= last:
        return None
    point = [(x1 + s * (x2 - x1), y1 + s * (y2 - y1)) for s in (first, last)]
    if first == 0.0:
        point[0] = start
    if last == 1.0:
        point[1] = end
    return point
