"""BibTeX entries to the names of CSL-JSON."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from typing import Any

import bibtexparser
from bibtexparser.middlewares.names import (
    InvalidNameError,
    NameParts,
    parse_single_name_into_parts,
    split_multiple_persons_names,
)
from bibtexparser.model import Entry
from pylatexenc.latex2text import LatexNodes2Text

from steelyard.records.latex_letters import with_letters

TYPES = {
    "article": "article-journal",
    "book": "book",
    "inbook": "chapter",
    "incollection": "chapter",
    "inproceedings": "paper-conference",
    "conference": "paper-conference",
    "phdthesis": "thesis",
    "mastersthesis": "thesis",
    "thesis": "thesis",
    "techreport": "report",
    "report": "report",
    "unpublished": "manuscript",
}
_FIELDS = {
    "title": ("title",),
    "container-title": ("journal", "journaltitle", "booktitle"),
    "volume": ("volume",),
    "issue": ("number", "issue"),
    "page": ("pages",),
    "DOI": ("doi",),
    "URL": ("url",),
    "issued": ("year", "date"),
}
_PLAIN_FIELDS = {"DOI", "URL"}
_BARE_AMPERSAND = re.compile(r"(?<!\\)&")


def from_bibtex(text: str) -> Iterator[dict[str, Any]]:
    """Each entry of a BibTeX text; one that is broken is an error.

    Raises
    ------
    ValueError
        If an entry cannot be read; says in which line it starts.
    """
    # The parser writes what it cannot read to its log as well as into its result.
    root_level = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        library = bibtexparser.parse_string(text)
    finally:
        logging.disable(root_level)
    entries = list(library.entries)
    for block in library.failed_blocks:
        if isinstance(getattr(block, "ignore_error_block", None), Entry):
            entries.append(block.ignore_error_block)
        else:
            raise ValueError(f"the entry that starts in line {block.start_line + 1} is not closed")
    for entry in entries:
        yield _values(entry)


def _values(entry: Entry) -> dict[str, Any]:
    fields = {key.lower(): field.value for key, field in entry.fields_dict.items()}
    values: dict[str, Any] = {"type": TYPES.get(entry.entry_type.lower(), "article")}
    for name, keys in _FIELDS.items():
        found = next((str(fields[key]) for key in keys if fields.get(key)), "")
        if found:
            values[name] = found if name in _PLAIN_FIELDS else plain(found)
    if "page" in values:
        values["page"] = values["page"].replace("–", "-")
    if fields.get("author"):
        people = _people(str(fields["author"]))
        # How BibTeX says that it names only the first of them.
        values["and_others"] = people[-1:] == [{"family": "others"}]
        values["author"] = people[:-1] if values["and_others"] else people
    return values


def _people(text: str) -> list[dict[str, str]]:
    """The authors one by one; all in one where their names cannot be told apart."""
    # Before names are split, where a tilde is a space and a backslash hides what follows.
    text = with_letters(text)
    try:
        names = [parse_single_name_into_parts(name) for name in split_multiple_persons_names(text)]
    except InvalidNameError:
        return [{"literal": plain(text)}]
    return [person for name in names if (person := _person(name))]


def _person(name: NameParts) -> dict[str, str]:
    family = plain(" ".join((*name.von, *name.last)))
    given = plain(" ".join((*name.first, *name.jr)))
    if not given and " ".join(name.last).startswith("{"):
        return {"literal": family} if family else {}
    person = {"family": family, "given": given}
    return {key: value for key, value in person.items() if value}


def plain(text: str) -> str:
    """LaTeX to plain text: accents become letters, braces and commands go."""
    decoded = LatexNodes2Text().latex_to_text(_BARE_AMPERSAND.sub(r"\\&", with_letters(text)))
    return " ".join(decoded.split())
