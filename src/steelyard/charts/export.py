"""Charts as files and in notebooks: static pictures that need no script and no internet."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Any

import altair as alt
import vl_convert

_GRAMMAR = ".".join(alt.SCHEMA_VERSION.lstrip("v").split(".")[:2])


def to_svg(chart: alt.TopLevelMixin) -> str:
    """Draw a chart as a self-contained SVG image with a title and a description.

    Parameters
    ----------
    chart : altair chart
        From this package; others work too and carry what description they have.

    Returns
    -------
    svg : str
        One ``<svg>`` element; screen readers are told the chart's title and description.
    """
    specification = chart.to_dict()
    svg = vl_convert.vegalite_to_svg(specification, vl_version=_GRAMMAR)
    label = (specification.get("usermeta") or {}).get("label", "")
    return _describe(svg, label or "Chart", specification.get("description", ""))


def to_png(chart: alt.TopLevelMixin, *, scale: float = 2.0) -> bytes:
    """Draw a chart as a PNG image; `scale` is the number of dots per pixel across."""
    return vl_convert.vegalite_to_png(chart.to_dict(), vl_version=_GRAMMAR, scale=scale)


def _describe(svg: str, label: str, description: str) -> str:
    head, tail = svg.split(">", 1)
    words = f"<title>{escape(label)}</title>"
    if description:
        words += f"<desc>{escape(description)}</desc>"
    return f'{head} role="img" aria-label="{escape(label)}">{words}{tail}'


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawn chart that a notebook shows by itself, with or without a server behind it."""

    svg: str

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        return {"image/svg+xml": self.svg}


def show_chart(chart: alt.TopLevelMixin) -> Picture:
    """Draw a chart so that a notebook shows it, also without internet and when only viewed."""
    return Picture(to_svg(chart))


def live(chart: alt.TopLevelMixin):
    """Give a chart as a widget that answers when pointed at; needs a running notebook.

    Returns
    -------
    altair.JupyterChart
        It brings its script along, so it works without internet.
    """
    alt.JupyterChart.enable_offline(True)
    return alt.JupyterChart(chart)
