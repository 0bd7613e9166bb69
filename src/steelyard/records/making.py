"""A new recommendation with its question: both sound and placed together, or nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steelyard.errors import Finding, RecordError, UsageError
from steelyard.records.locking import writing_lock
from steelyard.records.model import Record
from steelyard.records.question import Question
from steelyard.records.question_words import VOCABULARY_FILE, question_word_findings
from steelyard.records.reading import look_at_values, suggestion
from steelyard.records.recommendation import Recommendation
from steelyard.records.record_set import RecordSet
from steelyard.records.staging import place_files
from steelyard.records.unsound import numbered
from steelyard.records.writing import record_to_toml

NEW_QUESTION = "question"


@dataclass(frozen=True, slots=True)
class Made:
    """What was made.

    Attributes
    ----------
    recommendation : str
    questions : tuple of str
        It rests on.
    files : tuple of Path
    """

    recommendation: str
    questions: tuple[str, ...]
    files: tuple[Path, ...]


def make_recommendation(
    records: RecordSet,
    answers: Mapping[str, Any],
    *,
    beside: Callable[[str], Mapping[Path, bytes]] = lambda name: {},
) -> Made:
    """Write a recommendation, and the question it rests on if that is new.

    Parameters
    ----------
    records : RecordSet
        The library.
    answers : mapping
        The keys of a recommendation; beside them a group ``question`` with the keys of a new
        question, which the recommendation then rests on first.
    beside : callable, optional
        From the recommendation's id to further files that are placed with it.

    Raises
    ------
    RecordError
        If the answers make no sound records; every fault at once, nothing written.
    UsageError
        If an id is taken, or the disk refuses; nothing has changed then.
    """
    values = dict(answers)
    asked = values.pop(NEW_QUESTION, None)
    faults: list[Finding] = []
    question = None
    if asked is not None:
        if not isinstance(asked, Mapping):
            message = "expected a group of answers about a new question; an old one stands in "
            raise RecordError(
                [Finding("answers", NEW_QUESTION, "fault", "not-a-group", f"{message}questions")]
            )
        question = _looked(dict(asked), Question, NEW_QUESTION, faults)
        if "id" in asked and "questions" not in values:
            values["questions"] = [asked["id"]]
    recommendation = _looked(values, Recommendation, "recommendation", faults)
    faults += _unknown(records, question, recommendation, asked)
    if faults:
        raise RecordError(faults)
    with writing_lock(records.folder):
        files: dict[Path, bytes] = {}
        for kind, record in (("questions", question), ("recommendations", recommendation)):
            if record is not None:
                path = records.folder / kind / f"{record.id}.toml"
                if path.exists():
                    raise UsageError(
                        f"{kind}/{path.name} is already there: expected an id that is free; "
                        "nothing was written"
                    )
                files[path] = record_to_toml(record).encode("utf-8")
        files |= beside(recommendation.id)
        place_files(files, library=records.folder)
    return Made(recommendation.id, recommendation.questions, tuple(files))


def _looked(values: dict[str, Any], model: type[Record], name: str, faults: list[Finding]) -> Any:
    """The record as far as it is sound; what is wrong with it goes to the faults."""
    looked = look_at_values(values, model, file=name)
    faults += looked.faults
    return looked.record


def _unknown(
    records: RecordSet,
    question: Question | None,
    recommendation: Recommendation,
    asked: Mapping[str, Any] | None,
) -> list[Finding]:
    """Words and questions the library does not have."""
    found: list[Finding] = []
    vocabulary = records.vocabulary
    if question is not None and vocabulary is not None:
        found += question_word_findings(question, vocabulary, file=NEW_QUESTION)
    # A new question with faults of its own is told about once.
    known = {*records.questions, (asked or {}).get("id")}
    for _, each in numbered(recommendation.questions):
        if each not in known:
            message = (
                f"expected the id of a question of the library, found {each!r}"
                f"{suggestion(each, set(records.questions))}"
            )
            found.append(
                Finding("recommendation", "questions", "fault", "unknown-question", message)
            )
    for _, site in numbered(recommendation.sites) if vocabulary is not None else ():
        if site not in vocabulary.words("site"):
            message = (
                f"expected a site from {VOCABULARY_FILE}, found {site!r}"
                f"{suggestion(site, vocabulary.words('site'))}"
            )
            found.append(Finding("recommendation", "sites", "fault", "unknown-site", message))
    return found
