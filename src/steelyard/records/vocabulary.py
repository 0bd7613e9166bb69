"""The words a library may use for constructs, sites and tags."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from steelyard.records.model import Identifier, Record, Words, YesNo


class Construct(Record):
    """A kind of outcome; a surrogate stands in for what people care about."""

    id: Identifier
    label: Words
    surrogate: YesNo = False
    surrogate_for: Identifier | None = None
    notes: str | None = None


class Site(Record):
    """A part of the body."""

    id: Identifier
    label: Words


class Tag(Record):
    """A word by which questions find arms."""

    id: Identifier
    label: Words
    notes: str | None = None


class Vocabulary(Record):
    """All words of a library."""

    schema_version: Literal[1] = Field(1, alias="schema")
    constructs: tuple[Construct, ...] = Field((), alias="construct")
    sites: tuple[Site, ...] = Field((), alias="site")
    tags: tuple[Tag, ...] = Field((), alias="tag")

    def words(self, kind: str) -> set[str]:
        """Ids of one kind: ``construct``, ``site`` or ``tag``."""
        return {word.id for word in getattr(self, kind + "s")}

    def label(self, kind: str, word_id: str) -> str:
        """What people call the word; the id itself when the vocabulary has none."""
        for word in getattr(self, kind + "s"):
            if word.id == word_id:
                return word.label
        return word_id.replace("-", " ")
