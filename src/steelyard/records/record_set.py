"""Everything a library folder holds: records that can be used, findings about the rest."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
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
from steelyard.records.reading import Looked, look_at, read_text, suggestion
from steelyard.records.recommendation import Recommendation
from steelyard.records.settings import read_settings
from steelyard.records.study import Study
from steelyard.records.unsound import Unsound, is_known, numbered
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
            "questions/ or recommendations/; to begin a library, copy vocabulary.toml into its "
            "folder from the one that ships"
        )
    reader = _Reader(folder, sum(map(len, files.values())), progress)
    reader.findings += [*unfinished, *_misnamed(folder)]
    vocabulary = reader.vocabulary()
    studies = reader.read("studies", files["studies"], Study)
    questions = reader.read("questions", files["questions"], Question)
    recommendations = reader.read("recommendations", files["recommendations"], Recommendation)
    reader.settings()
    reader.check_studies(studies)
    reader.check_questions(questions)
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
        # Records with faults, as far as they are sound.
        self.left_out: list[tuple[str, Record]] = []
        # The vocabulary that words are held against, as far as it is sound.
        self.words: Vocabulary | None = None
        self.done = 0

    def vocabulary(self) -> Vocabulary | None:
        path = self.folder / VOCABULARY_FILE
        if not path.exists():
            message = "not there: tags, constructs and sites are taken as they come"
            self.findings.append(Finding(VOCABULARY_FILE, "", "note", "no-vocabulary", message))
            return None
        looked = self._looked(path, Vocabulary, name=VOCABULARY_FILE)
        self.findings += looked.faults
        if not looked.faults:
            self.words = looked.record
            return looked.record
        if looked.record is not None and not any(map(_may_hide_words, looked.faults)):
            self.words = _with_all_words(looked.record)
        return None

    def settings(self) -> None:
        try:
            read_settings(self.folder)
        except RecordError as error:
            self.findings += error.findings

    def read(self, kind: str, paths: list[Path], model: type[Record]) -> dict[str, Any]:
        records: dict[str, Any] = {}
        ids: set[str] = set()
        for path in paths:
            name = f"{kind}/{path.name}"
            looked = self._looked(path, model, name=name)
            faults, record = [*looked.faults], looked.record
            if record is not None and is_known(record.id):
                faults += _wrong_id(record.id, file=name, stem=path.stem, others=ids)
                if record.id == path.stem:
                    ids.add(record.id)
            self.findings += faults
            if record is not None and faults:
                self.left_out.append((name, record))
            elif record is not None:
                records[record.id] = record
            self.done += 1
            if self.progress is not None:
                self.progress(self.done, self.total)
        return records

    def _looked(self, path: Path, model: type[Record], *, name: str) -> Looked:
        try:
            return look_at(read_text(path, file=name), model, file=name)
        except RecordError as error:
            return Looked(None, error.findings)

    def check_studies(self, studies: dict[str, Study]) -> None:
        for study_id in list(studies):
            found = study_findings(studies[study_id], self.words, file=f"studies/{study_id}.toml")
            self.findings += found
            if any(finding.severity == "fault" for finding in found):
                del studies[study_id]
        for name, study in self._left_out_of("studies"):
            self.findings += study_findings(study, self.words, file=name)

    def check_questions(self, questions: dict[str, Question]) -> None:
        if self.words is None:
            return
        for question_id in list(questions):
            file = f"questions/{question_id}.toml"
            found = list(question_word_findings(questions[question_id], self.words, file=file))
            if found:
                self.findings += found
                del questions[question_id]
        for name, question in self._left_out_of("questions"):
            self.findings += question_word_findings(question, self.words, file=name)

    def check_recommendations(
        self, recommendations: dict[str, Recommendation], questions: dict[str, Question]
    ) -> None:
        for each in recommendations.values():
            self._check_questions_of(f"recommendations/{each.id}.toml", each.questions, questions)
        for name, each in self._left_out_of("recommendations"):
            named = [question_id for _, question_id in numbered(each.questions)]
            self._check_questions_of(name, named, questions)

    def _check_questions_of(
        self, file: str, named: Collection[str], questions: dict[str, Question]
    ) -> None:
        for question_id in named:
            if question_id in questions:
                continue
            rule = "unknown-question"
            message = (
                f"expected the id of a question, found {question_id!r}"
                f"{suggestion(question_id, set(questions))}"
            )
            its_file = f"questions/{question_id}.toml"
            if any(finding.file == its_file for finding in self.findings):
                rule = "faulty-question"
                message = f"rests on {question_id!r}, but {its_file} has faults"
            self.findings.append(Finding(file, "questions", "fault", rule, message))

    def _left_out_of(self, kind: str) -> list[tuple[str, Any]]:
        return [each for each in self.left_out if each[0].startswith(f"{kind}/")]


def _may_hide_words(fault: Finding) -> bool:
    """Whether a vocabulary may lack words only because they cannot be read as such."""
    unknown_table = fault.rule == "extra-forbidden" and "." not in fault.path
    return unknown_table or fault.rule in ("not-toml", "lost-header")


def _with_all_words(vocabulary: Vocabulary) -> Vocabulary:
    """A faulty vocabulary; where it has no word of a kind, they may stand under the wrong key."""
    kinds = ("constructs", "sites", "tags")
    kept = {kind: getattr(vocabulary, kind) for kind in kinds}
    kept = {kind: words if is_known(words) and words else Unsound() for kind, words in kept.items()}
    return Vocabulary.model_construct(**kept)


def _wrong_id(record_id: str, *, file: str, stem: str, others: Collection[str]) -> list[Finding]:
    if record_id in others:
        message = f"expected an id that no other file has, found {record_id!r} again"
        return [Finding(file, "id", "fault", "duplicate-id", message)]
    if record_id != stem:
        message = f"expected {stem!r}, the file's name, found {record_id!r}"
        return [Finding(file, "id", "fault", "id-is-file-name", message)]
    return []
