"""Charts: data in display units in, a chart out, and the ways to show or keep one."""

from .belief import belief_plot
from .bending import bending_plot
from .choices import choices_plot
from .concern import concern_plot
from .dose import dose_plot
from .export import live, show_chart, to_png, to_svg
from .forest import forest_picture, forest_plot, forest_svg
from .funnel import funnel_plot
from .gathering import gathering_plot
from .hills import hills_plot
from .history import history_plot
from .hundred import hundred_plot
from .nearness import nearness_plot
from .overview import overview_plot
from .page import Section, to_page
from .picture import Picture
from .plain_forest import plain_forest
from .priors import priors_plot
from .reading import reading_chart, reading_picture
from .strip import strip_on_paper, strip_plot
from .tested_dose import tested_dose_plot
from .turns import turns_plot

__all__ = [
    "Picture",
    "Section",
    "belief_plot",
    "bending_plot",
    "choices_plot",
    "concern_plot",
    "dose_plot",
    "forest_picture",
    "forest_plot",
    "forest_svg",
    "funnel_plot",
    "gathering_plot",
    "hills_plot",
    "history_plot",
    "hundred_plot",
    "live",
    "nearness_plot",
    "overview_plot",
    "plain_forest",
    "priors_plot",
    "reading_chart",
    "reading_picture",
    "show_chart",
    "strip_on_paper",
    "strip_plot",
    "tested_dose_plot",
    "to_page",
    "to_png",
    "to_svg",
    "turns_plot",
]
