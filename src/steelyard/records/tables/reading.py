"""A table file to study records, or to a list of what is wrong with it, row by row."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from steelyard.errors import Finding
from steelyard.records.consistency import words_used
from steelyard.records.slugs import slug
from steelyard.records.study import Study
from steelyard.records.tables.building import build_studies
from steelyard.records.tables.columns import Columns, Layout, find_columns
from steelyard.records.tables.facts import tag_words
from steelyard.records.tables.rows import ProblemList, TableRow, read_rows
from steelyard.records.tables.sheets import Sheet, SheetError, holds_whole_records, read_sheet
from steelyard.records.tables.whole_reading import read_whole

_WORD_COLUMNS = {
    "construct": "construct",
    "site": "site",
    "tags": "tag",
    "intervention_tags": "tag",
    "comparator_tags": "tag",
}


@dataclass(frozen=True, slots=True)
class TableWord:
    """A word of the vocabulary a table uses, and where it is first used."""

    kind: str
    id: str
    label: str
    place: str

    def __str__(self) -> str:
        return f"the {self.kind} {self.id!r}"


@dataclass(frozen=True, slots=True)
class TableImport:
    """What a table file holds.

    Attributes
    ----------
    file : str
        Name of the file.
    layout : str or None
        ``arms``, ``comparisons``, ``whole``, or None where the header fits none.
    studies : tuple of Study
        Those in whose rows nothing is wrong, in the order of the file.
    n_rows : int
        Rows of results.
    words : tuple of TableWord
        Constructs, sites and tags used, each once.
    problems : tuple of Finding
        Everything wrong, by row; empty where the file can be taken as it is.
    notes : tuple of str
        What was taken for granted, and which columns were kept as notes.
    others : dict of str to str
        Texts of a library's other files, by name; only a table of a whole library has them.
    """

    file: str
    layout: Layout | Literal["whole"] | None
    studies: tuple[Study, ...]
    n_rows: int
    words: tuple[TableWord, ...]
    problems: tuple[Finding, ...]
    notes: tuple[str, ...]
    others: dict[str, str] = field(default_factory=dict)


def read_table(path: str | Path) -> TableImport:
    """Read a table of results.

    A row stands for a study, outcome, arm and week, or for a comparison that a paper gives
    only as a difference; the header says which. Headers are read without regard to case,
    spaces and underscores; unknown columns are kept as notes; blank means not reported.
    Intervals are taken as 95 % intervals. A comparison without a week is taken as measured
    at the end of training: the duration if there is one, else week 0, with a note. A table with
    a column ``row_holds`` is one that `export_table` wrote, and holds whole records.

    Parameters
    ----------
    path : str or Path
        A ``.csv`` file (comma, semicolon or tab; UTF-8, UTF-16 or Windows-1252) or an
        ``.xlsx`` file, of which the first visible sheet is read.

    Raises
    ------
    UsageError
        If the file is not there or is of another kind.
    """
    path = Path(path)
    try:
        sheet = read_sheet(path)
    except SheetError as error:
        finding = Finding(path.name, "", "fault", "not-a-table", str(error))
        return TableImport(path.name, None, (), 0, (), (finding,), ())
    if holds_whole_records(sheet.headers):
        return _read_whole(path.name, sheet)
    columns = find_columns(sheet.headers)
    problems = ProblemList(path.name, columns.headers)
    for header, message in columns.problems:
        problems.add(0, header, "columns", message)
    if not sheet.rows:
        problems.add(0, "", "no-rows", "expected rows of results below the header, found none")
    if problems.findings:
        found = problems.in_order()
        return TableImport(path.name, columns.layout, (), len(sheet.rows), (), found, sheet.notes)
    rows = read_rows(sheet, columns, problems)
    studies = tuple(build_studies(rows, columns.layout, problems))
    return TableImport(
        path.name,
        columns.layout,
        studies,
        len(rows),
        tuple(_words(rows, columns)),
        problems.in_order(),
        (*sheet.notes, *_notes(columns, rows, studies)),
    )


def _read_whole(file: str, sheet: Sheet) -> TableImport:
    problems = ProblemList(file, {})
    if not sheet.rows:
        problems.add(0, "", "no-rows", "expected rows below the header, found none")
    whole = read_whole(sheet, problems)
    return TableImport(
        file,
        "whole",
        whole.studies,
        len(sheet.rows),
        tuple(table_words(whole.words)),
        problems.in_order(),
        sheet.notes,
        whole.texts,
    )


def study_words(study: Study) -> Iterator[TableWord]:
    """Every construct, site and tag a study uses, each once, and where."""
    yield from table_words(words_used(study))


def table_words(used: Iterable[tuple[str, str, str]]) -> Iterator[TableWord]:
    """Words by place, kind and id, each once and where it is first used."""
    first: dict[tuple[str, str], str] = {}
    for place, kind, word in used:
        first.setdefault((kind, word), place)
    for (kind, word), place in first.items():
        yield TableWord(kind, word, word.replace("-", " "), place)


def _words(rows: list[TableRow], columns: Columns) -> Iterator[TableWord]:
    seen: set[tuple[str, str]] = set()
    for row in rows:
        for column, kind in _WORD_COLUMNS.items():
            text = row.texts.get(column)
            if text is None:
                continue
            for word in tag_words(text) if kind == "tag" else [text]:
                word_id = slug(word, kind=kind)
                if (kind, word_id) not in seen:
                    seen.add((kind, word_id))
                    place = f"row {row.number}, column {columns.headers[column]}"
                    label = word.replace("-", " ") if word == word_id else word
                    yield TableWord(kind, word_id, label, place)


def _notes(columns: Columns, rows: list[TableRow], studies: tuple[Study, ...]) -> Iterator[str]:
    kept = [name for name in columns.kept if any(name in row.notes for row in rows)]
    if kept:
        yield f"kept as notes: {', '.join(kept)}"
    untagged = [study.id for study in studies if not any(arm.tags for arm in study.arms)]
    if untagged:
        shown = ", ".join(untagged[:5]) + (" …" if len(untagged) > 5 else "")
        yield f"no question finds the arms of {shown}: they have no tags"
