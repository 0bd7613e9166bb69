"""A drawing as an Altair chart, which answers when pointed at in a running notebook."""

from __future__ import annotations

import altair as alt

from .canvas import Canvas, Layer, Sheet
from .look import configuration


def altair_chart(sheet: Sheet) -> alt.LayerChart:
    """All layers of a drawing as one Altair chart."""
    canvas = sheet.canvas
    scale = None if canvas.span is None else _scale(canvas)
    heading = canvas.heading(sheet.title, sheet.subtitle)
    return (
        alt.layer(*(_layer(layer, scale if layer.at_value else None) for layer in canvas.layers()))
        .resolve_scale(x="independent", y="independent")
        .properties(
            width=canvas.width,
            height=round(sheet.height),
            description=sheet.description,
            title=alt.TitleParams(list(heading.title_lines), subtitle=list(heading.subtitle_lines)),
            usermeta={"label": sheet.title},
        )
        .configure(**configuration())
    )


def _scale(canvas: Canvas) -> alt.Scale:
    return alt.Scale(
        type="log" if canvas.span.logarithmic else "linear",
        domain=[canvas.span.low, canvas.span.high],
        range=[canvas.left, canvas.right],
        nice=False,
        zero=False,
    )


def _layer(layer: Layer, across: alt.Scale | None) -> alt.Chart:
    data = alt.Chart(alt.Data(values=layer.shapes))
    settings = dict(layer.style)
    if dash := settings.pop("dash", ()):
        settings["strokeDash"] = list(dash)
    channels = {
        "x": alt.X("x:Q", scale=across, axis=None),
        "y": alt.Y("y:Q", scale=None, axis=None),
    }
    if layer.kind in ("rect", "level"):
        channels["x2"] = alt.X2("x2:Q")
    if layer.kind in ("rect", "upright"):
        channels["y2"] = alt.Y2("y2:Q")
    if any("tip" in shape for shape in layer.shapes):
        channels["tooltip"] = alt.Tooltip("tip:N", title=" ")
    if layer.kind == "rect":
        return data.mark_rect(**settings).encode(**channels)
    if layer.kind in ("level", "upright"):
        return data.mark_rule(**settings).encode(**channels)
    if layer.kind == "text":
        channels["text"] = alt.Text("text:N")
        return data.mark_text(baseline="alphabetic", **settings).encode(**channels)
    channels["size"] = alt.Size("area:Q", scale=None, legend=None)
    return data.mark_point(**settings).encode(**channels)
