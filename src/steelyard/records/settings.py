"""A library's settings: who signs a handout, in which look and language, where clients lie."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from steelyard.records.model import Identifier, Record, Words
from steelyard.records.reading import read_record

SETTINGS_FILE = "settings.toml"
# In the home folder: outside any library, so that version control never sees a client.
CLIENTS_FOLDER = "~/steelyard-clients"
Colour = Annotated[str, StringConstraints(strict=True, pattern=r"^#[0-9a-fA-F]{6}$")]


class LetterheadWords(Record):
    """Who signs, in another language; what is not given stays as it is."""

    name: Words | None = None
    organisation: Words | None = None


class Letterhead(Record):
    """What stands on top of a handout; what is not given is left out."""

    name: Words | None = None
    organisation: Words | None = None
    contact: tuple[Words, ...] = ()
    colour: Colour = "#b08a4a"
    translations: dict[Identifier, LetterheadWords] = Field(default_factory=dict)

    def in_language(self, tag: str) -> Letterhead:
        """The same, with the words of a language as far as they are given."""
        given = self.translations.get(tag, LetterheadWords())
        words = {"name": given.name, "organisation": given.organisation}
        return self.model_copy(update={name: text for name, text in words.items() if text})


class Settings(Record):
    """All settings; every one may be left out."""

    schema_version: Literal[1] = Field(1, alias="schema")
    coach: Letterhead = Letterhead()
    language: Identifier = "en"
    records_language: Identifier = "en"
    citation_style: Identifier = "apa"
    paper: Literal["A4", "Letter"] = "A4"
    clients_folder: Words = CLIENTS_FOLDER
    terms: dict[Identifier, dict[Identifier, Words]] = Field(default_factory=dict)


def read_settings(folder: Path) -> Settings:
    """The settings of a library folder; the defaults where it has no file.

    Raises
    ------
    RecordError
        With every fault in the file.
    """
    path = Path(folder) / SETTINGS_FILE
    return read_record(path, Settings) if path.exists() else Settings()
