"""What is typed into the form: all of it text, so that anything at all can be kept."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from steelyard.notebook.entry.cell import STYLES
from steelyard.notebook.entry.comparison_form import ComparisonForm
from steelyard.notebook.entry.overruling_form import OverrulingForm
from steelyard.notebook.entry.parts_form import PartsForm

SOURCE = (
    *("title", "author", "issued", "container-title", "volume", "issue", "page", "DOI", "URL"),
    *("type", "status", "status_note", "funding"),
)
DESIGN = (
    *("kind", "randomised", "blinded_assessors", "duration_weeks", "equated", "registered"),
    *("allocation", "cluster_size", "cluster_icc"),
)
POPULATION = ("description", "sex", "age_mean", "age_sd", "training_status", "n_randomised")
DOSE = (
    *("sessions_per_week", "sets_per_week", "sets_per_session", "exercises", "reps"),
    *("load_percent_1rm", "rest_s", "lowering_s", "reps_in_reserve"),
    *("direct_sets_per_week", "indirect_sets_per_week", "order"),
)
RELIABILITY = ("sem", "icc", "cv_percent", "where")
KINDS = {
    "pre": "Before",
    "post": "After",
    "change": "Change",
    "change_percent": "Change in %",
    "events": "People with it",
    "correlation": "Correlation",
}
"""What a paper may print for one arm at one time, and what the form calls it."""

ONE_NUMBER = frozenset({"events", "correlation"})
"""Kinds that are one number, without a spread."""

DETAILS = ("n", "r", "reading_error", "where", "read_off", "checked_by")
MOST_WEEKS = 24
LONGEST_WEEKS = 400


@dataclass
class ArmForm:
    """One arm as typed; `key` is the form's own name for it, `id` the record's, once it has one."""

    key: str
    id: str = ""
    label: str = ""
    tags: str = ""
    n: str = ""
    dose: dict[str, str] = field(default_factory=dict)


@dataclass
class OutcomeForm:
    """One outcome as typed, with its grid of results.

    Attributes
    ----------
    key, id : str
        The form's own name, and the record's once it has one.
    weeks : str
        As typed: ``12`` or ``6, 12``.
    prints : list of str
        Which of `KINDS` the paper prints.
    styles : dict
        How each column prints spread, by column.
    cells : dict
        Text by ``arm key|column``; see `columns`.
    parts : list of PartsForm
        Cells that the paper prints for parts of a group.
    details : dict
        By ``arm key|week``, each a dict with keys of `DETAILS`.
    where, read_off : str
        For all results that say nothing else.
    items, r_between_arms : str
        Number of items a score adds up; correlation between two arms of the same people.
    reliability : dict
        With keys of `RELIABILITY`.
    """

    key: str
    id: str = ""
    label: str = ""
    construct: str = ""
    site: str = ""
    measure: str = ""
    unit: str = ""
    better: str = "higher"
    whole_numbers: str = ""
    weeks: str = ""
    prints: list[str] = field(default_factory=lambda: ["pre", "post"])
    styles: dict[str, str] = field(default_factory=dict)
    cells: dict[str, str] = field(default_factory=dict)
    parts: list[PartsForm] = field(default_factory=list)
    details: dict[str, dict[str, str]] = field(default_factory=dict)
    where: str = ""
    read_off: str = ""
    items: str = ""
    r_between_arms: str = ""
    reliability: dict[str, str] = field(default_factory=dict)

    def style(self, column: str) -> str:
        """How a column prints spread; like the columns before it where nobody said."""
        style = "sd"
        for each in self.columns():
            style = self.styles.get(each, style)
            if each == column:
                break
        return self.styles.get(column, style)

    def week_texts(self) -> list[str]:
        """The weeks typed, each as text; at most `MOST_WEEKS` and none twice."""
        words = re.split(r"[;\s]+|,\s+|,(?=\S)", self.weeks[:LONGEST_WEEKS].strip())
        return list(dict.fromkeys(word for word in words if word))[:MOST_WEEKS]

    def columns(self) -> list[str]:
        """The grid's columns: ``pre``, then per week ``post@12``, ``change@12`` and so on."""
        after = [kind for kind in KINDS if kind != "pre" and kind in self.prints]
        columns = ["pre"] if "pre" in self.prints else []
        for week in self.week_texts() or [""]:
            columns += [f"{kind}@{week}" for kind in after]
        return columns

    def set_weeks(self, text: str) -> None:
        """Change the weeks; what stands in the first column of old goes to the first of new."""
        before = self.week_texts() or [""]
        self.weeks = text
        after = self.week_texts() or [""]
        moved = {
            old: new
            for old, new in zip(before, after, strict=False)
            if old not in after and new not in before
        }
        self.styles = {_moved(key, "@", moved): value for key, value in self.styles.items()}
        self.cells = {_moved(key, "@", moved): value for key, value in self.cells.items()}
        for each in self.parts:
            each.place = _moved(each.place, "@", moved)
        self.details = {_moved(key, "|", moved): value for key, value in self.details.items()}

    def numbers(self) -> Iterator[tuple[str, str]]:
        """Every number typed into the grid or its parts, with its place."""
        yield from self.cells.items()
        for each in self.parts:
            for row in each.rows:
                yield from ((each.place, row.get(key, "")) for key in ("n", "mean", "sd"))

    def parts_of(self, place: str) -> PartsForm | None:
        """What is typed in parts for one cell."""
        return next((each for each in self.parts if each.place == place and each.typed()), None)

    def add_parts(self, place: str = "") -> PartsForm:
        """Parts of one more cell, two of them to begin with."""
        style = self.style(place.partition("|")[2]) if place else "sd"
        parts = PartsForm(_free("g", self.parts), place, [{}, {}], style)
        self.parts.append(parts)
        return parts

    def detail(self, arm: str, week: str) -> dict[str, str]:
        """What is typed beside one arm's result at one week."""
        return self.details.setdefault(f"{arm}|{week}", {})


def _moved(key: str, mark: str, weeks: Mapping[str, str]) -> str:
    start, found, week = key.rpartition(mark)
    return f"{start}{mark}{weeks[week]}" if found and week in weeks else key


@dataclass
class FormState:
    """Everything typed for one study.

    Attributes
    ----------
    study_id : str
        As typed; empty takes it from author and year.
    editing : str
        Id of the study that is changed; empty for a new one.
    opened : str
        Mark of its file when it was opened.
    base : str
        Its text then.
    invented : str
        ``yes`` or empty.
    new_words : list of dict
        Words for the vocabulary: ``kind``, ``id``, ``label``.
    citation : str
        As pasted last.
    cited : dict
        What a citation has put into `source`, by key.
    comparisons : list of ComparisonForm
        What the paper prints of arms held against each other.
    answers : dict
        Answers to the questions of appraisal: ``answer`` and ``where`` by fact.
    exceptions : list of dict
        Answers that differ for one outcome: ``fact``, ``outcome`` (the form's key), ``answer``.
    overrulings : list of OverrulingForm
    scores : dict
        Sums of published scales as the paper prints them, by name.
    """

    study_id: str = ""
    editing: str = ""
    opened: str = ""
    base: str = ""
    invented: str = ""
    source: dict[str, str] = field(default_factory=dict)
    design: dict[str, str] = field(default_factory=dict)
    population: dict[str, str] = field(default_factory=dict)
    arms: list[ArmForm] = field(default_factory=list)
    outcomes: list[OutcomeForm] = field(default_factory=list)
    new_words: list[dict[str, str]] = field(default_factory=list)
    citation: str = ""
    cited: dict[str, str] = field(default_factory=dict)
    comparisons: list[ComparisonForm] = field(default_factory=list)
    answers: dict[str, dict[str, str]] = field(default_factory=dict)
    exceptions: list[dict[str, str]] = field(default_factory=list)
    overrulings: list[OverrulingForm] = field(default_factory=list)
    scores: dict[str, str] = field(default_factory=dict)

    @classmethod
    def blank(cls) -> FormState:
        """A form with nothing in it: two arms and one outcome, as most papers have."""
        return cls(
            arms=[ArmForm("a1"), ArmForm("a2")],
            outcomes=[OutcomeForm("o1")],
        )

    def arm(self, key: str) -> ArmForm:
        return next(arm for arm in self.arms if arm.key == key)

    def outcome(self, key: str) -> OutcomeForm:
        return next(outcome for outcome in self.outcomes if outcome.key == key)

    def add_arm(self) -> ArmForm:
        """One arm more, last."""
        arm = ArmForm(_free("a", self.arms))
        self.arms.append(arm)
        return arm

    def add_outcome(self) -> OutcomeForm:
        """One outcome more, last, with the weeks and columns of the one before."""
        outcome = OutcomeForm(_free("o", self.outcomes))
        if self.outcomes:
            last = self.outcomes[-1]
            outcome.weeks, outcome.prints = last.weeks, list(last.prints)
            outcome.styles, outcome.where = dict(last.styles), last.where
            outcome.read_off, outcome.construct = last.read_off, last.construct
            outcome.site = last.site
        self.outcomes.append(outcome)
        return outcome

    def add_comparison(self) -> ComparisonForm:
        """One comparison more, last, of the first outcome and the first two arms."""
        comparison = ComparisonForm(_free("c", self.comparisons))
        comparison.outcome = self.outcomes[0].key if self.outcomes else ""
        keys = [arm.key for arm in self.arms]
        comparison.intervention, comparison.comparator = (*keys, "", "")[:2]
        self.comparisons.append(comparison)
        return comparison

    def add_overruling(self, domain: str) -> OverrulingForm:
        """One overruling more, of a domain, for all outcomes."""
        overruling = OverrulingForm(_free("v", self.overrulings), domain=domain)
        self.overrulings.append(overruling)
        return overruling

    def remove_arm(self, key: str) -> None:
        """Take an arm, its results and what it was held against away."""
        self.arms = [arm for arm in self.arms if arm.key != key]
        self.comparisons = [
            each for each in self.comparisons if key not in (each.intervention, each.comparator)
        ]
        for outcome in self.outcomes:
            outcome.parts = [each for each in outcome.parts if not each.place.startswith(f"{key}|")]
            for table in (outcome.cells, outcome.details):
                for place in [place for place in table if place.startswith(f"{key}|")]:
                    del table[place]

    def remove_outcome(self, key: str) -> None:
        """Take an outcome, its results and what was judged of it alone away."""
        self.outcomes = [outcome for outcome in self.outcomes if outcome.key != key]
        self.comparisons = [each for each in self.comparisons if each.outcome != key]
        self.overrulings = [each for each in self.overrulings if each.outcome != key]
        self.exceptions = [each for each in self.exceptions if each.get("outcome") != key]

    def as_json(self) -> dict[str, Any]:
        return asdict(self)

    @property
    def title(self) -> str:
        return self.source.get("title", "").strip() or self.study_id.strip() or self.editing

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> FormState:
        """A form from a draft; what a draft does not have, or has wrong, is blank."""
        state = cls(**_texts(values, cls))
        for name in ("source", "design", "population", "cited", "scores"):
            setattr(state, name, _text_dict(values.get(name)))
        state.arms = [
            ArmForm(**_texts(each, ArmForm), dose=_text_dict(each.get("dose")))
            for each in _dicts(values.get("arms"))
            if isinstance(each.get("key"), str)
        ]
        state.outcomes = [
            _outcome(each)
            for each in _dicts(values.get("outcomes"))
            if isinstance(each.get("key"), str)
        ]
        for name in ("new_words", "exceptions"):
            setattr(state, name, [_text_dict(each) for each in _dicts(values.get(name))])
        state.comparisons = [
            ComparisonForm(
                **_texts(each, ComparisonForm),
                effects=[_text_dict(effect) for effect in _dicts(each.get("effects"))],
            )
            for each in _dicts(values.get("comparisons"))
            if isinstance(each.get("key"), str)
        ]
        state.overrulings = [
            OverrulingForm(**_texts(each, OverrulingForm))
            for each in _dicts(values.get("overrulings"))
            if isinstance(each.get("key"), str)
        ]
        state.answers = _dict_of_texts(values.get("answers"))
        blank = cls.blank()
        state.arms = state.arms or blank.arms
        state.outcomes = state.outcomes or blank.outcomes
        return state


def _outcome(values: Mapping[str, Any]) -> OutcomeForm:
    outcome = OutcomeForm(**_texts(values, OutcomeForm))
    prints = values.get("prints")
    if isinstance(prints, list):
        outcome.prints = [kind for kind in KINDS if kind in prints] or ["pre", "post"]
    styles = _text_dict(values.get("styles"))
    outcome.styles = {key: style for key, style in styles.items() if style in STYLES}
    outcome.cells = _text_dict(values.get("cells"))
    outcome.parts = [
        PartsForm(
            **_texts(each, PartsForm), rows=[_text_dict(row) for row in _dicts(each.get("rows"))]
        )
        for each in _dicts(values.get("parts"))
        if isinstance(each.get("key"), str)
    ]
    outcome.details = _dict_of_texts(values.get("details"))
    outcome.reliability = _text_dict(values.get("reliability"))
    return outcome


def _texts(values: Mapping[str, Any], kind: type) -> dict[str, str]:
    """Those values of a dataclass that are plain text."""
    return {
        name: values[name]
        for name, each in kind.__dataclass_fields__.items()
        if each.type == "str" and isinstance(values.get(name), str)
    }


def _text_dict(values: Any) -> dict[str, str]:
    if not isinstance(values, Mapping):
        return {}
    return {str(key): value for key, value in values.items() if isinstance(value, str)}


def _dict_of_texts(values: Any) -> dict[str, dict[str, str]]:
    if not isinstance(values, Mapping):
        return {}
    return {str(key): _text_dict(value) for key, value in values.items()}


def _dicts(values: Any) -> list[Mapping[str, Any]]:
    return (
        [each for each in values if isinstance(each, Mapping)] if isinstance(values, list) else []
    )


def _free(letter: str, taken: list) -> str:
    used = {each.key for each in taken}
    return next(f"{letter}{n}" for n in range(1, len(used) + 2) if f"{letter}{n}" not in used)
