"""A drawing surface: shapes are collected by style and become the layers of one Altair chart.

Across, a shape stands either at a value of the plotted quantity or at a pixel; down, always at a
pixel, because rows differ in height. Layers keep the order in which their style was first used;
what lies behind may be drawn later, at a lower depth.
"""

from __future__ import annotations

from typing import Any

import altair as alt

from .lettering import wrap, wrap_evenly
from .look import INK, SIZE_BODY, SIZE_TITLE, configuration
from .look import SIZE_ANSWER as SIZE_SUBTITLE

LINE = 1.3


class Canvas:
    """Collects boxes, lines, marks and words; `chart()` turns them into an Altair chart.

    Parameters
    ----------
    width : float
        Pixels across, without the padding.
    scale : altair.Scale
        From values of the plotted quantity to pixels.
    """

    def __init__(self, width: float, scale: alt.Scale):
        self.width = width
        self._scale = scale
        self._layers: dict[tuple, list[dict[str, Any]]] = {}

    def _add(self, kind: str, at_value: bool, style: dict[str, Any], datum: dict[str, Any]) -> None:
        depth = style.pop("depth", 0)
        dash = style.pop("dash", ())
        key = (depth, kind, at_value, dash, *sorted(style.items()))
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

    def mark(self, x, y, *, area, at_value=True, tip="", **style) -> None:
        """A point mark whose area is given in square pixels."""
        datum = {"x": x, "y": y, "area": area}
        self._add("point", at_value, style, datum | ({"tip": tip} if tip else {}))

    def words(self, x, y, text: str, *, at_value=False, **style) -> None:
        """One line of text; `y` is its base line."""
        self._add("text", at_value, style, {"x": x, "y": y, "text": text})

    def paragraph(
        self, x, y, text: str, *, width, size=SIZE_BODY, color=INK, bold=False, align="left"
    ) -> float:
        """Text wrapped to a width, first line's top at `y`; returns the pixel below it."""
        breaking = wrap_evenly if bold else wrap
        for line in breaking(text, width, size=size, bold=bold):
            y += size * LINE
            self.words(
                x,
                y - size * 0.3,
                line,
                fontSize=size,
                color=color,
                fontWeight="bold" if bold else "normal",
                align=align,
            )
        return y

    def chart(self, *, height: float, title: str, subtitle: str, description: str):
        """All layers as one Altair chart of the given height in pixels."""
        ordered = sorted(self._layers.items(), key=lambda layer: layer[0][0])
        return (
            alt.layer(*(self._layer(key, values) for key, values in ordered))
            .resolve_scale(x="independent", y="independent")
            .properties(
                width=self.width,
                height=round(height),
                description=description,
                title=alt.TitleParams(
                    wrap_evenly(title, self.width, size=SIZE_TITLE, bold=True),
                    subtitle=wrap_evenly(subtitle, self.width, size=SIZE_SUBTITLE)
                    if subtitle
                    else [],
                ),
                usermeta={"label": title},
            )
            .configure(**configuration())
        )

    def _layer(self, key: tuple, values: list[dict[str, Any]]) -> alt.Chart:
        _, kind, at_value, dash, *style = key
        across = self._scale if at_value else None
        data = alt.Chart(alt.Data(values=values))
        settings = dict(style) | ({"strokeDash": list(dash)} if dash else {})
        channels: dict[str, Any] = {
            "x": alt.X("x:Q", scale=across, axis=None),
            "y": alt.Y("y:Q", scale=None, axis=None),
        }
        if kind in ("rect", "level"):
            channels["x2"] = alt.X2("x2:Q")
        if kind in ("rect", "upright"):
            channels["y2"] = alt.Y2("y2:Q")
        if any("tip" in value for value in values):
            channels["tooltip"] = alt.Tooltip("tip:N", title=" ")
        if kind == "rect":
            return data.mark_rect(**settings).encode(**channels)
        if kind in ("level", "upright"):
            return data.mark_rule(**settings).encode(**channels)
        if kind == "text":
            channels["text"] = alt.Text("text:N")
            return data.mark_text(baseline="alphabetic", **settings).encode(**channels)
        channels["size"] = alt.Size("area:Q", scale=None, legend=None)
        return data.mark_point(**settings).encode(**channels)
