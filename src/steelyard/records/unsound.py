"""What cannot be read in a record, and how rules pass it by.

A record that fails validation is still judged as far as it is sound (`sound_parts`). Where a value
is there but cannot be used, an `Unsound` stands for it. A rule that would need that value breaks
off, so that one mistake never gives a second message that is only its shadow.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from typing import Any, TypeVar

Item = TypeVar("Item")

# A word this near to what cannot be read as an id may be what was meant.
_ALIKE = 0.6


class Unjudged(Exception):
    """A rule needs a value that cannot be used."""


class Unsound:
    """Stands for a value that is there but cannot be used.

    It may be told from None, and nothing else may be asked of it.

    Attributes
    ----------
    raw : object
        What stands there; None where even that cannot be said.
    stray : bool
        Whether it is absent only because its key is misspelt or stands elsewhere.
    """

    __slots__ = ("raw", "stray")

    def __init__(self, raw: Any = None, *, stray: bool = False) -> None:
        self.raw, self.stray = raw, stray

    def _refuse(self, *_: Any) -> Any:
        raise Unjudged

    __eq__ = __ne__ = __lt__ = __le__ = __gt__ = __ge__ = _refuse
    __hash__ = __bool__ = __len__ = __iter__ = __contains__ = __getitem__ = _refuse
    __add__ = __radd__ = __sub__ = __rsub__ = __str__ = __format__ = __getattr__ = _refuse


def judged(found: Iterable[Item]) -> Iterator[Item]:
    """What a rule finds; nothing where it needs what cannot be used."""
    try:
        yield from found
    except Unjudged:
        return


def is_known(value: Any) -> bool:
    """Whether a value can be used."""
    return not isinstance(value, Unsound)


def numbered(parts: Any) -> Iterator[tuple[int, Any]]:
    """The parts of a list that can be looked at, each with its number from 1."""
    if is_known(parts):
        for index, part in enumerate(parts, 1):
            if is_known(part):
                yield index, part


def may_mean(raw: Any, word: str) -> bool:
    """Whether what cannot be read as an id may have been meant as this one."""
    if not isinstance(raw, str):
        return True
    plain = "-".join(raw.casefold().split())
    return not plain or difflib.SequenceMatcher(None, plain, word).ratio() >= _ALIKE
