"""The message catalogue: one TOML file per language, read once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

import tomli

from steelyard.errors import UsageError
from steelyard.records.reading import suggestion
from steelyard.show import number

SOURCE = Path(__file__).parent
_SPACES = re.compile(r" {2,}")
_BEFORE_STOP = re.compile(r" +([.,;:])")


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Every message of one language.

    Attributes
    ----------
    tag : str
        Language tag, such as ``de``.
    messages : mapping of str to str
        Key with its table, such as ``paragraph.average``, to a text with names in braces.
    avoid : tuple of str
        Regular expressions that no text for clients may match.
    terms : mapping of str to str
        Ids of a library (constructs, sites, tags) to words of this language.
    decimal_mark : str
    """

    tag: str
    messages: Mapping[str, str]
    avoid: tuple[str, ...]
    decimal_mark: str
    terms: Mapping[str, str] = field(default_factory=dict)

    def say(self, key: str, **values: object) -> str:
        """A message with its names filled in; empty parts leave no double space."""
        text = self.messages[key].format_map(values)
        return _BEFORE_STOP.sub(r"\1", _SPACES.sub(" ", text)).strip()

    def number(self, value: float, *, decimals: int) -> str:
        """A number in this language's way of writing."""
        return number(value, decimals=decimals).replace(".", self.decimal_mark)

    def listed(self, key: str) -> tuple[str, ...]:
        """The words of a message that holds a list, parted by commas."""
        return tuple(word.strip() for word in self.messages[key].split(","))

    def term(self, identifier: str, label: str) -> str:
        """Words for an id of the library, else the library's own label."""
        return self.terms.get(identifier, label)


def language_name(tag: str, words: Catalogue) -> str:
    """What a language is called in the words of a catalogue; its tag where that is not known."""
    return words.messages.get(f"language_name.{tag}", tag)


def languages() -> tuple[str, ...]:
    """Tags of the languages there are."""
    return tuple(sorted(path.stem for path in SOURCE.glob("*.toml")))


def catalogue(tag: str = "en", *, terms: Mapping[str, str] | None = None) -> Catalogue:
    """The catalogue of a language.

    Parameters
    ----------
    tag : str
    terms : mapping, optional
        A library's own words, which go before the catalogue's.

    Raises
    ------
    UsageError
        If there is none for the language; names those there are.
    """
    if tag not in languages():
        known = ", ".join(languages())
        raise UsageError(
            f"no language {tag!r}{suggestion(tag, set(languages()))}; there are {known}"
        )
    found = _read(tag)
    if not terms:
        return found
    both = MappingProxyType({**found.terms, **terms})
    return Catalogue(found.tag, found.messages, found.avoid, found.decimal_mark, both)


@lru_cache(maxsize=8)
def _read(tag: str) -> Catalogue:
    data = tomli.loads((SOURCE / f"{tag}.toml").read_text(encoding="utf-8"))
    avoid, terms = tuple(data.pop("avoid")["words"]), data.pop("terms")
    return Catalogue(
        data["tag"],
        MappingProxyType(dict(_flat(data))),
        avoid,
        data["decimal_mark"],
        MappingProxyType(terms),
    )


def _flat(table: Mapping, before: str = ""):
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{before}{key}.")
        else:
            yield f"{before}{key}", value
