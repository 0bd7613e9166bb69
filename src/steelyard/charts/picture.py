"""A drawn chart: SVG text that needs no script, no font file and no internet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawn chart that a notebook shows by itself, with or without a server behind it.

    Attributes
    ----------
    svg : str
        One ``<svg>`` element with a title and a description for screen readers.
    """

    svg: str

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        return {"image/svg+xml": self.svg}
