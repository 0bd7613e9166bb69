"""The look of every chart: colours, type and the one theme.

Each colour differs from its neighbours in lightness, so that a grey print keeps every distinction;
where lightness could be doubted, a shape, an edge or a word says the same.
"""

from __future__ import annotations

from typing import Any

FONT = "Liberation Sans, Arial, Helvetica, sans-serif"

PAPER = "#ffffff"
INK = "#172b36"
INK_SOFT = "#4c5e69"
HAIRLINE = "#d5dce0"

BEAM_95 = "#7f96a5"
BEAM_80 = "#5c7a8c"
BEAM_50 = "#37546a"
DISC = "#142833"
NOT_COUNTED = "#6d7980"

BRASS = "#7d4e0c"
BRASS_BEAM = "#b98531"
BRASS_TINT = "#f4e3c1"
BRASS_PALE = "#fbf5e8"
BRASS_EDGE = "#b08a4a"

# How easily chance alone gives such a study: within 90, 95 and 99 % of no effect.
CHANCE = {90: "#b4c3cd", 95: "#d0dae0", 99: "#e9eef1"}

# From few to all of the ways that took an option; paper for none.
WAYS = ("#ffffff", "#d3dce2", "#a9bac6", "#7e97a7", "#557388", "#2c4a5f")

CONCERN = {"low": "#eef2f4", "some": "#a9bac6", "high": "#2c4a5f"}

ZONE_OPACITY = 0.16
WARNING = "#9c2f1b"

SIZE_TITLE = 18
SIZE_ANSWER = 14
SIZE_BODY = 13
SIZE_SMALL = 11.5

# Outlines in a unit square, y downwards.
PENNANT = "M-0.7,-1L-0.7,1L-0.45,1L-0.45,0.15L0.9,-0.42Z"
RUNS_ON_LEFT = "M0.5,-1L-0.6,0L0.5,1L0.5,0.45L0.05,0L0.5,-0.45Z"
RUNS_ON_RIGHT = "M-0.5,-1L0.6,0L-0.5,1L-0.5,0.45L-0.05,0L-0.5,-0.45Z"
POISE = (
    "M-0.22,-1.3L0.22,-1.3L0.22,-0.8C0.8,-0.7 1,-0.25 1,0.15"
    "C1,0.7 0.6,1 0,1C-0.6,1 -1,0.7 -1,0.15C-1,-0.25 -0.8,-0.7 -0.22,-0.8Z"
)
FULCRUM = "M0,-0.9L0.85,0.9L-0.85,0.9Z"

PADDING = 12


def configuration() -> dict[str, Any]:
    """Settings shared by all charts, as an Altair/Vega-Lite ``config``."""
    return {
        "aria": False,
        "background": PAPER,
        "font": FONT,
        "padding": PADDING,
        "view": {"stroke": None},
        "text": {"color": INK, "fontSize": SIZE_BODY},
        "title": {
            "anchor": "start",
            "frame": "group",
            "color": INK,
            "fontSize": SIZE_TITLE,
            "fontWeight": "bold",
            "lineHeight": SIZE_TITLE * 1.25,
            "subtitleColor": INK,
            "subtitleFontSize": SIZE_ANSWER,
            "subtitleLineHeight": SIZE_ANSWER * 1.35,
            "subtitlePadding": 6,
            "offset": 14,
        },
    }
