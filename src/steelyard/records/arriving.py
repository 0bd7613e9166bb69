"""What arrives in a library, studies and other files: all of it goes in, or nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from steelyard.errors import Finding, RecordError, UsageError
from steelyard.records.file_names import OWN_FILES
from steelyard.records.library_files import file_record, look_at_file
from steelyard.records.locking import settle_unfinished, writing_lock
from steelyard.records.question import Question
from steelyard.records.question_words import VOCABULARY_FILE, question_word_findings
from steelyard.records.reading import LARGEST_RECORD_BYTES, parse, read_text, validate
from steelyard.records.staging import place_files
from steelyard.records.tables.reading import TableWord
from steelyard.records.vocabulary import Vocabulary
from steelyard.records.vocabulary_words import sort_words, with_vocabulary, with_words

Progress = Callable[[int, int], None]


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
        Words the vocabulary did not have and now has; where there are problems, would have.
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


@dataclass(frozen=True, slots=True)
class Arrival:
    """What one file brings.

    Attributes
    ----------
    file : str
        Its name.
    studies : mapping of str to bytes
        Records by study id.
    others : mapping of str to str
        Texts of other files of a library, by their name relative to it.
    words : sequence of TableWord
        Words of the vocabulary the studies use.
    problems : sequence of Finding
        What is wrong with it by itself.
    notes : sequence of str
        What was taken for granted on reading it.
    """

    file: str
    studies: Mapping[str, bytes]
    others: Mapping[str, str] = field(default_factory=dict)
    words: Sequence[TableWord] = ()
    problems: Sequence[Finding] = ()
    notes: Sequence[str] = ()


def check_folder(folder: Path) -> None:
    """Refuse a folder that is something other than a library, or than the place for a new one.

    Raises
    ------
    UsageError
        If it is.
    """
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"library {str(folder)!r} is not a folder")
    parts = (VOCABULARY_FILE, "studies", "questions", "recommendations")
    # Looked at once: between two looks somebody else may begin a library there.
    names = {path.name for path in folder.iterdir()} if folder.is_dir() else set()
    if not names & set(parts) and any(not name.startswith(".") for name in names):
        raise UsageError(
            f"{str(folder)!r} is not a library: expected an empty folder, or one with "
            f"{VOCABULARY_FILE}, studies/, questions/ or recommendations/"
        )


def take_in(
    folder: Path, arrival: Arrival, *, dry_run: bool = False, progress: Progress | None = None
) -> AddReport:
    """Place everything that arrives, if nothing of it is wrong; two processes take turns.

    Raises
    ------
    UsageError
        If the folder cannot be written to; nothing has changed then.
    """
    settle_unfinished(folder)
    # First without a trace in the folder; what others do meanwhile counts the second time.
    plan = _Plan(folder, arrival)
    if dry_run or plan.problems:
        return plan.report()
    with writing_lock(folder, make=True):
        plan = _Plan(folder, arrival)
        if not plan.problems and plan.files:
            place_files(plan.files, library=folder, replace=plan.replaced, progress=progress)
        return plan.report()


class _Plan:
    """What would be written, or what stands in its way."""

    def __init__(self, folder: Path, arrival: Arrival) -> None:
        self.folder, self.arrival = folder, arrival
        self.problems = [*arrival.problems, *self._already_there(), *_too_large(arrival)]
        self.notes = list(arrival.notes)
        self.new_words: list[TableWord] = []
        # In the order of their renames: no study is ever there without its words.
        self.files: dict[Path, bytes] = {}
        self.replaced: tuple[Path, ...] = ()
        vocabulary = None
        try:
            vocabulary = self._plan_words()
        except RecordError as error:
            self.problems += error.findings
        self._plan_others(vocabulary)
        for study_id, content in arrival.studies.items():
            self.files[folder / "studies" / f"{study_id}.toml"] = content

    def report(self) -> AddReport:
        if self.problems:
            return AddReport(
                new_words=tuple(self.new_words),
                problems=tuple(self.problems),
                notes=tuple(self.notes),
            )
        names = {path: path.relative_to(self.folder).as_posix() for path in self.files}
        return AddReport(
            studies=tuple(self.arrival.studies),
            added=tuple(name for path, name in names.items() if path not in self.replaced),
            updated=tuple(names[path] for path in self.replaced),
            new_words=tuple(self.new_words),
            notes=tuple(self.notes),
        )

    def _already_there(self) -> list[Finding]:
        return [
            Finding(
                self.arrival.file,
                study_id,
                "fault",
                "already-there",
                f"expected a study the library does not have, found studies/{study_id}.toml "
                "already there: change or remove that file first",
            )
            for study_id in self.arrival.studies
            if (self.folder / "studies" / f"{study_id}.toml").exists()
        ]

    def _plan_words(self) -> Vocabulary | None:
        """The vocabulary as it will be; None where the library goes without."""
        path, brought = self.folder / VOCABULARY_FILE, self.arrival.others.get(VOCABULARY_FILE)
        there = path.exists()
        if not there and brought is None:
            return None
        before = read_text(path, file=VOCABULARY_FILE) if there else brought
        vocabulary = _vocabulary(before)
        text = before
        if there and brought is not None:
            text = with_vocabulary(before, _vocabulary(brought))
            grown = _vocabulary(text)
            self.new_words += [
                TableWord(kind, word.id, word.label, VOCABULARY_FILE)
                for kind in ("construct", "site", "tag")
                for word in getattr(grown, f"{kind}s")
                if word.id not in vocabulary.words(kind)
            ]
            vocabulary = grown
        words, slips = sort_words(self.arrival.words, vocabulary, file=self.arrival.file)
        self.problems += slips
        self.new_words += words
        if words and not self.problems:
            text = with_words(text, words)
            vocabulary = _vocabulary(text)
        if not there or text != before:
            self.files[path] = text.encode("utf-8")
            self.replaced = (path,) if there else ()
        return vocabulary

    def _plan_others(self, vocabulary: Vocabulary | None) -> None:
        for name, text in self.arrival.others.items():
            if name == VOCABULARY_FILE:
                continue
            looked = look_at_file(name, text)
            record = looked.record
            self.problems += looked.faults
            if isinstance(record, Question) and vocabulary is not None:
                self.problems += question_word_findings(record, vocabulary, file=name)
            if looked.faults:
                continue
            path = self.folder / name
            if not path.exists():
                self.files[path] = text.encode("utf-8")
            elif name in OWN_FILES:
                self.notes.append(f"{name} is passed over: the library has its own")
            elif _same(name, path, record):
                self.notes.append(f"{name} is passed over: the library has the same")
            else:
                message = (
                    f"expected what the library does not have, found another {name} already "
                    "there: change or remove that file first"
                )
                self.problems.append(
                    Finding(self.arrival.file, name, "fault", "already-there", message)
                )


def _vocabulary(text: str) -> Vocabulary:
    return validate(parse(text, file=VOCABULARY_FILE), Vocabulary, file=VOCABULARY_FILE)


def _same(name: str, path: Path, record: object) -> bool:
    try:
        return file_record(name, read_text(path, file=name)) == record
    except RecordError:
        return False


def _too_large(arrival: Arrival) -> list[Finding]:
    contents = {**arrival.studies}
    contents |= {name: text.encode("utf-8") for name, text in arrival.others.items()}
    return [
        Finding(
            arrival.file,
            name,
            "fault",
            "too-large",
            f"expected a record of at most {LARGEST_RECORD_BYTES:,} bytes, found {len(content):,}",
        )
        for name, content in contents.items()
        if len(content) > LARGEST_RECORD_BYTES
    ]
