"""What the study being typed says, and what it does to each question it touches."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from steelyard.charts import forest_svg
from steelyard.effects.sides import sides_in_words
from steelyard.effects.table import EffectTable, build_table
from steelyard.errors import DesignError, EmptyQuestionError, SteelyardError
from steelyard.judging.integrity import IntegrityFinding, outlying_effects, suspects_of
from steelyard.judging.integrity.one_study import AmongOthers
from steelyard.library import Library
from steelyard.notebook.entry.live_effects import LiveEffect, LiveEffects, LiveOutcome
from steelyard.pooling.forest_data import forest_data
from steelyard.pooling.reweigh import reweigh
from steelyard.pooling.weigh import weigh
from steelyard.pooling.weighing import Weighing
from steelyard.records.question import Question
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary

_FOR_PEERS = ["study", "comparison", "outcome", "metric", "effect", "variance"]


@dataclass(frozen=True, slots=True, eq=False)
class LiveQuestion:
    """What the study does to one question.

    Attributes
    ----------
    id, asks : str
    before, after : Weighing or None
        Without the study as typed (but with the version on disk, if it is being changed), and
        with it.
    why_not : str
        Why there is no answer with it; empty where there is one.
    left_out : tuple of str
        Why results of this study are not pooled.
    """

    id: str
    asks: str
    before: Weighing | None
    after: Weighing | None
    why_not: str
    left_out: tuple[str, ...]
    study: str

    def picture(self, *, width: str = "page") -> str:
        """The forest plot with the study marked, as SVG text; empty where there is no answer."""
        if self.after is None:
            return ""
        return forest_svg(forest_data(self.after, mark=self.study), width=width)


@dataclass(frozen=True, slots=True)
class Live:
    """Everything shown while a study is typed."""

    outcomes: tuple[LiveOutcome, ...]
    findings: tuple[IntegrityFinding, ...]
    questions: tuple[LiveQuestion, ...]

    @property
    def effects(self) -> tuple[LiveEffect, ...]:
        """Those of every outcome."""
        return tuple(effect for outcome in self.outcomes for effect in outcome.effects)

    @property
    def not_formed(self) -> tuple[str, ...]:
        """What of every outcome gives no effect, with the reason."""
        return tuple(reason for outcome in self.outcomes for reason in outcome.not_formed)


class LiveLibrary:
    """A library held ready, so that one study more costs little.

    Parameters
    ----------
    library : Library
    study_id : str
        Id of the study that is being changed; empty for a new one.
    """

    def __init__(self, library: Library, study_id: str = "") -> None:
        self.library, self.study_id = library, study_id
        self.others = {each: study for each, study in library.studies.items() if each != study_id}
        self._without: dict[str, Weighing | None] = {}
        self._rows_without: dict[str, pd.DataFrame] = {}
        self._effects = LiveEffects(library.questions.values())

    @cached_property
    def _among_others(self) -> AmongOthers:
        return AmongOthers(self.others.values())

    def look(self, study: Study, vocabulary: Vocabulary) -> Live:
        """Effects, findings, and every question the study touches."""
        outcomes = self._effects.of(study, vocabulary)
        tables = {
            question.id: _table(question, study, vocabulary)
            for question in self.library.questions.values()
        }
        findings = (*self._among_others.findings(study), *self._far_off(study, tables))
        questions = [
            found
            for question in self.library.questions.values()
            if (found := self._touched(question, study, tables[question.id], findings)) is not None
        ]
        return Live(outcomes, tuple(sorted(findings, key=_lighter)), tuple(questions))

    def warm_up(self) -> None:
        """Do beforehand what does not depend on the study."""
        self._among_others  # noqa: B018
        for question in self.library.questions.values():
            self._before(question)
            self._others(question)
            self._other_rows(question.id)

    def _far_off(
        self, study: Study, tables: Mapping[str, EffectTable | None]
    ) -> tuple[IntegrityFinding, ...]:
        """Effects of the study far from their peers, as `Library.far_off` names them."""
        found: dict[str, IntegrityFinding] = {}
        for question_id, table in tables.items():
            if table is None or table.rows.empty:
                continue
            # A table without rows has no kinds of columns either.
            both = [self._other_rows(question_id), table.rows[_FOR_PEERS]]
            rows = pd.concat([each for each in both if len(each)])
            with suppress(ArithmeticError, ValueError):
                for finding in outlying_effects(rows, of=study.id):
                    found[finding.outcome] = finding
        return tuple(found.values())

    def _other_rows(self, question_id: str) -> pd.DataFrame:
        """The effects of the other studies under a question."""
        if question_id not in self._rows_without:
            rows = self.library.effect_table(question_id).rows
            self._rows_without[question_id] = rows.loc[rows["study"] != self.study_id, _FOR_PEERS]
        return self._rows_without[question_id]

    def _touched(
        self,
        question: Question,
        study: Study,
        table: EffectTable | None,
        findings: tuple[IntegrityFinding, ...],
    ) -> LiveQuestion | None:
        """One question; where these numbers cannot be weighed, that is said in its place."""
        if table is not None and table.rows.empty and not table.left_out:
            return None
        if table is not None:
            with suppress(SteelyardError, ArithmeticError, ValueError):
                return self._question(question, study, table, suspects_of(question, findings))
        why_not = "It cannot be weighed with the numbers typed so far."
        return LiveQuestion(question.id, question.asks, None, None, why_not, (), study.id)

    def _question(
        self, question: Question, study: Study, table: EffectTable, suspects: Mapping
    ) -> LiveQuestion:
        reasons = tuple(dict.fromkeys(out.reason for out in table.left_out))
        after, why_not = None, ""
        try:
            after = self._with(question, table, study, suspects)
        except (EmptyQuestionError, DesignError) as nothing:
            why_not = str(nothing)
        before = self._before(question)
        if after is not None:
            reasons = tuple(out.reason for out in after.left_out if out.study == study.id)
        return LiveQuestion(question.id, question.asks, before, after, why_not, reasons, study.id)

    def _with(
        self, question: Question, table: EffectTable, study: Study, suspects: Mapping
    ) -> Weighing:
        others = self._others(question)
        if others is not None:
            return reweigh(others, table, suspects=suspects, invented=study.invented)
        names = sides_in_words(question, self.library.vocabulary)
        return weigh(
            question,
            table,
            suspects=suspects,
            intervention=names[0],
            comparator=names[1],
            invented=question.invented or study.invented,
        )

    def _before(self, question: Question) -> Weighing | None:
        """The answer as the library gives it now."""
        if self.study_id not in self.library.studies:
            return self._others(question)
        try:
            return self.library.weigh(question.id)
        except (EmptyQuestionError, DesignError):
            return None

    def _others(self, question: Question) -> Weighing | None:
        """The answer without the study, weighed once; None where there is none."""
        if question.id not in self._without:
            try:
                self._without[question.id] = self.library.weigh_question(
                    question, studies=self.others
                )
            except (EmptyQuestionError, DesignError):
                self._without[question.id] = None
        return self._without[question.id]


def _lighter(finding: IntegrityFinding) -> tuple[bool, bool]:
    """What comes later in a list: what casts no doubt on a result, then what is only a note."""
    return (not finding.suspect, finding.severity == "note")


def _table(question: Question, study: Study, vocabulary: Vocabulary) -> EffectTable | None:
    """The study's effects under a question; None where these numbers lead to none at all."""
    with suppress(SteelyardError, ArithmeticError, ValueError):
        return build_table(question, [study], vocabulary)
    return None
