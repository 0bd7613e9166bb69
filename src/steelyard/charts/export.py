"""Charts as files and in notebooks: static pictures that need no script and no internet."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from .picture import Picture

if TYPE_CHECKING:
    import altair as alt

    Drawn = Picture | alt.TopLevelMixin


def to_svg(chart: Drawn) -> str:
    """Give a chart as a self-contained SVG image with a title and a description.

    Parameters
    ----------
    chart : Picture or altair chart
        From this package; other Altair charts work too and carry what description they have.

    Returns
    -------
    svg : str
        One ``<svg>`` element; screen readers are told the chart's title and description.
    """
    if isinstance(chart, Picture):
        return chart.svg
    import vl_convert

    specification = chart.to_dict()
    svg = vl_convert.vegalite_to_svg(specification, vl_version=_grammar())
    label = (specification.get("usermeta") or {}).get("label", "")
    return _describe(svg, label or "Chart", specification.get("description", ""))


def to_png(chart: Drawn, *, scale: float = 2.0) -> bytes:
    """Draw a chart as a PNG image; `scale` is the number of dots per pixel across."""
    import vl_convert

    if isinstance(chart, Picture):
        return vl_convert.svg_to_png(chart.svg, scale=scale)
    return vl_convert.vegalite_to_png(chart.to_dict(), vl_version=_grammar(), scale=scale)


def _grammar() -> str:
    import altair as alt

    return ".".join(alt.SCHEMA_VERSION.lstrip("v").split(".")[:2])


def _describe(svg: str, label: str, description: str) -> str:
    head, tail = svg.split(">", 1)
    words = f"<title>{escape(label)}</title>"
    if description:
        words += f"<desc>{escape(description)}</desc>"
    return f'{head} role="img" aria-label="{escape(label)}">{words}{tail}'


def show_chart(chart: Drawn) -> Picture:
    """Draw a chart so that a notebook shows it, also without internet and when only viewed."""
    return Picture(to_svg(chart))


def live(chart: alt.TopLevelMixin):
    """Give a chart as a widget that answers when pointed at; needs a running notebook.

    Returns
    -------
    altair.JupyterChart
        It brings its script along, so it works without internet.
    """
    import altair as alt

    alt.JupyterChart.enable_offline(True)
    return alt.JupyterChart(chart)
