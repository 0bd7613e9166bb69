"""Everything a library folder holds: records that can be used, findings about the rest."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from steelyard.errors import Finding, RecordError, UsageError
from steelyard.records.consistency import study_findings
from steelyard.records.journal import JOURNAL_FILE, is_unfinished
from steelyard.records.locking import settle_unfinished
from steelyard.records.model import Record
from steelyard.records.question import Question
from steelyard.records.question_words import VOCABULARY_FILE, question_word_findings
from steelyard.records.reading import fault, read_record, suggestion
from steelyard.records.recommendation import Recommendation
from steelyard.records.settings import read_settings
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary

KINDS = ("studies", "questions", "recommendations")


@dataclass(frozen=True, slots=True)
class RecordSet:
    """The records of one library.

    Attributes
    ----------
    folder : Path
        The library.
    studies, questions, recommendations : mapping of id to record
        Those without a fault.
    vocabulary : Vocabulary or None
        None where the library has no vocabulary file.
    findings : tuple of Finding
        Every fault, warning and note met on reading.
    """

    folder: Path
    studies: MappingProxyType[str, Study]
    questions: MappingProxyType[str, Question]
    recommendations: MappingProxyType[str, Recommendation]
    vocabulary: Vocabulary | None
    findings: tuple[Finding, ...]

    @property
    def faults(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.severity == "fault")

    def find(self, kind: str, record_id: str) -> Any:
        """One record by kind (``study``, ``question``, ``recommendation``) and id.

        Raises
        ------
        UsageError
            If there is none; names the nearest id.
        RecordError
            If there is one but it has faults; carries them.
        """
        plural = {"study": "studies"}.get(kind, kind + "s")
        records = getattr(self, plural)
        if record_id in records:
            return records[record_id]
        file = f"{plural}/{record_id}.toml"
        own = [finding for finding in self.faults if finding.file == file]
        if own:
            raise RecordError(own)
        raise UsageError(
            f"no {kind} {record_id!r} in the library{suggestion(record_id, set(records))}"
            f" (there are {len(records)})"
        )


def load_records(
    folder: str | Path, *, progress: Callable[[int, int], None] | None = None
) -> RecordSet:
    """Read a whole library; a faulty record is left out and reported, the others load.

    A change of several files that is being made is waited for; one that a kill broke off is
    finished first.

    Parameters
    ----------
    folder : str or Path
        The library folder.
    progress : callable, optional
        Called with (files read, files in all).

    Raises
    ------
    UsageError
        If the folder is not there or is not a library.
    """
    folder = Path(folder)
    if not folder.is_dir():
        what = "is not a folder" if folder.exists() else "does not exist"
        raise UsageError(f"library {str(folder)!r} {what}")
    unfinished = _settled(folder)
    files = _listed(folder)
    if is_unfinished(folder) and not unfinished:
        # Begun since: else only some of its files might be on the list.
        unfinished, files = _settled(folder), _listed(folder)
    if not any(files.values()) and not (folder / VOCABULARY_FILE).exists():
        raise UsageError(
            f"library {str(folder)!r} holds no records: expected {VOCABULARY_FILE}, studies/, "
            "questions/ or recommendations/"
        )
    reader = _Reader(folder, sum(map(len, files.values())), progress)
    reader.findings += [*unfinished, *_misnamed(folder)]
    vocabulary = reader.vocabulary()
    studies = reader.read("studies", files["studies"], Study)
    questions = reader.read("questions", files["questions"], Question)
    recommendations = reader.read("recommendations", files["recommendations"], Recommendation)
    reader.settings()
    reader.check_studies(studies, vocabulary)
    reader.check_questions(questions, studies, vocabulary)
    reader.check_recommendations(recommendations, questions)
    return RecordSet(
        folder,
        MappingProxyType(studies),
        MappingProxyType(questions),
        MappingProxyType(recommendations),
        vocabulary,
        tuple(reader.findings),
    )


def _settled(folder: Path) -> list[Finding]:
    """Finish what a kill broke off; a finding where that cannot be done."""
    try:
        settle_unfinished(folder)
    except UsageError as error:
        return [Finding(JOURNAL_FILE, "", "fault", "unfinished", str(error))]
    return []


def _listed(folder: Path) -> dict[str, list[Path]]:
    return {kind: list(_files(folder / kind)) for kind in KINDS}


def _files(folder: Path) -> Iterator[Path]:
    if folder.is_dir():
        yield from sorted(path for path in folder.iterdir() if path.suffix == ".toml")


def _misnamed(folder: Path) -> Iterator[Finding]:
    """A warning per file that is meant as a record but is not read, for its name."""
    for kind in KINDS:
        for path in sorted((folder / kind).iterdir()) if (folder / kind).is_dir() else ():
            name = path.name.lower()
            if path.suffix != ".toml" and name.endswith((".toml", ".toml.txt")):
                message = f"is not read: expected a name that ends in .toml, found {path.name!r}"
                yield Finding(f"{kind}/{path.name}", "", "warning", "file-name", message)


class _Reader:
    def __init__(
        self, folder: Path, total: int, progress: Callable[[int, int], None] | None
    ) -> None:
        self.folder, self.total, self.progress = folder, total, progress
        self.findings: list[Finding] = []
        self.done = 0

    def vocabulary(self) -> Vocabulary | None:
        path = self.folder / VOCABULARY_FILE
        if not path.exists():
            message = "not there: tags, constructs and sites are taken as they come"
            self.findings.append(Finding(VOCABULARY_FILE, "", "note", "no-vocabulary", message))
            return None
        try:
            return read_record(path, Vocabulary)
        except RecordError as error:
            self.findings += error.findings
            return None

    def settings(self) -> None:
        try:
            read_settings(self.folder)
        except RecordError as error:
            self.findings += error.findings

    def read(self, kind: str, paths: list[Path], model: type[Record]) -> dict[str, Any]:
        records: dict[str, Any] = {}
        for path in paths:
            name = f"{kind}/{path.name}"
            try:
                record = read_record(path, model, file=name)
                if record.id in records:
                    raise fault(
                        name,
                        "id",
                        "duplicate-id",
                        f"expected an id that no other file has, found {record.id!r} again",
                    )
                if record.id != path.stem:
                    raise fault(
                        name,
                        "id",
                        "id-is-file-name",
                        f"expected {path.stem!r}, the file's name, found {record.id!r}",
                    )
                records[record.id] = record
            except RecordError as error:
                self.findings += error.findings
            self.done += 1
            if self.progress is not None:
                self.progress(self.done, self.total)
        return records

    def check_studies(self, studies: dict[str, Study], vocabulary: Vocabulary | None) -> None:
        for study_id in list(studies):
            found = study_findings(studies[study_id], vocabulary, file=f"studies/{study_id}.toml")
            self.findings += found
            if any(finding.severity == "fault" for finding in found):
                del studies[study_id]

    def check_questions(
        self,
        questions: dict[str, Question],
        studies: dict[str, Study],
        vocabulary: Vocabulary | None,
    ) -> None:
        if vocabulary is None:
            return
        for question_id in list(questions):
            file = f"questions/{question_id}.toml"
            found = list(question_word_findings(questions[question_id], vocabulary, file=file))
            if found:
                self.findings += found
                del questions[question_id]

    def check_recommendations(
        self, recommendations: dict[str, Recommendation], questions: dict[str, Question]
    ) -> None:
        for recommendation in recommendations.values():
            for question_id in recommendation.questions:
                if question_id in questions:
                    continue
                file, its_file = (
                    f"recommendations/{recommendation.id}.toml",
                    f"questions/{question_id}.toml",
                )
                rule = "unknown-question"
                message = (
                    f"expected the id of a question, found {question_id!r}"
                    f"{suggestion(question_id, set(questions))}"
                )
                if any(finding.file == its_file for finding in self.findings):
                    rule = "faulty-question"
                    message = f"rests on {question_id!r}, but {its_file} has faults"
                self.findings.append(Finding(file, "questions", "fault", rule, message))
