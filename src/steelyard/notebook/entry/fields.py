"""Reading single fields: text to the values of a record, with a message where it cannot be."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import Any

from steelyard.notebook.entry.problem import Problem
from steelyard.records.cells import CellError, DecimalMarks, is_blank, parse_number
from steelyard.records.printed import brief
from steelyard.records.references import plain_doi
from steelyard.records.slugs import slug
from steelyard.records.tables.facts import NotUnderstood, people, tag_words

LONGEST_TEXT = 5_000
_YES_NO = {"yes": True, "no": False}


class FieldReader:
    """Reads fields one by one and collects what is wrong with them."""

    def __init__(self, marks: DecimalMarks) -> None:
        self.marks = marks
        self.problems: list[Problem] = []

    def tell(self, field: str, message: str, kind: str = "bad") -> None:
        """Note what is wrong with a field."""
        self.problems.append(Problem(field, message, kind))

    def words(self, field: str, text: str) -> str | None:
        """Text as it stands, on one line; None where blank."""
        text = " ".join(text.split())
        if len(text) > LONGEST_TEXT:
            self.tell(field, f"expected at most {LONGEST_TEXT:,} characters, found {len(text):,}")
            return None
        if any(0xD800 <= ord(character) < 0xE000 for character in text):
            self.tell(field, "expected text, found half a character: type it again")
            return None
        return text or None

    def number(self, field: str, text: str) -> Decimal | None:
        """One number; None where blank, a dash or ``nr``."""
        return self._read(field, text, self._number)

    def whole(self, field: str, text: str) -> int | None:
        """One whole number."""
        value = self.number(field, text)
        if value is None:
            return None
        if value != value.to_integral_value() or abs(value) > 10**9:
            self.tell(field, f"expected a whole number, found {brief(text.strip())}")
            return None
        return int(value)

    def pair(self, field: str, text: str) -> list[Decimal] | None:
        """Two numbers such as ``6 to 8``; one number stands for both."""
        return self._read(field, text, self._pair)

    def yes_no(self, field: str, text: str) -> bool | None:
        return _YES_NO.get(text.strip().casefold())

    def authors(self, field: str, text: str) -> list[dict[str, str]] | None:
        """``Oxmere, P.; Fell, R.`` as a list of people."""
        plain = self.words(field, text)
        if plain is None:
            return None
        try:
            return [dict(person) for person in people(plain)] or None
        except NotUnderstood as error:
            self.tell(field, f"{error}, found {brief(plain)}")
            return None

    def doi(self, field: str, text: str) -> str | None:
        """A DOI, with or without the address before it."""
        plain = self.words(field, text)
        if plain is None:
            return None
        found = plain_doi(plain)
        if not found:
            self.tell(field, f"expected a DOI such as 10.5555/12345678, found {brief(plain)}")
        return found or None

    def tags(self, field: str, text: str, known: dict[str, str]) -> list[str] | None:
        """Tags by id or label, parted by commas; `known` has labels by id."""
        by_label = {slug(label, kind="tag"): word for word, label in known.items()}
        found = []
        for word in tag_words(text)[:50]:
            name = slug(word, kind="tag")
            name = by_label.get(name, name)
            if known and name not in known:
                self.tell(field, unknown_word("tag", name, known))
                continue
            found.append(name)
        return list(dict.fromkeys(found)) or None

    def _read(self, field: str, text: str, read: Callable[[str], Any]) -> Any:
        if is_blank(text):
            return None
        try:
            if len(text) > 200:
                raise CellError(f"expected a number, found {len(text):,} characters")
            return read(text)
        except CellError as error:
            found = "" if "found" in str(error) else f", found {brief(text.strip())}"
            self.tell(field, f"{error}{found}")
            return None

    def _number(self, text: str) -> Decimal:
        value = parse_number(text, marks=self.marks)
        if value is None or value.spread is not None:
            raise CellError("expected one number")
        return value.value

    def _pair(self, text: str) -> list[Decimal]:
        for mark in (" to ", "–", "—", ";", "-"):
            low, found, high = text.strip().partition(mark)
            if found and low.strip() and high.strip():
                return [self._number(low), self._number(high)]
        value = self._number(text)
        return [value, value]


def unknown_word(kind: str, word: str, known: Iterable[str]) -> str:
    """Message for a word the vocabulary lacks, with the nearest it has."""
    near = difflib.get_close_matches(word, sorted(known), n=1, cutoff=0.6)
    nearest = f" Nearest: {near[0]}." if near else ""
    return f"The vocabulary has no {kind} {brief(word)}.{nearest} Add it under “A new word”."
