"""A file of references to drafts: studies to be filled in, not yet studies."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steelyard.errors import Finding, RecordError, UsageError
from steelyard.records.drafts import draft_file, drafts
from steelyard.records.locking import writing_lock
from steelyard.records.printed import brief
from steelyard.records.reading import parse, read_text
from steelyard.records.references import CitationError, Reference, read_entries
from steelyard.records.slugs import slug
from steelyard.records.staging import place_files

SUFFIXES = (".bib", ".ris", ".json")
_KEYS = (
    *("type", "title", "issued", "container-title", "volume", "issue", "page", "DOI", "URL"),
    *("status", "status_note", "funding"),
)


@dataclass(frozen=True, slots=True)
class DraftsMade:
    """What became of a file of references.

    Attributes
    ----------
    titles : tuple of str
        What each new draft is called.
    notes : tuple of str
        What was passed over and what is missing, as sentences.
    problems : tuple of Finding
        If there is any, nothing was kept.
    """

    titles: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    problems: tuple[Finding, ...] = ()


def references_to_drafts(folder: Path, path: Path, *, dry_run: bool = False) -> DraftsMade:
    """Make a draft of every reference that the library does not have yet: of all, or of none.

    Raises
    ------
    UsageError
        If there is no such file, or the disk refuses.
    """
    if not path.exists():
        raise UsageError(f"there is no file {str(path)!r}")
    try:
        found = read_entries(read_text(path, file=path.name))
    except RecordError as error:
        return DraftsMade(problems=error.findings)
    except CitationError as error:
        problem = Finding(path.name, "", "fault", "not-a-reference", str(error))
        return DraftsMade(problems=(problem,))
    if dry_run:
        return _made(folder, found, {})
    files: dict[Path, bytes] = {}
    with writing_lock(folder, make=True):
        made = _made(folder, found, files)
        if files:
            place_files(files, library=folder)
    return made


def _made(folder: Path, found: Iterable[Reference], files: dict[Path, bytes]) -> DraftsMade:
    """What becomes of each reference; drafts to be kept are put into `files`."""
    known = dict(_known(folder))
    titles: list[str] = []
    notes: list[str] = []
    for number, reference in enumerate(found, 1):
        if not reference.source:
            notes.append(f"entry {number} is left out: it has neither a title nor a DOI")
            continue
        name = title_of(reference.source)
        again = next((known[key] for key in _keys(reference.source) if key in known), None)
        if again is not None:
            notes.append(f"{brief(name)} is passed over: it is {again}")
            continue
        known |= dict.fromkeys(_keys(reference.source), "in this file twice")
        titles.append(name)
        notes += [f"{brief(name)}: {note}" for note in reference.notes]
        path, content = draft_file(folder, form_of(reference), title=name)
        files[path] = content
    return DraftsMade(tuple(titles), tuple(notes))


def form_of(reference: Reference) -> dict[str, Any]:
    """What the entry form holds when a reference is all there is."""
    texts = source_texts(reference.source)
    return {"source": texts, "cited": dict(texts)}


def source_texts(source: Mapping[str, Any]) -> dict[str, str]:
    """The fields of a source as a person types them."""
    texts = {key: str(source[key]) for key in _KEYS if source.get(key) is not None}
    if source.get("author"):
        texts["author"] = authors_text(source["author"])
    return texts


def authors_text(authors: Any) -> str:
    """Authors as ``Oxmere, P.; Fell, R.``."""
    names = []
    for person in authors:
        if person.get("family"):
            names.append(", ".join(filter(None, (person["family"], person.get("given")))))
        elif person.get("literal"):
            names.append(person["literal"])
    return "; ".join(names)


def title_of(source: Mapping[str, Any]) -> str:
    """What a draft is called: its title, else its DOI."""
    return str(source.get("title") or source.get("DOI") or "without a title")


def _known(folder: Path) -> Iterator[tuple[str, str]]:
    for draft in drafts(folder):
        source = draft.form.get("source")
        if isinstance(source, dict):
            for key in _keys(source):
                yield key, "a draft already"
    studies = folder / "studies"
    for path in sorted(studies.glob("*.toml")) if studies.is_dir() else ():
        try:
            source = parse(read_text(path, file=path.name), file=path.name).get("source")
        except RecordError:
            continue
        if isinstance(source, dict):
            for key in _keys(source):
                yield key, f"the study {path.stem}"


def _keys(source: Mapping[str, Any]) -> list[str]:
    """By what a paper is known again: DOI, else title and year."""
    doi = str(source.get("DOI") or "").strip().lower()
    title = str(source.get("title") or "").strip()
    by_title = f"{slug(title, kind='title')} {source.get('issued') or ''}"
    return [*([f"doi {doi}"] if doi else []), *([by_title] if title else [])]
