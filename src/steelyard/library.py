"""A library opened: its records, and the questions one can put to them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from functools import cached_property
from pathlib import Path

from steelyard.effects.design_notes import design_notes
from steelyard.effects.sides import sides_in_words
from steelyard.effects.table import EffectTable, build_table
from steelyard.errors import Finding, RecordError, UsageError
from steelyard.judging.appraisal.findings import overruling_findings
from steelyard.judging.certainty import Certainty, CertaintyRules, certainty_rules, judge_certainty
from steelyard.judging.checks import (
    empty_question_findings,
    read_once_findings,
    review_findings,
)
from steelyard.judging.dose_sums import dose_sum_findings
from steelyard.judging.earlier import MOST_STATES, State, find_state, state_folder
from steelyard.judging.integrity import (
    integrity_findings,
    outlying_effects,
    suspect_results,
    suspects_of,
)
from steelyard.judging.overview import Reviews, review_all
from steelyard.judging.person import Person
from steelyard.judging.statement_claims import statement_findings
from steelyard.pooling.display import ReadingData
from steelyard.pooling.reading_data import reading_data
from steelyard.pooling.study_reading import StudyReading, read_study
from steelyard.pooling.weigh import weigh
from steelyard.pooling.weighing import Weighing
from steelyard.records.file_names import RULES_FILE
from steelyard.records.fingerprint import fingerprint
from steelyard.records.question import Question
from steelyard.records.recommendation import Recommendation
from steelyard.records.record_set import RecordSet, load_records
from steelyard.records.shipped import shipped_library, shipped_workbook
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.show import count

__all__ = ["Library", "open_library", "shipped_library", "shipped_workbook"]
LOOK_AT = 10  # states that a review searches unasked


class Library:
    """Studies, questions and recommendations, and what follows from them.

    Use `open_library` to make one. Nothing here writes to disk.
    """

    def __init__(self, records: RecordSet, *, state: State | None = None) -> None:
        self.records = records
        self.state = state
        # Called with what is being worked out, where somebody waits for it.
        self.on_step: Callable[[str], None] | None = None
        self._weighings: dict[str, Weighing] = {}
        self._tables: dict[str, EffectTable] = {}
        self._certainties: dict[tuple, Certainty] = {}
        self._known: dict[State, set[str]] = {}

    def _step(self, doing: str) -> None:
        if self.on_step is not None:
            self.on_step(doing)

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
        self._step(f"looking at the numbers of {count(len(self.studies), 'study', 'studies')}")
        return tuple(integrity_findings(self.studies))

    @cached_property
    def far_off(self) -> tuple[Finding, ...]:
        """Effects far from their peers, question by question; each named once."""
        found = {
            (finding.study, finding.outcome): finding
            for question in self.questions
            for finding in outlying_effects(self.effect_table(question).rows)
        }
        return tuple(found.values())

    @cached_property
    def rules(self) -> CertaintyRules:
        """The library's own rules of certainty, else those that ship.

        Raises
        ------
        RecordError
            If its own file is not such rules.
        """
        try:
            return certainty_rules(self.folder)
        except UsageError as error:
            message = str(error).removeprefix(RULES_FILE).lstrip(" ,")
            finding = Finding(RULES_FILE, "", "fault", "certainty-rules", message)
            raise RecordError([finding]) from error

    @cached_property
    def faults(self) -> tuple[Finding, ...]:
        """Every fault in the files that answers rest on."""
        try:
            self.rules  # noqa: B018 - to see whether they can be read
        except RecordError as error:
            return (*self.records.faults, *error.findings)
        return self.records.faults

    def check(self) -> tuple[Finding, ...]:
        """Every fault, warning and note in the library, gravest first."""
        order = {"fault": 0, "warning": 1, "note": 2}
        today, tables = dt.date.today(), {each: self.effect_table(each) for each in self.questions}
        found = [*self.records.findings, *self.integrity, *self.far_off]
        found += [fault for fault in self.faults if fault not in self.records.faults]
        found += empty_question_findings(tables)
        found += overruling_findings(self.studies, today=today)
        found += review_findings(
            self.recommendations, fingerprints=self._fingerprint_of, today=today
        )
        found += dose_sum_findings(self.recommendations)
        found += statement_findings(self.recommendations, self)
        found += read_once_findings(self.studies, folder=self.folder)
        return tuple(sorted(found, key=lambda finding: (order[finding.severity], finding.file)))

    def effect_table(self, question_id: str) -> EffectTable:
        """The effect table of a question and what was left out of it."""
        if question_id not in self._tables:
            question = self.records.find("question", question_id)
            self._step(f"forming the effects of {question_id}")
            self._tables[question_id] = build_table(
                question, self.studies.values(), self.vocabulary
            )
        return self._tables[question_id]

    def effects(self, question_id: str | None = None):
        """The effect table as a DataFrame: of one question, or of all, one after another."""
        import pandas as pd

        if question_id is not None:
            return self.effect_table(question_id).rows.copy()
        tables = []
        for each in self.questions:
            rows = self.effect_table(each).rows
            tables.append(rows.assign(question=each))
        if not tables:
            faults = [fault for fault in self.faults if fault.file.startswith("questions/")]
            if faults:
                raise RecordError(faults)
            raise UsageError("the library has no question to form effects for")
        return pd.concat([table for table in tables if len(table)] or tables, ignore_index=True)

    def reading(self, study_id: str) -> ReadingData:
        """What the reading chart of one study shows: all its outcomes, a panel for each scale."""
        return reading_data(self.read(study_id))

    def read(self, study_id: str) -> StudyReading:
        """One study read whole: every outcome at every week, each on a scale it can be told on."""
        study = self.records.find("study", study_id)
        suspects = {
            outcome: reason
            for (each, outcome), reason in suspect_results(self.integrity).items()
            if each == study_id
        }
        return read_study(
            study,
            questions=self.questions.values(),
            vocabulary=self.vocabulary,
            suspects=suspects,
            held_out_of=[
                question.id
                for question in self.questions.values()
                if suspects and self._holds_out(question, study_id, suspects)
            ],
        )

    def _holds_out(self, question: Question, study_id: str, outcomes: Mapping[str, str]) -> bool:
        if question.model.suspect != "hold-out":
            return False
        rows = self.effect_table(question.id).rows
        return bool(((rows["study"] == study_id) & rows["outcome"].isin(list(outcomes))).any())

    def weigh(self, question_id: str) -> Weighing:
        """The weighed answer to a question."""
        if question_id not in self._weighings:
            question = self.records.find("question", question_id)
            self._weighings[question_id] = self.weigh_question(question)
        return self._weighings[question_id]

    def weigh_question(
        self, question: Question, *, studies: Mapping[str, Study] | None = None
    ) -> Weighing:
        """Weigh any question, also one that is not in the library, or over other studies."""
        if studies is None and self.questions.get(question.id) is question:
            studies, table = self.studies, self.effect_table(question.id)
        else:
            studies = self.studies if studies is None else studies
            table = build_table(question, studies.values(), self.vocabulary)
        counted = _counted(table, studies)
        named = sides_in_words(question, self.vocabulary)
        suspects = suspects_of(question, (*self.integrity, *self.far_off))
        self._step(f"weighing {question.id}")
        return weigh(
            question,
            table,
            suspects=suspects,
            intervention=named[0],
            comparator=named[1],
            invented=question.invented or any(study.invented for study in counted),
            fingerprint=fingerprint([question, *counted]),
            design_notes={study.id: design_notes(study) for study in counted},
        )

    def fingerprints(self) -> set[str]:
        """The evidence fingerprint of every question."""
        return set(self._fingerprint_of.values())

    @cached_property
    def _fingerprint_of(self) -> dict[str, str]:
        return {
            name: fingerprint([question, *_counted(self.effect_table(name), self.studies)])
            for name, question in self.questions.items()
        }

    def certainty(
        self,
        question_id: str,
        person: Person | None = None,
        *,
        recommendation: Recommendation | None = None,
    ) -> Certainty:
        """How sure the answer to a question is: for a person, and as a recommendation has it."""
        sites = recommendation.sites if recommendation else ()
        overrides = recommendation.overrides if recommendation else ()
        key = (question_id, person, sites, overrides, dt.date.today())
        if key not in self._certainties:
            self._certainties[key] = judge_certainty(
                self.weigh(question_id),
                self.studies,
                person=person,
                sites=sites,
                overrides=overrides,
                rules=self.rules,
            )
        return self._certainties[key]

    def review(self, today: dt.date | None = None) -> Reviews:
        """Every recommendation, told against now."""
        named, faults = self.recommendations, self.records.faults
        self._step("holding what was told against now")
        return review_all(self, named, faults=faults, today=today, earlier=self._studies_at)

    def at(self, at: str, *, most: int = MOST_STATES, around: dt.date | None = None) -> Library:
        """The library at an earlier fingerprint or date, from version control.

        A fingerprint is found sooner if the day `around` which it was taken is known.
        """
        state = find_state(
            self.folder,
            at,
            fingerprints=_fingerprints,
            known=self._known,
            most=most,
            around=around,
        )
        with state_folder(self.folder, state) as folder:
            library = Library(load_records(folder), state=state)
            library.rules  # noqa: B018 - read before the folder goes away
        return library

    def _studies_at(self, mark: str, *, around: dt.date | None) -> Mapping[str, Study]:
        return self.at(mark, most=LOOK_AT, around=around).studies


def _fingerprints(folder: Path) -> set[str]:
    return open_library(folder).fingerprints()


def _counted(table: EffectTable, studies: Mapping[str, Study]) -> list[Study]:
    """The studies a weighing rests on, or leaves out with a reason."""
    touched = {*table.rows["study"], *(out.study for out in table.left_out)}
    return [studies[study] for study in sorted(touched)]


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
