"""Adding what people bring to a library: all of a file, or nothing of it."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steelyard.errors import Finding, RecordError, UsageError
from steelyard.records.adding_references import SUFFIXES, references_to_drafts
from steelyard.records.consistency import study_findings
from steelyard.records.editing import edited
from steelyard.records.reading import (
    LARGEST_RECORD_BYTES,
    parse,
    read_record,
    read_text,
    validate,
)
from steelyard.records.record_set import VOCABULARY_FILE
from steelyard.records.staging import place_files
from steelyard.records.study import Study
from steelyard.records.tables.reading import TableWord, read_table, study_words
from steelyard.records.vocabulary import Vocabulary
from steelyard.records.writing import record_to_toml

# Words this alike are one word and a slip of the pen, unless a person says otherwise.
SLIP = 0.85
Progress = Callable[[int, int], None]
_PLURALS = {"construct": "constructs", "site": "sites", "tag": "tags"}


@dataclass(frozen=True, slots=True)
class AddReport:
    """What adding a file did, or with `dry_run` would do.

    Attributes
    ----------
    studies : tuple of str
        Ids of the studies added; empty where there are problems.
    added, updated : tuple of str
        Files new in the library and files changed there, relative to it.
    new_words : tuple of TableWord
        Words the vocabulary did not have and now has.
    problems : tuple of Finding
        What stands in the way; if there is any, nothing was written.
    notes : tuple of str
        What was taken for granted on reading.
    drafts : tuple of str
        Titles of references kept as drafts, to be filled in before they are studies.
    """

    studies: tuple[str, ...] = ()
    added: tuple[str, ...] = ()
    updated: tuple[str, ...] = ()
    new_words: tuple[TableWord, ...] = ()
    problems: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()
    drafts: tuple[str, ...] = ()


def add_file(
    folder: str | Path,
    path: str | Path,
    *,
    dry_run: bool = False,
    progress: Progress | None = None,
) -> AddReport:
    """Add a table (``.csv``, ``.xlsx``) or a study record (``.toml``) to a library.

    References (``.bib``, ``.ris``, CSL-JSON as ``.json``) are kept as drafts: a study without
    results is none.

    Raises
    ------
    UsageError
        If the file is of another kind; see also `add_table` and `add_record`.
    """
    suffix = Path(path).suffix.lower()
    if suffix in (".csv", ".xlsx"):
        return add_table(folder, path, dry_run=dry_run, progress=progress)
    if suffix == ".toml":
        return add_record(folder, path, dry_run=dry_run)
    if suffix in SUFFIXES:
        library = _Library(Path(folder))
        made = references_to_drafts(library.folder, Path(path), dry_run=dry_run)
        return AddReport(drafts=made.titles, notes=made.notes, problems=made.problems)
    raise UsageError(
        f"cannot add {Path(path).name!r}: expected a table (.csv, .xlsx), a study record (.toml) "
        "or references (.bib, .ris, .json)"
    )


def add_table(
    folder: str | Path,
    path: str | Path,
    *,
    dry_run: bool = False,
    progress: Progress | None = None,
) -> AddReport:
    """Add every study of a table to a library, or none.

    Parameters
    ----------
    folder : str or Path
        The library; made if it is not there.
    path : str or Path
        The table; see `read_table`.
    dry_run : bool
        Whether only to say what would be done.
    progress : callable, optional
        Called with (steps done, steps in all): a study made into a record, a record written.

    Raises
    ------
    UsageError
        If the file is not there or is no table, the folder is something other than a library,
        or the disk refuses; nothing has changed then.
    """
    library = _Library(Path(folder))
    table = read_table(path)
    contents: dict[str, bytes] = {}
    total = 2 * len(table.studies)
    for study in table.studies:
        contents[study.id] = record_to_toml(study).encode("utf-8")
        if progress is not None:
            progress(len(contents), total)

    def written(done: int, of: int) -> None:
        if progress is not None:
            progress(total * (of + done) // (2 * of), total)

    return library.add(
        contents, table.words, table.file, table.problems, table.notes, dry_run, written
    )


def add_record(folder: str | Path, path: str | Path, *, dry_run: bool = False) -> AddReport:
    """Add one study record to a library, as it stands, comments and all.

    The file in the library is named by the record's id, whatever the given file's name.
    Parameters, problems and errors are those of `add_table`.
    """
    library, path = _Library(Path(folder)), Path(path)
    if path.suffix.lower() != ".toml":
        raise UsageError(f"cannot read {path.name!r} as a record: expected .toml")
    if not path.exists():
        raise UsageError(f"there is no file {str(path)!r}")
    try:
        text = read_text(path, file=path.name)
        study = validate(parse(text, file=path.name), Study, file=path.name)
    except RecordError as error:
        return AddReport(problems=error.findings)
    found = study_findings(study, None, file=path.name)
    problems = [finding for finding in found if finding.severity == "fault"]
    content = {study.id: text.encode("utf-8")}
    return library.add(content, tuple(study_words(study)), path.name, problems, (), dry_run)


class _Library:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        if folder.exists() and not folder.is_dir():
            raise UsageError(f"library {str(folder)!r} is not a folder")
        parts = (VOCABULARY_FILE, "studies", "questions", "recommendations")
        if folder.is_dir() and not any((folder / part).exists() for part in parts):
            if any(not path.name.startswith(".") for path in folder.iterdir()):
                raise UsageError(
                    f"{str(folder)!r} is not a library: expected an empty folder, or one with "
                    f"{VOCABULARY_FILE}, studies/, questions/ or recommendations/"
                )

    def add(
        self,
        contents: dict[str, bytes],
        words: Sequence[TableWord],
        file: str,
        problems: Iterable[Finding],
        notes: Sequence[str],
        dry_run: bool,
        progress: Progress | None = None,
    ) -> AddReport:
        """Place the studies' files and the vocabulary's new words, if nothing is wrong."""
        problems = [*problems, *self._already_there(contents, file), *_too_large(contents, file)]
        new_words: list[TableWord] = []
        files: dict[Path, bytes] = {}
        updated: tuple[str, ...] = ()
        try:
            vocabulary = self._vocabulary()
            if vocabulary is not None:
                new_words, slips = sort_words(words, vocabulary, file=file)
                problems += slips
            if new_words and not problems:
                path = self.folder / VOCABULARY_FILE
                text = with_words(read_text(path, file=VOCABULARY_FILE), new_words)
                # First in place, so that no study is ever there without its words.
                files[path], updated = text.encode("utf-8"), (VOCABULARY_FILE,)
        except RecordError as error:
            problems += error.findings
        if problems:
            return AddReport(problems=tuple(problems), notes=tuple(notes))
        replaced = tuple(files)
        names = {study_id: f"studies/{study_id}.toml" for study_id in contents}
        files |= {self.folder / names[study_id]: text for study_id, text in contents.items()}
        if not dry_run:
            place_files(files, replace=replaced, progress=progress)
        return AddReport(
            studies=tuple(contents),
            added=tuple(names.values()),
            updated=updated,
            new_words=tuple(new_words),
            notes=tuple(notes),
        )

    def _already_there(self, contents: Iterable[str], file: str) -> list[Finding]:
        return [
            Finding(
                file,
                study_id,
                "fault",
                "already-there",
                f"expected a study the library does not have, found studies/{study_id}.toml "
                "already there: change or remove that file first",
            )
            for study_id in contents
            if (self.folder / "studies" / f"{study_id}.toml").exists()
        ]

    def _vocabulary(self) -> Vocabulary | None:
        path = self.folder / VOCABULARY_FILE
        return read_record(path, Vocabulary) if path.exists() else None


def _too_large(contents: dict[str, bytes], file: str) -> list[Finding]:
    return [
        Finding(
            file,
            study_id,
            "fault",
            "too-large",
            f"expected a study of at most {LARGEST_RECORD_BYTES:,} bytes as a record, "
            f"found {len(content):,}",
        )
        for study_id, content in contents.items()
        if len(content) > LARGEST_RECORD_BYTES
    ]


def sort_words(
    words: Iterable[TableWord], vocabulary: Vocabulary, *, file: str
) -> tuple[list[TableWord], list[Finding]]:
    """Words the vocabulary lacks: those that are new, and findings on those like a known one."""
    new: list[TableWord] = []
    slips: list[Finding] = []
    known = {kind: vocabulary.words(kind) for kind in _PLURALS}
    for word in words:
        if word.id in known[word.kind]:
            continue
        near = difflib.get_close_matches(word.id, sorted(known[word.kind]), n=1, cutoff=SLIP)
        if near:
            message = (
                f"expected a {word.kind} from {VOCABULARY_FILE}, found {word.id!r}: did you mean "
                f"{near[0]!r}? If it is a word of its own, add it to {VOCABULARY_FILE} first"
            )
            slips.append(Finding(file, word.place, "fault", f"unknown-{word.kind}", message))
        else:
            new.append(word)
            known[word.kind].add(word.id)
    return new, slips


def with_words(text: str, words: Sequence[TableWord]) -> str:
    """A vocabulary's text with words added; comments and order stay."""
    values = parse(text, file=VOCABULARY_FILE)
    changes: dict[str, Any] = {}
    for kind, plural in _PLURALS.items():
        entries = [{"id": word.id, "label": word.label} for word in words if word.kind == kind]
        key = plural if plural in values else kind
        count = len(values.get(key, ()))
        if count:
            changes |= {f"{key}[{count + n}]": entry for n, entry in enumerate(entries, 1)}
        elif entries:
            changes[key] = entries
    return edited(text, changes, file=VOCABULARY_FILE)
