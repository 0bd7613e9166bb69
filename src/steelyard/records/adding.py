"""Adding what people bring to a library: all of a file, or nothing of it."""

from __future__ import annotations

from pathlib import Path

from steelyard.errors import RecordError, UsageError
from steelyard.records.adding_references import SUFFIXES, references_to_drafts
from steelyard.records.arriving import AddReport, Arrival, Progress, check_folder, take_in
from steelyard.records.consistency import study_findings
from steelyard.records.reading import Looked, look_at, read_text
from steelyard.records.study import Study
from steelyard.records.tables.reading import read_table, study_words
from steelyard.records.vocabulary_words import sort_words
from steelyard.records.writing import record_to_toml

__all__ = ["AddReport", "add_file", "add_record", "add_table", "sort_words"]


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
        check_folder(Path(folder))
        made = references_to_drafts(Path(folder), Path(path), dry_run=dry_run)
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

    A table of a whole library brings its other files as well.

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
    folder = Path(folder)
    check_folder(folder)
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

    arrival = Arrival(table.file, contents, table.others, table.words, table.problems, table.notes)
    return take_in(folder, arrival, dry_run=dry_run, progress=written)


def add_record(folder: str | Path, path: str | Path, *, dry_run: bool = False) -> AddReport:
    """Add one study record to a library, as it stands, comments and all.

    The file in the library is named by the record's id, whatever the given file's name.
    Parameters, problems and errors are those of `add_table`.
    """
    folder, path = Path(folder), Path(path)
    check_folder(folder)
    if path.suffix.lower() != ".toml":
        raise UsageError(f"cannot read {path.name!r} as a record: expected .toml")
    if not path.exists():
        raise UsageError(f"there is no file {str(path)!r}")
    try:
        text = read_text(path, file=path.name)
        looked = look_at(text, Study, file=path.name)
    except RecordError as error:
        looked = Looked(None, error.findings)
    study, problems = looked.record, [*looked.faults]
    if study is None:
        return take_in(folder, Arrival(path.name, {}, problems=problems), dry_run=True)
    found = study_findings(study, None, file=path.name)
    problems += [finding for finding in found if finding.severity == "fault"]
    # What is no sound record is held against the library, but never placed.
    content = {} if looked.faults else {study.id: text.encode("utf-8")}
    arrival = Arrival(path.name, content, words=(*study_words(study),), problems=problems)
    return take_in(folder, arrival, dry_run=dry_run or bool(looked.faults))
