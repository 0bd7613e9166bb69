"""A picture in a notebook: static, with its title and sentence for those without pictures."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from steelyard.explaining.page_mime import PHONE_PICTURE, PHONE_VARIABLE


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """One picture, or the reason why there is none.

    Attributes
    ----------
    data : object or None
        What it shows, with a ``title`` and a ``subtitle``; None where there is nothing to draw.
    plot : str
        Name of the drawing function among the charts.
    why_not : str
        Why there is nothing to draw.
    """

    data: Any
    plot: str
    why_not: str = ""

    def __repr__(self) -> str:
        if self.data is None:
            return f"No picture: {self.why_not}"
        return f"{self.data.title} {self.data.subtitle}"

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict[str, str]:
        if self.data is None:
            return {}
        from steelyard import charts

        draw: Callable = getattr(charts, self.plot)
        bundle = {"image/svg+xml": charts.to_svg(draw(self.data)), "text/plain": repr(self)}
        if os.environ.get(PHONE_VARIABLE):
            bundle[PHONE_PICTURE] = charts.to_svg(draw(self.data, width="phone"))
        return bundle


@dataclass(frozen=True, slots=True, eq=False)
class Gallery:
    """Several pictures, one below the other."""

    pictures: tuple[Drawn, ...]

    def __repr__(self) -> str:
        return "\n".join(map(repr, self.pictures))

    def _ipython_display_(self) -> None:
        from IPython.display import display

        for picture in self.pictures:
            display(picture)
