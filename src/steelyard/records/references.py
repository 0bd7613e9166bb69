"""Pasted citations to the fields of a source: DOI, BibTeX, RIS and CSL-JSON, all read offline."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from steelyard.errors import SteelyardError
from steelyard.records.bibtex import from_bibtex
from steelyard.records.printed import brief
from steelyard.records.reading import brief_line
from steelyard.records.ris import from_ris

LARGEST_REFERENCE_TEXT = 2_000_000
_DOI = re.compile(r"10\.\d{4,9}/[^\s\"'<>{}|\\^`]+")
# Neither takes in the end of a line before it, so that many empty ones are gone through once.
_BIBTEX = re.compile(r"^[^\S\n]*@\s*[A-Za-z]+\s*[{(]", re.MULTILINE)
_RIS = re.compile(r"^[^\S\n]*TY[^\S\n]{1,2}-", re.MULTILINE)
_YEAR_IN_BRACKETS = re.compile(r"\((1[89]\d\d|20\d\d)[a-z]?\)")
_MARKUP = re.compile(r"</?(?:i|b|em|strong|sub|sup|sc|span|jats:[a-z-]+|mml:[a-z-]+)(?:\s[^<>]*)?>")
_TEXTS = (
    *("title", "container-title", "volume", "issue", "page", "URL"),
    *("funding", "type"),
)


class CitationError(SteelyardError):
    """A citation that cannot be read; the message says what was expected."""


@dataclass(frozen=True, slots=True)
class Reference:
    """One citation as read.

    Attributes
    ----------
    source : dict
        Keys and values of a study's ``[source]``; only those the citation has.
    notes : tuple of str
        What a person has to know or add, as sentences.
    """

    source: dict[str, Any]
    notes: tuple[str, ...] = ()


def read_references(text: str) -> tuple[Reference, ...]:
    """Read every citation in a text, whichever of the four forms it has.

    Parameters
    ----------
    text : str
        A DOI or a sentence that holds one, BibTeX, RIS, or CSL-JSON.

    Returns
    -------
    tuple of Reference
        At least one.

    Raises
    ------
    CitationError
        If the text is none of the four, or is one of them but broken.
    """
    return tuple(reference for reference in read_entries(text) if reference.source)


def read_entries(text: str) -> tuple[Reference, ...]:
    """The same, with an empty source for each entry that has neither a title nor a DOI."""
    if len(text) > LARGEST_REFERENCE_TEXT:
        raise CitationError(
            f"expected a citation of at most {LARGEST_REFERENCE_TEXT:,} characters, "
            f"found {len(text):,}"
        )
    text = text.strip().lstrip("\ufeff")
    if not text:
        raise CitationError("expected a DOI, BibTeX, RIS or CSL-JSON, found nothing")
    if _BIBTEX.search(text):
        return _checked(from_bibtex, text, "BibTeX")
    if _RIS.search(text):
        return _checked(from_ris, text, "RIS")
    if text[:1] in "[{":
        return _checked(_from_csl_text, text, "CSL-JSON")
    return (_from_words(text),)


def plain_doi(text: str) -> str:
    """The DOI in a text, in lower case and without what surrounds it; empty if there is none."""
    match = _DOI.search(text)
    if match is None:
        return ""
    doi = match.group()
    end, unopened = len(doi), doi.count(")") - doi.count("(")
    while end and (doi[end - 1] in ".,;:" or (doi[end - 1] == ")" and unopened > 0)):
        end -= 1
        unopened -= doi[end] == ")"
    return doi[:end].lower()


def _from_words(text: str) -> Reference:
    doi = plain_doi(text)
    if not doi:
        raise CitationError(
            "expected a DOI such as 10.5555/12345678, or BibTeX, RIS or CSL-JSON, "
            f"found {brief(text)}"
        )
    source: dict[str, Any] = {"DOI": doi}
    years = set(_YEAR_IN_BRACKETS.findall(text))
    if len(years) == 1:
        source["issued"] = int(years.pop())
    missing = "title, authors and year" if "issued" not in source else "title and authors"
    note = (
        f"Only the DOI could be read; nothing is fetched from the internet, so type the {missing}."
    )
    return Reference(source, (note,))


def _checked(
    read: Callable[[str], Iterable[dict[str, Any]]], text: str, form: str
) -> tuple[Reference, ...]:
    try:
        found = [_reference(values) for values in read(text)]
    except CitationError:
        raise
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError) as error:
        raise CitationError(f"not valid {form}: {brief_line(str(error))}") from error
    if not any(reference.source for reference in found):
        raise CitationError(f"expected a {form} entry with a title or a DOI, found none")
    return tuple(found)


def _from_csl_text(text: str) -> list[dict[str, Any]]:
    values = json.loads(text)
    items = values if isinstance(values, list) else [values]
    if not all(isinstance(item, dict) for item in items):
        raise CitationError("expected CSL-JSON: an item, or a list of items")
    return [_from_csl(item) for item in items]


def _from_csl(item: dict[str, Any]) -> dict[str, Any]:
    values = {name: item[name] for name in (*_TEXTS, "DOI") if item.get(name) not in (None, "")}
    for name in ("title", "container-title"):
        if isinstance(values.get(name), list):
            values[name] = values[name][0] if values[name] else ""
    people = item.get("author") if isinstance(item.get("author"), list) else []
    values["author"] = [_person(person) for person in people if isinstance(person, dict)]
    values["issued"] = _year(item.get("issued"))
    return values


def _person(person: dict[str, Any]) -> dict[str, str]:
    family = person.get("family")
    particle = person.get("non-dropping-particle")
    if family and particle:
        person = {**person, "family": f"{particle} {family}"}
    return {
        name: _words(person[name])
        for name in ("family", "given", "literal")
        if isinstance(person.get(name), str) and person[name].strip()
    }


def _year(issued: Any) -> Any:
    if isinstance(issued, dict):
        parts = issued.get("date-parts")
        if isinstance(parts, list) and parts and isinstance(parts[0], list) and parts[0]:
            return parts[0][0]
        return issued.get("raw") or issued.get("literal")
    return issued


def _reference(values: dict[str, Any]) -> Reference:
    """Only what a source may hold, each value of the kind it expects."""
    source: dict[str, Any] = {}
    notes: list[str] = []
    for name in _TEXTS:
        value = values.get(name)
        if isinstance(value, str | int) and not isinstance(value, bool) and _words(str(value)):
            source[name] = _words(str(value))
    people = [person for person in values.get("author") or [] if person]
    if people:
        source["author"] = people
    year = re.search(r"\b(1[89]\d\d|20\d\d|21\d\d)\b", str(values.get("issued") or ""))
    if year:
        source["issued"] = int(year.group())
    doi = plain_doi(str(values.get("DOI") or ""))
    if doi:
        source["DOI"] = doi
    elif values.get("DOI"):
        notes.append(f"What stands as the DOI is none: {brief(values['DOI'])}.")
    if set(source) <= {"type"}:
        return Reference({})
    if values.get("and_others"):
        notes.append("The citation names only the first authors.")
    missing = [
        words
        for name, words in (("title", "title"), ("author", "authors"), ("issued", "year"))
        if name not in source
    ]
    if missing:
        notes.append(f"The citation has no {', no '.join(missing)}.")
    return Reference(source, tuple(notes))


def _words(text: str) -> str:
    """One line of text, without the few tags that publishers put into titles."""
    return " ".join(_MARKUP.sub("", text).split())
