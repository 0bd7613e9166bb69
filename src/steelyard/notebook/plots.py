"""Forest plots in a notebook: static pictures, with the answer in words for those without one."""

from __future__ import annotations

import os
from dataclasses import dataclass

from steelyard.explaining.page_mime import PHONE_PICTURE, PHONE_VARIABLE
from steelyard.notebook.answer import Answer
from steelyard.pooling.forest_data import forest_data


@dataclass(frozen=True, slots=True)
class Plot:
    """The forest plot of one answer.

    A picture for a phone goes along only where pages are being made, so that saved notebooks
    stay small.
    """

    answer: Answer

    def __repr__(self) -> str:
        if self.answer.weighing is None:
            return f"No plot: {self.answer.why_not}."
        data = forest_data(self.answer.weighing)
        return f"Forest plot. {data.title} {data.subtitle}"

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict[str, str]:
        if self.answer.weighing is None:
            return {}
        from steelyard.charts import forest_svg

        data = forest_data(self.answer.weighing)
        bundle = {"image/svg+xml": forest_svg(data)}
        if os.environ.get(PHONE_VARIABLE):
            bundle[PHONE_PICTURE] = forest_svg(data, width="phone")
        return bundle


@dataclass(frozen=True, slots=True)
class Plots:
    """One forest plot per question, one below the other."""

    plots: tuple[Plot, ...]

    def __repr__(self) -> str:
        return "\n".join(map(repr, self.plots))

    def _ipython_display_(self) -> None:
        from IPython.display import display

        for plot in self.plots:
            display(plot)
