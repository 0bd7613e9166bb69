"""A library opened: its records, and the questions one can put to them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from pathlib import Path

from steelyard.effects.table import EffectTable, build_table
from steelyard.effects.whole_study import whole_study
from steelyard.errors import Finding, UsageError
from steelyard.judging.integrity import integrity_findings, suspect_results
from steelyard.pooling.display import ReadingData
from steelyard.pooling.reading_data import reading_data
from steelyard.pooling.weigh import weigh
from steelyard.pooling.weighing import Weighing
from steelyard.records.fingerprint import fingerprint
from steelyard.records.question import Question
from steelyard.records.recommendation import Recommendation
from steelyard.records.record_set import RecordSet, load_records
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary


class Library:
    """Studies, questions and recommendations, and what follows from them.

    Use `open_library` to make one. Nothing here writes to disk.
    """

    def __init__(self, records: RecordSet) -> None:
        self.records = records
        self._weighings: dict[str, Weighing] = {}

    @property
    def folder(self) -> Path:
        return self.records.folder

    @property
    def studies(self) -> Mapping[str, Study]:
        return self.records.studies

    @property
    def questions(self) -> Mapping[str, Question]:
        return self.records.questions

    @property
    def recommendations(self) -> Mapping[str, Recommendation]:
        return self.records.recommendations

    @property
    def vocabulary(self) -> Vocabulary:
        return self.records.vocabulary or Vocabulary()

    @cached_property
    def integrity(self) -> tuple[Finding, ...]:
        """What the numbers themselves give away, over all studies."""
        return tuple(integrity_findings(self.studies))

    def check(self) -> tuple[Finding, ...]:
        """Every fault, warning and note in the library, gravest first."""
        order = {"fault": 0, "warning": 1, "note": 2}
        found = [*self.records.findings, *self.integrity, *self._empty_questions()]
        return tuple(sorted(found, key=lambda finding: (order[finding.severity], finding.file)))

    def effect_table(self, question_id: str) -> EffectTable:
        """The effect table of a question and what was left out of it."""
        question = self.records.find("question", question_id)
        return build_table(question, self.studies.values(), self.vocabulary)

    def effects(self, question_id: str | None = None):
        """The effect table as a DataFrame: of one question, or of all, one after another."""
        import pandas as pd

        if question_id is not None:
            return self.effect_table(question_id).rows
        tables = []
        for each in self.questions:
            rows = self.effect_table(each).rows
            tables.append(rows.assign(question=each))
        if not tables:
            raise UsageError("the library has no question to form effects for")
        return pd.concat([table for table in tables if len(table)] or tables, ignore_index=True)

    def study_effects(self, study_id: str, *, metric: str = "standardised") -> EffectTable:
        """Every effect one study holds, at each outcome's last week."""
        study = self.records.find("study", study_id)
        return whole_study(
            study, questions=self.questions.values(), metric=metric, vocabulary=self.vocabulary
        )

    def reading(self, study_id: str) -> ReadingData:
        """What the reading chart of one study shows: all its outcomes, in SD units."""
        table = self.study_effects(study_id)
        worthwhile = [
            float(question.smallest_worthwhile)
            for question in self.questions.values()
            if question.metric == "standardised" and question.smallest_worthwhile is not None
        ]
        study = self.studies[study_id]
        return reading_data(
            study, table, worthwhile=min(worthwhile, default=None), vocabulary=self.vocabulary
        )

    def weigh(self, question_id: str) -> Weighing:
        """The weighed answer to a question."""
        if question_id not in self._weighings:
            question = self.records.find("question", question_id)
            self._weighings[question_id] = self.weigh_question(question)
        return self._weighings[question_id]

    def weigh_question(self, question: Question) -> Weighing:
        """Weigh any question, also one that is not in the library."""
        table = build_table(question, self.studies.values(), self.vocabulary)
        touched = {*table.rows["study"], *(out.study for out in table.left_out)}
        counted = [self.studies[study] for study in sorted(touched)]
        named = self._names(question)
        return weigh(
            question,
            table,
            suspects=suspect_results(self.integrity),
            intervention=named[0],
            comparator=named[1],
            invented=question.invented or any(study.invented for study in counted),
            fingerprint=fingerprint([question, *counted]),
        )

    def _names(self, question: Question) -> tuple[str, str]:
        if question.dose is not None:
            what = question.dose.replace("_per_week", "").replace("_", " ")
            weekly = " a week" if question.dose.endswith("_per_week") else ""
            return f"more {what}{weekly}", f"fewer {what}{weekly}"
        tag = self.vocabulary.label
        return tuple(
            " or ".join(tag("tag", word) for word in words or ())
            for words in (question.intervention, question.comparator)
        )

    def _empty_questions(self) -> list[Finding]:
        found = []
        for question_id in self.questions:
            table = self.effect_table(question_id)
            if table.rows.empty:
                message = "finds no effect: no study has the arms and outcomes it asks for"
                if table.left_out:
                    reasons = {out.reason for out in table.left_out}
                    message = f"finds no effect: {'; '.join(sorted(reasons))}"
                file = f"questions/{question_id}.toml"
                found.append(Finding(file, "", "warning", "empty-question", message))
        return found


def open_library(
    path: str | Path | None = None, *, progress: Callable[[int, int], None] | None = None
) -> Library:
    """Open a library folder; the one that ships if none is named.

    Parameters
    ----------
    path : str or Path, optional
        The folder.
    progress : callable, optional
        Called with (files read, files in all).

    Raises
    ------
    UsageError
        If the folder is not there or is not a library.
    """
    return Library(load_records(shipped_library() if path is None else path, progress=progress))


def shipped_library() -> Path:
    """The library that ships: ``evidence/`` of the checkout, else the copy in the package."""
    here = Path(__file__).resolve()
    for folder in (here.parents[2] / "evidence", here.parent / "shipped" / "evidence"):
        if (folder / "vocabulary.toml").exists():
            return folder
    raise UsageError("the shipped library is not there; name one with --library")


def shipped_workbook() -> Path:
    """The folder of notebooks that ships beside the library."""
    here = Path(__file__).resolve()
    for folder in (here.parents[2] / "workbook", here.parent / "shipped" / "workbook"):
        if folder.is_dir():
            return folder
    raise UsageError("the workbook is not there: expected the folder workbook of the project")
