"""From what is typed to a study, with everything wrong or missing said field by field."""

from __future__ import annotations

import copy
import datetime as dt
import functools
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from typing import Any

from steelyard.errors import Finding, RecordError
from steelyard.notebook.entry.appraisal import read_answers, read_overrulings, read_scores
from steelyard.notebook.entry.comparisons import read_comparisons
from steelyard.notebook.entry.fields import FieldReader
from steelyard.notebook.entry.grid import read_results
from steelyard.notebook.entry.loading import form_of_study
from steelyard.notebook.entry.naming import default_id, unlike
from steelyard.notebook.entry.partial import typed_path, without
from steelyard.notebook.entry.problem import Problem
from steelyard.notebook.entry.state import (
    DESIGN,
    DOSE,
    POPULATION,
    RELIABILITY,
    SOURCE,
    ArmForm,
    FormState,
    OutcomeForm,
)
from steelyard.records.cells import DecimalMarks, decimal_marks, is_blank
from steelyard.records.consistency import study_findings
from steelyard.records.reading import parse, validate
from steelyard.records.slugs import slug
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary

_NUMBERS = {"duration_weeks", "cluster_size", "cluster_icc", "age_mean", "age_sd"}
_YES_NO = {"randomised", "blinded_assessors"}
# Of a grid filled in cell by cell these say what is not typed yet, and nothing that is wrong.
_STILL_BLANK = frozenset({"post-without-pre"})
_TITLE, _ID = "a study without a title yet", "being-typed"


@dataclass(frozen=True, slots=True, eq=False)
class Built:
    """What the form holds.

    Attributes
    ----------
    values : dict
        A study's plain values; may lack what is still needed.
    study : Study or None
        As far as it can be read, for looking at while typing; placeholders stand for what is
        needed and blank. None where there is no arm or no outcome yet.
    problems : tuple of Problem
    arm_ids, outcome_ids, comparison_ids, overruling_ids : dict
        By what the record knows each, by the form's keys; those left blank are not there.
    field_of : callable
        From a path in `study` to the name of the field it was typed into; empty for none.
    """

    values: dict[str, Any]
    study: Study | None
    problems: tuple[Problem, ...]
    arm_ids: dict[str, str]
    outcome_ids: dict[str, str]
    comparison_ids: dict[str, str]
    overruling_ids: dict[str, str]
    field_of: Callable[[str], str]

    @property
    def ready(self) -> bool:
        """Whether it can be saved."""
        return not any(problem.kind != "hint" for problem in self.problems)


def build(state: FormState, vocabulary: Vocabulary, *, taken: Collection[str] = ()) -> Built:
    """Read the whole form.

    Parameters
    ----------
    state : FormState
    vocabulary : Vocabulary
        With the words the form adds.
    taken : collection of str
        Ids of the library's studies.
    """
    return _Builder(state, vocabulary, taken).built()


def marks_of(state: FormState) -> DecimalMarks:
    """Which decimal marks the numbers typed so far use."""
    cells = [text for outcome in state.outcomes for _, text in outcome.numbers()]
    cells += [text for arm in state.arms for text in (arm.n, *arm.dose.values())]
    cells += [effect.get("text", "") for each in state.comparisons for effect in each.effects]
    cells += [text for each in state.comparisons for text in (each.t, each.f, each.p)]
    return decimal_marks(text for text in cells if len(text) <= 200)


@functools.lru_cache(maxsize=4)
def _as_opened(base: str) -> FormState:
    return form_of_study(base, mark="")


class _Builder:
    def __init__(self, state: FormState, vocabulary: Vocabulary, taken: Collection[str]) -> None:
        self.state, self.vocabulary, self.taken = state, vocabulary, taken
        self.read = FieldReader(marks_of(state))
        self.where: dict[str, str] = {}
        self.as_typed: Callable[[str], str] = str
        self.base = parse(state.base, file="study") if state.base else {}
        self.opened = _as_opened(state.base) if state.base else FormState()

    def built(self) -> Built:
        values: dict[str, Any] = {"schema": 1}
        values |= copy.deepcopy(self.base)
        self._section(values, "source", SOURCE)
        self._section(values, "design", DESIGN)
        self._section(values, "population", POPULATION)
        self._invented(values)
        arms = self._arms(values)
        outcomes = self._outcomes(values)
        results = read_results(
            self.state, self.opened, self.base, arms=arms, outcomes=outcomes, read=self.read
        )
        self.where |= results.where
        self._put(values, "result", results.values or None)
        comparisons = read_comparisons(
            self.state, self.opened, self.base, arms=arms, outcomes=outcomes, read=self.read
        )
        self.where |= comparisons.where
        self._put(values, "comparison", comparisons.values or None)
        overrulings = self._appraised(values, outcomes)
        self._id(values)
        self._needed(values, arms, outcomes)
        study = self._validated(values)
        problems = tuple(dict.fromkeys(self.read.problems))
        ids = (arms, outcomes, comparisons.ids, overrulings)
        return Built(values, study, problems, *ids, self._field_in_study)

    def _appraised(self, values: dict[str, Any], outcomes: dict[str, str]) -> dict[str, str]:
        """Fill in what is judged of the study; names of the overrulings by the form's keys."""
        common = (self.state, self.opened, self.base)
        answers = read_answers(*common, outcomes=outcomes, read=self.read)
        self._put(values, "appraisal", answers)
        overrulings = read_overrulings(
            *common, outcomes=outcomes, read=self.read, today=dt.date.today()
        )
        self.where |= overrulings.where
        self._put(values, "appraisal_overruling", overrulings.values or None)
        self._put(values["design"], "scores", read_scores(*common, read=self.read))
        self.where |= {f"design.scores.{name}": f"scores.{name}" for name in self.state.scores}
        return overrulings.ids

    def _section(self, values: dict[str, Any], name: str, keys: Iterable[str]) -> None:
        typed, before = getattr(self.state, name), getattr(self.opened, name)
        section = values.setdefault(name, {})
        for key in keys:
            field, text = f"{name}.{key}", typed.get(key, "")
            self.where[f"{name}.{key}"] = field
            if text == before.get(key, ""):
                continue
            self._put(section, key, self._value(field, key, text))
        self.where[name] = f"{name}.{'kind' if name == 'design' else keys[0]}"
        if not section and name == "population":
            del values[name]

    def _value(self, field: str, key: str, text: str) -> Any:
        if key in ("issued", "n_randomised"):
            return self.read.whole(field, text)
        if key in _NUMBERS:
            return self.read.number(field, text)
        if key in _YES_NO:
            return self.read.yes_no(field, text)
        if key == "author":
            return self.read.authors(field, text)
        if key == "DOI":
            return self.read.doi(field, text)
        return self.read.words(field, text)

    def _invented(self, values: dict[str, Any]) -> None:
        if self.state.invented != self.opened.invented:
            self._put(values, "invented", True if self.state.invented == "yes" else None)

    def _arms(self, values: dict[str, Any]) -> dict[str, str]:
        """Fill in the arms; ids by the form's keys."""
        known = {word.id: word.label for word in self.vocabulary.tags}
        before = {arm.id: arm for arm in self.opened.arms}
        old = {arm["id"]: arm for arm in self.base.get("arm", ())}
        made, ids = [], {}
        for number, arm in enumerate(self.state.arms, 1):
            if not arm.id and self._untouched(arm):
                continue
            arm_id = arm.id or unlike(slug(arm.label or f"arm {number}", kind="arm"), ids.values())
            entry = copy.deepcopy(old.get(arm.id, {}))
            entry["id"] = arm_id
            was, field = before.get(arm.id, ArmForm("")), f"arm.{arm.key}"
            place = f"arm[{len(made) + 1}]"
            self.where |= {place: f"{field}.label", f"{place}.id": f"{field}.label"}
            for name in ("label", "tags", "n"):
                self.where[f"{place}.{name}"] = f"{field}.{name}"
                text = getattr(arm, name)
                if text == getattr(was, name) and name != "tags":
                    continue
                value = {
                    "label": lambda f, t: self.read.words(f, t),
                    "tags": lambda f, t: self.read.tags(f, t, known),
                    "n": lambda f, t: self.read.whole(f, t),
                }[name](f"{field}.{name}", text)
                if text != getattr(was, name):
                    self._put(entry, name, value)
            self._dose(entry, arm, was, place)
            made.append(entry)
            ids[arm.key] = arm_id
        self._put(values, "arm", made or None)
        return ids

    def _untouched(self, arm: ArmForm) -> bool:
        typed = (arm.label, arm.tags, arm.n, *arm.dose.values())
        cells = (
            text
            for outcome in self.state.outcomes
            for place, text in outcome.numbers()
            if place.startswith(f"{arm.key}|")
        )
        return not any(text.strip() for text in (*typed, *cells))

    def _dose(self, entry: dict[str, Any], arm: ArmForm, was: ArmForm, place: str) -> None:
        dose = dict(entry.get("dose", {}))
        for name in DOSE:
            field, text = f"arm.{arm.key}.dose.{name}", arm.dose.get(name, "")
            self.where[f"{place}.dose.{name}"] = field
            if text != was.dose.get(name, ""):
                read = {"reps": self.read.pair, "order": self.read.words}.get(
                    name, self.read.number
                )
                self._put(dose, name, read(field, text))
        self._put(entry, "dose", dose or None)

    def _outcomes(self, values: dict[str, Any]) -> dict[str, str]:
        """Fill in the outcomes; ids by the form's keys."""
        before = {outcome.id: outcome for outcome in self.opened.outcomes}
        old = {outcome["id"]: outcome for outcome in self.base.get("outcome", ())}
        made, ids = [], {}
        for number, outcome in enumerate(self.state.outcomes, 1):
            typed = [outcome.label, outcome.measure, outcome.unit]
            typed += [text for _, text in outcome.numbers()]
            if not outcome.id and not any(text.strip() for text in typed):
                continue
            name = outcome.label or outcome.measure or f"outcome {number}"
            outcome_id = outcome.id or unlike(slug(name, kind="outcome"), ids.values())
            entry = copy.deepcopy(old.get(outcome.id, {}))
            entry["id"] = outcome_id
            was, place = (
                before.get(outcome.id, OutcomeForm("", better="")),
                f"outcome[{len(made) + 1}]",
            )
            field = f"outcome.{outcome.key}"
            self.where |= {place: f"{field}.label", f"{place}.id": f"{field}.label"}
            for key in ("construct", "site", "label", "measure", "unit", "better"):
                self.where[f"{place}.{key}"] = f"{field}.{key}"
                text = getattr(outcome, key)
                if text != getattr(was, key):
                    self._put(entry, key, self.read.words(f"{field}.{key}", text))
            if outcome.whole_numbers != was.whole_numbers:
                self._put(entry, "whole_numbers", self.read.yes_no("", outcome.whole_numbers))
            self._reliability(entry, outcome, was, place)
            if not outcome.construct:
                self.read.tell(f"{field}.construct", "Choose what it measures.", "needed")
                entry["construct"] = "not-chosen"
            if not outcome.label.strip() and not outcome.measure.strip() and not outcome.id:
                self.read.tell(f"{field}.label", "Give the outcome a name.", "needed")
            made.append(entry)
            ids[outcome.key] = outcome_id
        self._put(values, "outcome", made or None)
        return ids

    def _reliability(
        self, entry: dict[str, Any], outcome: OutcomeForm, was: OutcomeForm, place: str
    ) -> None:
        """What the paper says of the measurement's own error, and of two arms of one person."""
        name = f"outcome.{outcome.key}"
        for key, read in (("items", self.read.whole), ("r_between_arms", self.read.number)):
            self.where[f"{place}.{key}"] = f"{name}.{key}"
            if getattr(outcome, key) != getattr(was, key):
                self._put(entry, key, read(f"{name}.{key}", getattr(outcome, key)))
        values = dict(entry.get("reliability", {}))
        for key in RELIABILITY:
            field, text = f"{name}.reliability.{key}", outcome.reliability.get(key, "")
            self.where[f"{place}.reliability.{key}"] = field
            if text != was.reliability.get(key, ""):
                read = self.read.words if key == "where" else self.read.number
                self._put(values, key, read(field, text))
        self._put(entry, "reliability", values or None)

    def _id(self, values: dict[str, Any]) -> None:
        self.where["id"] = "study_id"
        if self.state.editing:
            return
        typed = self.state.study_id.strip()
        study_id = slug(typed, kind="study") if typed else default_id(values)
        if study_id in self.taken:
            self.read.tell(
                "study_id",
                f"The library has a study {study_id} already: give this one another id.",
            )
        self._put(values, "id", study_id or None)

    def _needed(self, values: dict[str, Any], arms: dict, outcomes: dict) -> None:
        if not values["source"].get("title"):
            self.read.tell("source.title", "A study needs a title.", "needed")
        if not values["design"].get("kind"):
            self.read.tell("design.kind", "Choose how the study was made.", "needed")
        if not arms:
            self.read.tell(f"arm.{self.state.arms[0].key}.label", "Name an arm.", "needed")
        for arm in self.state.arms:
            if arm.key in arms and not arm.label.strip() and not arm.id:
                self.read.tell(f"arm.{arm.key}.label", "Give the arm a name.", "needed")
        if not outcomes:
            key = self.state.outcomes[0].key
            self.read.tell(f"outcome.{key}.label", "Name what was measured.", "needed")
        elif not values.get("result") and not values.get("comparison"):
            key = self.state.outcomes[0].key
            self.read.tell(f"grid.{key}", "Type at least one arm's numbers.", "needed")

    def _validated(self, values: dict[str, Any]) -> Study | None:
        """The study as far as it goes; what does not fit is said and left out."""
        if not values.get("arm") or not values.get("outcome"):
            return None
        whole = copy.deepcopy(values)
        whole["source"].setdefault("title", _TITLE)
        whole["design"].setdefault("kind", "parallel")
        whole.setdefault("id", _ID)
        typed = dict(whole)
        self.as_typed = lambda path: typed_path(path, whole, typed)
        for _ in range(3):
            try:
                study = validate(whole, Study, file="study")
            except RecordError as error:
                for finding in error.findings:
                    self._say(finding, self.as_typed(finding.path))
                if not without(whole, error.findings):
                    return None
                continue
            for finding in study_findings(study, self.vocabulary, file="study"):
                self._say(finding, self.as_typed(finding.path))
            return study
        return None

    def _field(self, path: str) -> str:
        """The field that a path, or the nearest part of it, was typed into."""
        while path and path not in self.where:
            path = path.rpartition(".")[0]
        return self.where.get(path, "")

    def _field_in_study(self, path: str) -> str:
        return self._field(self.as_typed(path))

    def _say(self, finding: Finding, path: str) -> None:
        field = self._field(path)
        if finding.rule in ("no-results", "needs-n", "unknown-construct"):
            already = finding.rule == "no-results" or "not-chosen" in finding.message
            if not already:
                kind = "needed" if finding.rule == "needs-n" else "bad"
                message = "Give n, for the arm or here." if kind == "needed" else finding.message
                self.read.tell(field, message, kind)
            if finding.rule == "needs-n":
                self._say_what_n_is_for(field)
            return
        kind = "bad" if finding.severity == "fault" else "hint"
        if kind == "bad" and finding.rule in _STILL_BLANK:
            kind = "needed"
        self.read.tell(field, finding.message, kind)

    def _say_what_n_is_for(self, field: str) -> None:
        """Say it beside the arm's own n as well, at once: its results are waiting for it."""
        key = (*field.split("."), "", "", "")[2]
        if key and is_blank(self.state.arm(key).n):
            message = "Give n: without it no effect follows from this arm’s numbers."
            self.read.tell(f"arm.{key}.n", message, "hint")

    @staticmethod
    def _put(target: dict[str, Any], key: str, value: Any) -> None:
        """Set a key, or take it out where there is nothing to set."""
        if value is None:
            target.pop(key, None)
        else:
            target[key] = value
