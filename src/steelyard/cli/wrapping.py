"""Long lines in a terminal: broken at its edge, each going on below where its text began."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap

import click

NARROWEST = 40
_NAME = re.compile(r"(?:  )*(?:\S+(?: \S+)*)?  +")


def echo_wrapped(text: str) -> None:
    """Print text, fitted to the terminal; as it is where it goes to a file or another program."""
    if sys.stdout.isatty():
        text = wrapped(text, width=shutil.get_terminal_size().columns)
    click.echo(text)


def wrapped(text: str, *, width: int) -> str:
    """Text with no line longer than `width`, as far as its words allow.

    Parameters
    ----------
    text : str
        Lines that may begin with a name, two spaces or more, and what it says: these go on
        below what it says.
    width : int
        Columns; taken as 40 where it is less.

    Returns
    -------
    str
    """
    return "\n".join(_fitted(line, max(width, NARROWEST)) for line in text.split("\n"))


def _fitted(line: str, width: int) -> str:
    if len(line) <= width:
        return line
    named = _NAME.match(line)
    hang = named.end() if named and named.end() < width / 2 else 2
    return textwrap.fill(
        line[hang:] if named and hang == named.end() else line.strip(),
        width,
        initial_indent=line[:hang] if named and hang == named.end() else "",
        subsequent_indent=" " * hang,
        break_long_words=False,
        break_on_hyphens=False,
    )
