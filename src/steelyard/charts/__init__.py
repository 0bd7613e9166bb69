"""Charts: data in display units in, a chart out, and the ways to show or keep one."""

from .export import live, show_chart, to_png, to_svg
from .forest import forest_picture, forest_plot, forest_svg
from .page import Section, to_page
from .picture import Picture
from .reading import reading_chart, reading_picture

__all__ = [
    "Picture",
    "Section",
    "forest_picture",
    "forest_plot",
    "forest_svg",
    "live",
    "reading_chart",
    "reading_picture",
    "show_chart",
    "to_page",
    "to_png",
    "to_svg",
]
