"""Charts: data in display units in, a chart out, and the ways to show or keep one."""

from .export import Picture, live, show_chart, to_png, to_svg
from .forest import forest_plot
from .page import Section, to_page
from .reading import reading_chart

__all__ = [
    "Picture",
    "Section",
    "forest_plot",
    "live",
    "reading_chart",
    "show_chart",
    "to_page",
    "to_png",
    "to_svg",
]
