"""A whole-record table back to what it was written from, or a list of what is wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from steelyard.records.consistency import study_findings, words_used
from steelyard.records.control_characters import RULE, control_characters
from steelyard.records.file_names import is_library_file
from steelyard.records.harmless import unguarded
from steelyard.records.printed import brief
from steelyard.records.reading import faults_of
from steelyard.records.sound_parts import sound_part
from steelyard.records.study import Study
from steelyard.records.tables.columns import KIND_COLUMN, plain_name
from steelyard.records.tables.facts import NotUnderstood
from steelyard.records.tables.rows import ProblemList
from steelyard.records.tables.sheets import UNSAVED_FORMULA, Sheet
from steelyard.records.tables.whole import (
    FILE_COLUMN,
    KEY_OF,
    KINDS,
    LINE,
    STUDY_COLUMN,
    TEXT_COLUMN,
    all_columns,
    columns_of,
    read_cell,
    read_line,
)


@dataclass(slots=True)
class _Gathered:
    """Values of one study, and the row each of its parts stands in."""

    first_row: int
    values: dict[str, Any]
    rows: dict[tuple[str, int], int] = field(default_factory=dict)
    study_row: int | None = None


@dataclass(frozen=True, slots=True)
class WholeTable:
    """What a whole-record table holds.

    Attributes
    ----------
    studies : tuple of Study
        Those in which nothing is wrong, in the order of the file.
    texts : dict of str to str
        Texts of a library's other files, by name.
    words : tuple of (str, str, str)
        Place, kind and id of every word of the vocabulary in use, also in studies with faults.
    """

    studies: tuple[Study, ...]
    texts: dict[str, str]
    words: tuple[tuple[str, str, str], ...] = ()


def read_whole(sheet: Sheet, problems: ProblemList) -> WholeTable:
    """Every study and every other file of the table."""
    headers = _headers(sheet, problems)
    if problems.findings:
        return WholeTable((), {})
    gathered: dict[str, _Gathered] = {}
    lines: dict[str, list[str]] = {}
    for number, cells in sheet.rows:
        texts = {
            header: unguarded(str(cells[position]))
            for header, position in headers.items()
            if position < len(cells) and str(cells[position]).strip()
        }
        if len(cells) > len(sheet.headers) and any(str(c).strip() for c in cells[len(headers) :]):
            message = f"expected {len(sheet.headers)} cells as in the header, found {len(cells)}"
            problems.add(number, "", "too-many-cells", message)
        if texts.get(KIND_COLUMN) == LINE:
            _take_line(number, texts, lines, problems)
        else:
            _take(number, texts, gathered, problems)
    studies, words = [], []
    for study in gathered.values():
        count = len(problems.findings)
        record = _judged(study, problems)
        words += words_used(record)
        if len(problems.findings) == count and not _bad(study, problems):
            studies.append(record)
    joined = {name: "".join(text) for name, text in lines.items()}
    return WholeTable(tuple(studies), joined, tuple(words))


def _take_line(
    number: int, texts: dict[str, str], lines: dict[str, list[str]], problems: ProblemList
) -> None:
    name = texts.pop(FILE_COLUMN, "")
    if not is_library_file(name):
        message = (
            "expected the name of a file of the library, such as questions/example.toml, found "
            f"{brief(name)}"
        )
        problems.add(number, FILE_COLUMN, "not-understood", message)
        return
    lines.setdefault(name, []).append(f"{read_line(texts.pop(TEXT_COLUMN, ''))}\n")
    for header in texts.keys() - {KIND_COLUMN}:
        message = f"expected nothing here in a row that holds a line, found {brief(texts[header])}"
        problems.add(number, header, "misplaced", message)


def _headers(sheet: Sheet, problems: ProblemList) -> dict[str, int]:
    known = all_columns()
    found: dict[str, int] = {}
    for position, header in enumerate(sheet.headers):
        name = known.get(plain_name(header))
        if name is None and header.strip():
            message = "expected a column of a whole-record table, which keeps no others"
            problems.add(0, header, "columns", message)
        elif name in found:
            problems.add(0, header, "columns", f"expected each column once, found {name} twice")
        elif name is not None:
            found[name] = position
    if STUDY_COLUMN not in found:
        problems.add(0, STUDY_COLUMN, "columns", f"expected a column {STUDY_COLUMN!r}, found none")
    return found


def _take(
    number: int, texts: dict[str, str], gathered: dict[str, _Gathered], problems: ProblemList
) -> None:
    kind, study_id = texts.pop(KIND_COLUMN, ""), texts.pop(STUDY_COLUMN, "")
    if not study_id:
        problems.add(number, STUDY_COLUMN, "missing", "expected a study, found none")
        return
    study = gathered.setdefault(study_id, _Gathered(number, {"schema": 1, "id": study_id}))
    if kind not in KINDS:
        message = f"expected one of {', '.join(KINDS)}, found {brief(kind)}"
        problems.add(number, KIND_COLUMN, "not-understood", message)
        return
    values = _values(number, kind, texts, problems)
    if kind == "study":
        if study.study_row is not None:
            message = f"expected one row for the study itself, found that of row {study.study_row}"
            problems.add(number, KIND_COLUMN, "duplicate-study", message)
        study.study_row = number
        study.values |= values
        return
    parts = study.values.setdefault(KEY_OF[kind], [])
    study.rows[KEY_OF[kind], len(parts)] = number
    parts.append(values)


def _values(number: int, kind: str, texts: dict[str, str], problems: ProblemList) -> dict[str, Any]:
    columns = columns_of(kind)
    values: dict[str, Any] = {}
    for header, text in texts.items():
        path = columns.get(header)
        if path is None:
            message = f"expected nothing here in a row that holds {kind}, found {brief(text)}"
            problems.add(number, header, "misplaced", message)
            continue
        try:
            if text == UNSAVED_FORMULA:
                raise NotUnderstood("expected a value, not a formula that was not saved")
            value = read_cell(path, text)
        except NotUnderstood as error:
            problems.add(number, header, "not-understood", f"{error}, found {brief(text)}")
            continue
        _place(values, path, value)
    return values


def _place(values: dict[str, Any], path: tuple, value: Any) -> None:
    *parents, last = path
    if isinstance(last, int):
        *parents, name = parents
        values = _down(values, parents)
        pair = values.setdefault(name, [None, None])
        pair[last] = value
    else:
        values = _down(values, parents)
        if isinstance(value, dict) and isinstance(values.get(last), dict):
            return  # an empty group says no more than its keys beside it
        values[last] = value


def _down(values: dict[str, Any], parents: Sequence[str]) -> dict[str, Any]:
    for name in parents:
        if not isinstance(values.get(name), dict):
            values[name] = {}
        values = values[name]
    return values


def _bad(study: _Gathered, problems: ProblemList) -> bool:
    return bool({study.first_row, *study.rows.values()} & problems.bad_rows)


def _judged(study: _Gathered, problems: ProblemList) -> Study:
    """The study as far as it is sound; what is wrong with it is noted."""
    if _bad(study, problems):
        return sound_part(study.values, Study)
    for loc, message in control_characters(study.values):
        number, column = _where(study, loc)
        problems.add(number, column, RULE, message)
    try:
        record = Study.model_validate(study.values)
    except ValidationError as error:
        record = sound_part(study.values, Study)
        for loc, rule, message in faults_of(error, record, Study):
            number, column = _where(study, loc)
            problems.add(number, column, rule, message)
    for finding in study_findings(record, None, file=problems.file):
        if finding.severity == "fault":
            part, _, column = finding.path.partition("]")
            key, _, index = part.partition("[")
            at = int(index) - 1 if index.isdigit() else -1
            number = study.rows.get((key, at), study.first_row)
            problems.add(number, column.removeprefix("."), finding.rule, finding.message)
    return record


def _where(study: _Gathered, loc: tuple[Any, ...]) -> tuple[int, str]:
    """Row and column of a validation error: ``("result", 3, "pre", "sd")``."""
    if len(loc) > 1 and (loc[0], loc[1]) in study.rows:
        names = [str(part) for part in loc[2:] if isinstance(part, str)]
        return study.rows[loc[0], loc[1]], "_".join(names)
    number = study.study_row if study.study_row is not None else study.first_row
    return number, "_".join(str(part) for part in loc if isinstance(part, str))
