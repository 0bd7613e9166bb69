"""How wide a text will be, and where to break it, before anything is drawn.

Charts are laid out without a browser, so widths come from a table of advance widths that the
Helvetica-metric fonts (Helvetica, Arial, Liberation Sans) share. A few percent are added, because
another sans serif may stand in on the reader's machine.
"""

from __future__ import annotations

import re
from functools import lru_cache

_SLACK = 1.05
_BOLD = 1.08
_WIDE_UNKNOWN = 0.7
_PERCENT = re.compile(r"(?<=\d) %")

# Advance widths in em, as remembered from the fonts' published metrics; rounded up.
_ADVANCE = {
    **dict.fromkeys("ijl'|", 0.23),
    **dict.fromkeys(" \u00a0.,:;!/\\I[]ft", 0.28),
    **dict.fromkeys('()-r`"·', 0.34),
    **dict.fromkeys("ckJsvxyz*", 0.5),
    **dict.fromkeys("0123456789abdeghnopqu?$#_FLTZ–", 0.6),
    **dict.fromkeys("+<>=~^−±×", 0.59),
    **dict.fromkeys("ABEKPSVXY&", 0.68),
    **dict.fromkeys("CDHNRUw", 0.73),
    **dict.fromkeys("GOQ", 0.78),
    **dict.fromkeys("mM", 0.84),
    **dict.fromkeys("W%", 0.95),
    **dict.fromkeys("@—…", 1.02),
}


@lru_cache(maxsize=16384)
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of a line of text in pixels, a little generous.

    Parameters
    ----------
    text : str
        One line.
    size : float
        Font size, in pixels.
    bold : bool
        Whether the line is set bold.

    Returns
    -------
    width : float
        Pixels.
    """
    em = sum(_ADVANCE.get(letter, _WIDE_UNKNOWN) for letter in text)
    return em * size * _SLACK * (_BOLD if bold else 1.0)


def wrap(text: str, width: float, *, size: float, bold: bool = False) -> list[str]:
    """Break a text into lines that fit a width; nothing is ever dropped.

    Parameters
    ----------
    text : str
        Any text; runs of spaces count as one; a no-break space is kept whole,
        and a number stays with its percent sign.
    width : float
        Room for a line, in pixels.
    size : float
        Font size, in pixels.
    bold : bool
        Whether the text is set bold.

    Returns
    -------
    lines : list of str
        At least one line; a word wider than the room is split.
    """
    lines: list[str] = []
    line = ""
    for word in _PERCENT.sub("\u00a0%", text.replace("\n", " ")).split(" "):
        if not word:
            continue
        trial = f"{line} {word}" if line else word
        if text_width(trial, size, bold=bold) <= width:
            line = trial
            continue
        if line:
            lines.append(line)
        pieces = _split(word, width, size=size, bold=bold)
        lines.extend(pieces[:-1])
        line = pieces[-1]
    return [*lines, line] if line or not lines else lines


def wrap_evenly(text: str, width: float, *, size: float, bold: bool = False) -> list[str]:
    """Break as `wrap` does, in as many lines, but without a lone word in the last one."""
    lines = wrap(text, width, size=size, bold=bold)
    while len(lines) > 1:
        width *= 0.96
        narrower = wrap(text, width, size=size, bold=bold)
        # A word split to fit would be worse than an uneven line.
        if len(narrower) > len(lines) or " ".join(narrower) != " ".join(lines):
            break
        lines = narrower
    return lines


def _split(word: str, width: float, *, size: float, bold: bool) -> list[str]:
    pieces, piece = [], ""
    for letter in word:
        if piece and text_width(piece + letter, size, bold=bold) > width:
            pieces.append(piece)
            piece = ""
        piece += letter
    return [*pieces, piece]
