"""A drawing as SVG text, written straight from its shapes: fast enough to redraw while typing."""

from __future__ import annotations

import re
from functools import lru_cache
from html import escape

from .canvas import Canvas, Layer, Sheet
from .look import FONT, INK, PADDING, PAPER, SIZE_ANSWER, SIZE_TITLE
from .picture import Picture

_TITLE_LINE = SIZE_TITLE * 1.25
_SUBTITLE_LINE = SIZE_ANSWER * 1.35
_BELOW_TITLE = 6.0
_BELOW_HEADING = 14.0
_NAMES = {
    "fill": "fill",
    "stroke": "stroke",
    "strokeWidth": "stroke-width",
    "opacity": "opacity",
    "fontSize": "font-size",
    "fontWeight": "font-weight",
    "fontStyle": "font-style",
    "color": "fill",
    "strokeLinejoin": "stroke-linejoin",
    "strokeLinecap": "stroke-linecap",
}
_ANCHORS = {"center": "middle", "right": "end"}
_NUMBER = re.compile(r"-?[\d.]+")


def draw(sheet: Sheet) -> Picture:
    """All layers of a drawing as one picture; every text is escaped, and there are no ids."""
    canvas = sheet.canvas
    heading = canvas.heading(sheet.title, sheet.subtitle)
    top = PADDING + len(heading.title_lines) * _TITLE_LINE + _BELOW_HEADING
    if heading.subtitle_lines:
        top += _BELOW_TITLE + len(heading.subtitle_lines) * _SUBTITLE_LINE
    width, height = canvas.width + 2 * PADDING, round(top + sheet.height + PADDING)
    label = escape(sheet.title)
    cuts = ",".join(f"{top + cut:.0f}" for cut in canvas.cuts)
    cuts = f' data-cuts="{cuts}"' if cuts else ""
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height}" '
        f'viewBox="0 0 {width:g} {height}" role="img" aria-label="{label}"{cuts}>'
        f"<title>{label}</title>",
        f"<desc>{escape(sheet.description)}</desc>" if sheet.description else "",
        f'<rect width="{width:g}" height="{height}" fill="{PAPER}"/>'
        f'<g font-family="{FONT}" fill="none" stroke-miterlimit="10">',
    ]
    y = float(PADDING)
    for lines, line, size, weight in (
        (heading.title_lines, _TITLE_LINE, SIZE_TITLE, ' font-weight="bold"'),
        (heading.subtitle_lines, _SUBTITLE_LINE, SIZE_ANSWER, ""),
    ):
        parts.append(f'<g fill="{INK}" font-size="{size:g}"{weight}>')
        for text in lines:
            y += line
            parts.append(f'<text x="{PADDING}" y="{y - line * 0.28:.1f}">{escape(text)}</text>')
        parts.append("</g>")
        y += _BELOW_TITLE
    parts.append(f'<g transform="translate({PADDING},{top:.1f})">')
    for layer in canvas.layers():
        parts.append(f"<g{_style(layer)}>")
        parts.extend(_shapes(canvas, layer))
        parts.append("</g>")
    parts.append("</g></g></svg>")
    return Picture("".join(parts))


def _style(layer: Layer) -> str:
    style = {_NAMES[name]: value for name, value in layer.style.items() if name in _NAMES}
    if dash := layer.style.get("dash"):
        style["stroke-dasharray"] = ",".join(f"{part:g}" for part in dash)
    if anchor := _ANCHORS.get(layer.style.get("align")):
        style["text-anchor"] = anchor
    if style.get("stroke-width") == 0:
        del style["stroke-width"]
        style.pop("stroke", None)
    return "".join(f' {name}="{value}"' for name, value in style.items())


def _shapes(canvas: Canvas, layer: Layer):
    across = canvas.across if layer.at_value else float
    aside = layer.style.get("xOffset", 0) + layer.style.get("dx", 0)
    outline = layer.style.get("shape")
    for shape in layer.shapes:
        if layer.kind == "line":
            yield f'<path d="{shape["points"]}"/>'
            continue
        x, y = across(shape["x"]) + aside, shape["y"]
        if layer.kind == "text":
            yield f'<text x="{x:.1f}" y="{y:g}">{escape(shape["text"], quote=False)}</text>'
        elif layer.kind == "rect":
            x2, y2 = across(shape["x2"]) + aside, shape["y2"]
            yield (
                f'<rect x="{min(x, x2):.1f}" y="{min(y, y2):g}" width="{abs(x2 - x):.1f}" '
                f'height="{abs(y2 - y):.1f}"/>'
            )
        elif layer.kind == "upright":
            yield f'<line x1="{x:.1f}" y1="{y:g}" x2="{x:.1f}" y2="{shape["y2"]:g}"/>'
        elif layer.kind == "level":
            x2 = across(shape["x2"]) + aside
            yield f'<line x1="{x:.1f}" y1="{y:g}" x2="{x2:.1f}" y2="{y:g}"/>'
        elif outline == "circle":
            yield f'<circle cx="{x:.1f}" cy="{y:g}" r="{shape["area"] ** 0.5 / 2:.2f}"/>'
        else:
            path = _scaled(outline, round(shape["area"] ** 0.5 / 2, 2))
            yield f'<path transform="translate({x:.1f},{y:g})" d="{path}"/>'


@lru_cache(maxsize=512)
def _scaled(outline: str, half: float) -> str:
    """An outline in the unit square, grown to `half` a side, so that its edge keeps its width."""
    return _NUMBER.sub(lambda found: f"{float(found[0]) * half:.2f}", outline)
