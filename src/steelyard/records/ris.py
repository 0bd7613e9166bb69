"""RIS entries to the names of CSL-JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import rispy

TYPES = {
    "JOUR": "article-journal",
    "JFULL": "article-journal",
    "INPR": "article-journal",
    "EJOUR": "article-journal",
    "BOOK": "book",
    "EBOOK": "book",
    "CHAP": "chapter",
    "ECHAP": "chapter",
    "CONF": "paper-conference",
    "CPAPER": "paper-conference",
    "THES": "thesis",
    "RPRT": "report",
    "UNPB": "manuscript",
}
_FIELDS = {
    "title": ("title", "primary_title"),
    "container-title": (
        *("secondary_title", "journal_name", "alternate_title3", "alternate_title1"),
        *("alternate_title2",),
    ),
    "volume": ("volume",),
    "issue": ("number",),
    "DOI": ("doi",),
    "issued": ("year", "publication_year", "date"),
}


def from_ris(text: str) -> Iterator[dict[str, Any]]:
    """Each entry of a RIS text, also one that lacks its closing line."""
    if not any(line.strip().startswith("ER  -") for line in text.splitlines()[-1:]):
        text = f"{text}\nER  - \n"
    # Programs indent, and put one space where two belong.
    lines = [line.strip() for line in text.splitlines()]
    lines = [f"{line[:2]}  - {line[5:].lstrip()}" if line[2:5] == " - " else line for line in lines]
    for entry in rispy.loads("\n".join(f"{line} " for line in lines)):
        yield _values(entry)


def _values(entry: dict[str, Any]) -> dict[str, Any]:
    values: dict[str, Any] = {
        "type": TYPES.get(str(entry.get("type_of_reference", "")).strip(), "article")
    }
    for name, keys in _FIELDS.items():
        found = next((str(entry[key]).strip() for key in keys if entry.get(key)), "")
        if found:
            values[name] = found
    first, last = (str(entry.get(key) or "").strip() for key in ("start_page", "end_page"))
    if first:
        values["page"] = f"{first}-{last}" if last and last != first else first
    urls = entry.get("urls") or []
    if urls:
        values["URL"] = str(urls[0]).strip()
    people = entry.get("authors") or entry.get("first_authors") or []
    values["author"] = [_person(str(name)) for name in people if str(name).strip()]
    return values


def _person(name: str) -> dict[str, str]:
    family, comma, given = (part.strip() for part in name.partition(","))
    if not comma:
        return {"literal" if " " in family else "family": family}
    return {key: value for key, value in (("family", family), ("given", given)) if value}
