"""Several shown things, one below the other."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from steelyard.show import Shown, Table


@dataclass(frozen=True, slots=True)
class Sentence:
    """Plain text among tables, a paragraph a line."""

    text: str

    def __str__(self) -> str:
        return self.text

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(self.text)

    def _repr_html_(self) -> str:
        return "".join(f"<p>{escape(line)}</p>" for line in self.text.split("\n"))


class NothingYet(Sentence):
    """Said where a library has nothing to make a page of; every question about it says the same."""

    def __getattr__(self, name: str):
        if name.startswith("_"):
            raise AttributeError(name)
        return lambda *words, **named: self


@dataclass(frozen=True, slots=True)
class Folded:
    """A table that a notebook shows folded, so that what follows it comes soon.

    Attributes
    ----------
    summary : str
        The line that unfolds it; it stands above the table in a terminal too.
    table : Table or Shown or Stack
    """

    summary: str
    table: Table | Shown | Stack

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        return self.table.rows

    def __str__(self) -> str:
        return f"{self.summary}\n{self.table}"

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        return (
            f'<details class="folded"><summary>{escape(self.summary)}</summary>'
            f"{self.table._repr_html_()}</details>"
        )


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
