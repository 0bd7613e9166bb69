"""Several shown things, one below the other."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape


@dataclass(frozen=True, slots=True)
class Sentence:
    """A line of plain text among tables."""

    text: str

    def __str__(self) -> str:
        return self.text

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(self.text)

    def _repr_html_(self) -> str:
        return f"<p>{escape(self.text)}</p>"


@dataclass(frozen=True, slots=True)
class Stack:
    """Parts that are shown together, in order.

    Attributes
    ----------
    parts : tuple
        Each with a text form and an HTML form.
    """

    parts: tuple

    def __str__(self) -> str:
        return "\n\n".join(str(part) for part in self.parts)

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        return "\n".join(part._repr_html_() for part in self.parts)
