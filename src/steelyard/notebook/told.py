"""An answer to one question of a coach: a sentence, then a picture, then a table."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.notebook.drawn import Drawn
from steelyard.notebook.stack import Sentence


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What one cell shows, in the order in which a coach would want it.

    Attributes
    ----------
    sentence : str
        From code; empty where the parts say it themselves.
    pictures : tuple of Drawn or Plot
    tables : tuple
        For who wants the numbers; each with a text form and an HTML form.
    """

    sentence: str
    pictures: tuple = ()
    tables: tuple = ()

    def __repr__(self) -> str:
        parts = [self.sentence, *map(str, self.pictures), *map(str, self.tables)]
        return "\n\n".join(part for part in parts if part)

    def _ipython_display_(self) -> None:
        from IPython.display import display

        if self.sentence:
            display(Sentence(self.sentence))
        for part in (*self.pictures, *self.tables):
            display(part)


def nothing(why: str) -> Told:
    """Where there is nothing to tell, and why."""
    return Told(f"{why[:1].upper()}{why[1:].rstrip('.')}.")


def drawn(data, plot: str) -> Drawn:
    """A picture of data by the chart of that name."""
    return Drawn(data, plot)
