"""LaTeX's letters with accents, and those no keyboard has, as the letters themselves."""

from __future__ import annotations

import re
import unicodedata

_MARKS = {
    **{"`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308"},
    **{"=": "\u0304", ".": "\u0307", "u": "\u0306", "v": "\u030c", "H": "\u030b"},
    **{"c": "\u0327", "k": "\u0328", "d": "\u0323", "b": "\u0331", "r": "\u030a"},
}
_LETTERS = {
    **{"ss": "ß", "o": "ø", "O": "Ø", "l": "ł", "L": "Ł", "ae": "æ", "AE": "Æ", "oe": "œ"},
    **{"OE": "Œ", "aa": "å", "AA": "Å", "dh": "ð", "DH": "Ð", "th": "þ", "TH": "Þ", "dj": "đ"},
    **{"DJ": "Đ"},
}
_DOTLESS = {"i": "ı", "j": "ȷ"}


def _command(names) -> str:
    found = "|".join(sorted(names, key=len, reverse=True))
    return rf"\\({found})(?:\{{\}}|(?![A-Za-z])\s?)"


def _alone_or_in_braces(pattern: str) -> re.Pattern[str]:
    # Braces around one letter go with it; all others hold names together and stay.
    return re.compile(rf"(?P<brace>\{{\s?)?{pattern}(?(brace)\s?\}})")


_NAMED = _alone_or_in_braces(_command(_LETTERS))
_LEFT = _alone_or_in_braces(_command(_DOTLESS))
_BASE = r"\\[ij](?![A-Za-z])|[^\W\d_]"
_ACCENTED = _alone_or_in_braces(
    rf"\\([`'^~\"=.]|[uvHckdbr](?![A-Za-z]))\s?(?:\{{\s?({_BASE})\s?\}}|({_BASE}))"
)


def with_letters(text: str) -> str:
    r"""A text with ``\~n``, ``\v{S}``, ``{\"u}``, ``\'{\i}`` or ``\ss`` as ñ, Š, ü, í and ß."""
    text = _NAMED.sub(lambda match: _LETTERS[match[2]], text)
    text = _ACCENTED.sub(_accented, text)
    return _LEFT.sub(lambda match: _DOTLESS[match[2]], text)


def _accented(match: re.Match[str]) -> str:
    base = (match[3] or match[4]).removeprefix("\\")
    return unicodedata.normalize("NFC", base + _MARKS[match[2]])
