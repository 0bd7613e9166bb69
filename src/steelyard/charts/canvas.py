"""A drawing surface: shapes are collected by style, then written as a picture or a live chart.

Across, a shape stands either at a value of the plotted quantity or at a pixel; down, always at a
pixel, because rows differ in height. Layers keep the order in which their style was first used;
what lies behind may be drawn later, at a lower depth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from .lettering import wrap, wrap_evenly
from .look import INK, SIZE_BODY, SIZE_TITLE
from .look import SIZE_ANSWER as SIZE_SUBTITLE
from .span import Span

LINE = 1.3


@dataclass(frozen=True, slots=True)
class Layer:
    """Shapes of one kind and style.

    Attributes
    ----------
    kind : str
        ``"rect"``, ``"upright"``, ``"level"``, ``"point"``, ``"line"`` or ``"text"``.
    at_value : bool
        Whether ``x`` and ``x2`` are values of the plotted quantity, not pixels.
    style : dict
        Colours, widths and type, by the names that Altair's marks use; ``dash`` is a tuple.
    shapes : list of dict
        ``x, x2, y, y2, area, text, points`` as the kind needs, and ``tip``.
    """

    kind: str
    at_value: bool
    style: dict[str, Any]
    shapes: list[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A finished drawing: the canvas, its height in pixels and the words around it."""

    canvas: Canvas
    height: float
    title: str
    subtitle: str
    description: str


@dataclass(frozen=True, slots=True)
class Heading:
    """The words around a drawing, title and subtitle broken into lines."""

    title_lines: tuple[str, ...]
    subtitle_lines: tuple[str, ...]


class Canvas:
    """Collects boxes, lines, marks and words.

    Parameters
    ----------
    width : float
        Pixels across, without the padding.
    span : Span, optional
        The visible part of the plotted quantity; without it everything stands at pixels.
    left, right : float
        Pixels of the span's two ends.
    """

    def __init__(
        self, width: float, span: Span | None = None, *, left: float = 0.0, right: float = 0.0
    ):
        self.width = width
        self.span = span
        self.left, self.right = left, right
        self.cuts: list[float] = []
        self._pinned = False
        self._layers: dict[tuple, list[dict[str, Any]]] = {}

    def across(self, value: float) -> float:
        """Pixel at which a value of the plotted quantity stands."""
        return self.span.position(value, self.left, self.right)

    def pin(self, span: Span) -> None:
        """Let values stand on another span from here on, turned to pixels at once.

        So that several scales can stand one below the other.
        """
        self.span, self._pinned = span, True

    def may_be_cut(self, y: float) -> None:
        """Say that nothing is written across this height, so that paper may break there."""
        self.cuts.append(y)

    def layers(self) -> list[Layer]:
        """All shapes, rearmost first."""
        ordered = sorted(self._layers.items(), key=lambda layer: layer[0][0])
        return [
            Layer(kind, at_value, dict(style), shapes)
            for (_, kind, at_value, *style), shapes in ordered
        ]

    def heading(self, title: str, subtitle: str) -> Heading:
        """Break the words above the drawing into lines that fit it."""
        lines = wrap_evenly(subtitle, self.width, size=SIZE_SUBTITLE) if subtitle else ()
        return Heading(
            tuple(wrap_evenly(title, self.width, size=SIZE_TITLE, bold=True)), tuple(lines)
        )

    def _add(self, kind: str, at_value: bool, style: dict[str, Any], datum: dict[str, Any]) -> None:
        if at_value and self._pinned:
            at_value = False
            datum |= {name: self.across(datum[name]) for name in ("x", "x2") if name in datum}
        depth = style.pop("depth", 0)
        if not style.get("dash", True):
            del style["dash"]
        key = (depth, kind, at_value, *sorted(style.items()))
        # A tenth of a pixel is enough, and keeps the file small; values stay exact.
        pixels = ("y", "y2") if at_value else ("x", "x2", "y", "y2")
        datum = {k: round(v, 1) if k in pixels else v for k, v in datum.items()}
        self._layers.setdefault(key, []).append(datum)

    def box(self, left, right, top, bottom, *, at_value=True, tip="", **style) -> None:
        """A rectangle; `style` takes Altair's mark settings, `depth` and `dash`."""
        datum = {"x": left, "x2": right, "y": top, "y2": bottom}
        self._add("rect", at_value, style, datum | ({"tip": tip} if tip else {}))

    def upright(self, x, top, bottom, *, at_value=True, **style) -> None:
        """A vertical line."""
        self._add("upright", at_value, style, {"x": x, "y": top, "y2": bottom})

    def level(self, left, right, y, *, at_value=False, **style) -> None:
        """A horizontal line."""
        self._add("level", at_value, style, {"x": left, "x2": right, "y": y})

    def line(self, points, *, closed=False, **style) -> None:
        """Straight pieces through pixels (x, y), closed to an area if asked; pictures only."""
        path = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in points) + ("Z" if closed else "")
        self._add("line", False, style, {"points": path})

    def strokes(self, pieces, **style) -> None:
        """Many separate straight pieces, each two pixels (x, y), as one shape; pictures only."""
        path = "".join(f"M{x1:.1f},{y1:.1f}L{x2:.1f},{y2:.1f}" for (x1, y1), (x2, y2) in pieces)
        if path:
            self._add("line", False, style, {"points": path})

    def mark(self, x, y, *, area, at_value=True, tip="", **style) -> None:
        """A point mark whose area is that of the square around it, in square pixels."""
        datum = {"x": x, "y": y, "area": area}
        self._add("point", at_value, style, datum | ({"tip": tip} if tip else {}))

    def words(self, x, y, text: str, *, at_value=False, **style) -> None:
        """One line of text, above all shapes; `y` is its base line."""
        style.setdefault("depth", 1)
        self._add("text", at_value, style, {"x": x, "y": y, "text": text})

    def paragraph(
        self, x, y, text: str, *, width, size=SIZE_BODY, color=INK, bold=False, align="left"
    ) -> float:
        """Text wrapped to a width, first line's top at `y`; returns the pixel below it."""
        breaking = wrap_evenly if bold else wrap
        weight = "bold" if bold else "normal"
        for line in breaking(text, width, size=size, bold=bold):
            y += size * LINE
            self.words(
                x, y - size * 0.3, line, fontSize=size, color=color, fontWeight=weight, align=align
            )
        return y
