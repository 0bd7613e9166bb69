"""An effect on the upward scale: its words, its zone, no effect."""

from __future__ import annotations

from steelyard.pooling.pictures import EffectAxis

from .canvas import Canvas
from .look import INK, INK_SOFT, SIZE_SMALL, ZONE_OPACITY
from .panel import Panel


def write_sides(canvas: Canvas, y: float, axis: EffectAxis) -> float:
    """Say above the plot what the upward scale measures and what up and down mean."""
    y = canvas.paragraph(0, y, axis.title, width=canvas.width, size=SIZE_SMALL, color=INK_SOFT)
    for words in (f"up: {axis.right_words}", f"down: {axis.left_words}"):
        y = canvas.paragraph(0, y, words, width=canvas.width, size=SIZE_SMALL, bold=True)
    return y + 10


def draw_upright_ground(panel: Panel, axis: EffectAxis, *, words: bool = True) -> None:
    """Draw the zone too small to matter, the scale at the side and no effect, behind all else."""
    canvas = panel.canvas
    panel.side_scale(signed=axis.kind == "linear")
    if axis.zone is not None:
        low, high = (panel.y(panel.upward.clip(bound)) for bound in axis.zone)
        canvas.box(
            panel.left, panel.right, high, low, at_value=False, fill=INK, opacity=ZONE_OPACITY,
            depth=-2,
        )  # fmt: skip
        for y in (low, high):
            canvas.level(panel.left, panel.right, y, stroke=INK_SOFT, dash=(1, 3), depth=-1)
    if panel.upward.low <= axis.no_effect <= panel.upward.high:
        canvas.level(
            panel.left, panel.right, panel.y(axis.no_effect), stroke=INK, strokeWidth=1.25, depth=-1
        )
