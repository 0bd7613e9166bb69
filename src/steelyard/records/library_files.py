"""The files of a library beside its studies: what they hold, and their text."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from steelyard.errors import Finding, RecordError
from steelyard.records.file_names import OWN_FILES
from steelyard.records.model import Record
from steelyard.records.question import Question
from steelyard.records.question_words import VOCABULARY_FILE
from steelyard.records.reading import Looked, look_at, read_text
from steelyard.records.recommendation import Recommendation
from steelyard.records.record_set import RecordSet
from steelyard.records.second_reading import READINGS_FOLDER, SecondReading
from steelyard.records.settings import SETTINGS_FILE, Settings
from steelyard.records.toml_text import parse_past_faults
from steelyard.records.unsound import is_known
from steelyard.records.vocabulary import Vocabulary

_MODELS = {
    VOCABULARY_FILE: Vocabulary,
    SETTINGS_FILE: Settings,
    "questions": Question,
    "recommendations": Recommendation,
    READINGS_FOLDER: SecondReading,
}


def file_record(name: str, text: str) -> Record | dict[str, Any]:
    """What the text of a library's file says; plain values for the rules of certainty.

    Raises
    ------
    RecordError
        With every fault in it.
    """
    looked = look_at_file(name, text)
    if looked.faults:
        raise RecordError(looked.faults)
    return looked.record


def look_at_file(name: str, text: str) -> Looked:
    """The same with its faults beside it; a record then as far as it is sound."""
    folder, _, _ = name.rpartition("/")
    model = _MODELS.get(folder or name)
    if model is None:
        parsed = parse_past_faults(text, file=name)
        return Looked(parsed.values, parsed.faults)
    looked = look_at(text, model, file=name)
    record, stem = looked.record, Path(name).stem
    if not folder or record is None or not is_known(record.id) or record.id == stem:
        return looked
    message = f"expected {stem!r}, the file's name, found {record.id!r}"
    wrong = Finding(name, "id", "fault", "id-is-file-name", message)
    return Looked(record, (*looked.faults, wrong))


def library_texts(records: RecordSet) -> Iterator[tuple[str, str]]:
    """Name and text of every sound file of a library beside its studies."""
    names = [VOCABULARY_FILE, *OWN_FILES]
    names += [f"questions/{name}.toml" for name in records.questions]
    names += [f"recommendations/{name}.toml" for name in records.recommendations]
    names += [f"{READINGS_FOLDER}/{name}.toml" for name in records.studies]
    for name in names:
        path = records.folder / name
        if not path.is_file():
            continue
        try:
            text = read_text(path, file=name)
            file_record(name, text)
        except RecordError:
            continue
        yield name, text
