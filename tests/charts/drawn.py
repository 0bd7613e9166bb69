"""Reads a drawn picture back: its words, where they stand, and what sticks out or collides."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from xml.etree import ElementTree

from steelyard.charts.lettering import text_width

SVG = "{http://www.w3.org/2000/svg}"
_MOVED = re.compile(r"translate\(([-\d.]+),\s*([-\d.]+)\)")


@dataclass(frozen=True, slots=True)
class Word:
    """One drawn line of text and the box around it, pixels of the whole picture."""

    text: str
    left: float
    right: float
    top: float
    bottom: float
    x: float
    y: float


def lines(svg: str) -> list[Word]:
    """Every line of text, from either writer of pictures."""
    found: list[Word] = []
    _walk(ElementTree.fromstring(svg), 0.0, 0.0, {}, found)
    return found


def _walk(node, x: float, y: float, style: dict[str, str], found: list[Word]) -> None:
    style = style | {
        name: node.get(name)
        for name in ("font-size", "font-weight", "text-anchor")
        if node.get(name) is not None
    }
    for across, down in _MOVED.findall(node.get("transform", "")):
        x, y = x + float(across), y + float(down)
    if node.tag == f"{SVG}text":
        own_x, own_y = x + float(node.get("x", 0)), y + float(node.get("y", 0))
        pieces = [(node.text, 0.0)] if node.text else []
        down = 0.0
        for part in node:
            down += float(part.get("dy", 0))
            pieces.append((part.text, down))
        size = float(style.get("font-size", "13").removesuffix("px"))
        bold = style.get("font-weight") == "bold"
        for text, lower in pieces:
            # The table of widths is generous by design; a drawn line is a little shorter.
            width = text_width(text, size, bold=bold) / 1.05
            left = own_x - width * {"middle": 0.5, "end": 1.0}.get(style.get("text-anchor"), 0.0)
            base = own_y + lower
            found.append(
                Word(text, left, left + width, base - 0.72 * size, base + 0.12 * size, own_x, base)
            )
        return
    for child in node:
        if child.tag not in (f"{SVG}title", f"{SVG}desc"):
            _walk(child, x, y, style, found)


def words(svg: str) -> str:
    """All words drawn in a picture, line after line; the description does not count."""
    return re.sub(r"\s+", " ", " ".join(line.text for line in lines(svg)))


def size(svg: str) -> tuple[float, float]:
    root = ElementTree.fromstring(svg)
    return float(root.get("width")), float(root.get("height"))


def marks(svg: str) -> Counter:
    """How often each fill or edge colour is used, whatever the shape; text does not count."""
    found: Counter = Counter()

    def walk(node, paint):
        paint = paint | {n: node.get(n) for n in ("fill", "stroke") if node.get(n)}
        drawn = ("rect", "line", "circle", "path")
        if node.tag in {SVG + name for name in drawn} and not node.get("class"):
            edged = node.get("stroke-width") != "0"
            found[(paint.get("fill"), paint.get("stroke") if edged else None)] += 1
        for child in node:
            walk(child, paint)

    for child in ElementTree.fromstring(svg):
        walk(child, {})
    return found


@dataclass(frozen=True, slots=True)
class Disc:
    """The middle of a drawn circle, pixels of the whole picture."""

    x: float
    y: float


def circles(svg: str) -> list[Disc]:
    """Every circle, from the top down."""
    found = []

    def walk(node, x, y):
        for across, down in _MOVED.findall(node.get("transform", "")):
            x, y = x + float(across), y + float(down)
        if node.tag == f"{SVG}circle":
            found.append(Disc(x + float(node.get("cx")), y + float(node.get("cy"))))
        for child in node:
            walk(child, x, y)

    walk(ElementTree.fromstring(svg), 0.0, 0.0)
    return sorted(found, key=lambda disc: disc.y)


def boxes(svg: str, *, fill: str) -> list[tuple[float, float, float, float]]:
    """Left, right, top and bottom of every rectangle of a fill, pixels of the whole picture."""
    found = []

    def walk(node, x, y, paint):
        paint = node.get("fill") or paint
        for across, down in _MOVED.findall(node.get("transform", "")):
            x, y = x + float(across), y + float(down)
        if node.tag == f"{SVG}rect" and paint == fill:
            left, top = x + float(node.get("x", 0)), y + float(node.get("y", 0))
            found.append(
                (left, left + float(node.get("width")), top, top + float(node.get("height")))
            )
        for child in node:
            walk(child, x, y, paint)

    walk(ElementTree.fromstring(svg), 0.0, 0.0, None)
    return found


def cut_off(svg: str) -> list[str]:
    """Lines of text that reach beyond the picture."""
    width, height = size(svg)
    return [
        line.text
        for line in lines(svg)
        if line.left < 0 or line.right > width or line.top < 0 or line.bottom > height
    ]


def collisions(svg: str) -> list[tuple[str, str]]:
    """Pairs of lines that are written over each other."""
    found = []
    ordered = sorted(lines(svg), key=lambda line: line.top)
    for place, one in enumerate(ordered):
        for other in ordered[place + 1 :]:
            if other.top >= one.bottom:
                break
            if one.left < other.right and other.left < one.right:
                found.append((one.text, other.text))
    return found
