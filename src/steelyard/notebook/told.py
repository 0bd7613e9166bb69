"""An answer to one question of a coach: a sentence, then a picture, then a table."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.notebook.stack import Sentence


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What one cell shows, in the order in which a coach would want it.

    Attributes
    ----------
    sentence : str
        From code, one thought a line; empty where the parts say it themselves.
    pictures : tuple of Drawn or Plot
    tables : tuple
        For who wants the numbers; each with a text form and an HTML form.
    about : str
        The question it answers, where a page holds several.
    """

    sentence: str
    pictures: tuple = ()
    tables: tuple = ()
    about: str = ""

    def __repr__(self) -> str:
        parts = [self.about, self.sentence, *map(str, self.pictures), *map(str, self.tables)]
        return "\n\n".join(part for part in parts if part)

    def _ipython_display_(self) -> None:
        from IPython.display import display

        for words in filter(None, (self.about, self.sentence)):
            display(Sentence(words))
        for part in (*self.pictures, *self.tables):
            display(part)


@dataclass(frozen=True, slots=True, eq=False)
class Several:
    """The same question of a coach, answered for each question of a page."""

    parts: tuple[Told, ...]

    def __repr__(self) -> str:
        return "\n\n".join(map(repr, self.parts))

    def _ipython_display_(self) -> None:
        for part in self.parts:
            part._ipython_display_()


def nothing(why: str) -> Told:
    """Where there is nothing to tell, and why."""
    return Told(f"{why[:1].upper()}{why[1:].rstrip('.')}.")


def lines(*thoughts: str) -> str:
    """Thoughts as one text, a line each; empty ones are left out."""
    return "\n".join(filter(None, thoughts))
