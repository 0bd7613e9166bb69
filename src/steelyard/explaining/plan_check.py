"""A weekly plan against the recommendations: what agrees, what goes beyond, what is missing."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from steelyard.explaining.plan_table import PlanRow
from steelyard.records.recommendation import Recommendation
from steelyard.show import Table, number

AGREES = "agrees"
BEYOND = "beyond the evidence"
BELOW = "below what is advised"
MISSING = "missing"
NOTHING = "no recommendation speaks of it"
PRACTICE = "common practice"
# Common practice for exercises of one small muscle group, no study behind it.
SMALL_MUSCLE = {
    "reps": (10.0, 20.0),
    "sets": (2.0, 3.0),
    "exercises": (2.0, 3.0),
    "sessions": (2.0, 3.0),
}
SMALL_MUSCLE_ORDER = "at the end of the session"
SMALL_MUSCLES = (
    *("biceps", "triceps", "forearm", "calf", "calves", "neck", "rotator cuff", "wrist"),
    *("rear delt", "side raise", "lateral raise", "curl", "shin", "grip"),
)
NOT_SMALL = ("leg curl", "hamstring curl", "nordic")
_NAMES = {
    "sets": "sets a session",
    "sessions_per_week": "sessions a week",
    "sets_per_week": "sets a week",
    "reps": "repetitions",
    "load_percent_1rm": "load, % of 1RM",
    "rest_s": "rest, s",
    "lowering_s": "lowering, s",
}


@dataclass(frozen=True, slots=True)
class PlanFinding:
    """One thing about one line of a plan, or about what no line holds.

    Attributes
    ----------
    verdict : str
        `AGREES`, `BEYOND`, `BELOW`, `MISSING`, `NOTHING` or `PRACTICE`.
    exercise : str
        Empty for what is missing from the plan as a whole.
    recommendation : str
        Its id; empty for common practice.
    what : str
    """

    verdict: str
    exercise: str
    recommendation: str
    what: str


@dataclass(frozen=True, slots=True)
class PlanCheck:
    """A plan held against recommendations."""

    findings: tuple[PlanFinding, ...]
    invented: bool

    def table(self) -> Table:
        """The findings, those that need a look first."""
        order = (BEYOND, MISSING, BELOW, PRACTICE, NOTHING, AGREES)
        ranked = sorted(self.findings, key=lambda each: order.index(each.verdict))
        notes = [
            "Held against the library's recommendations; common practice has no study behind it "
            "and is marked.",
            "General information, not medical advice: a physician's or physiotherapist's word "
            "comes first.",
        ]
        if self.invented:
            notes.append("Invented data, for demonstration.")
        return Table(
            "The plan against the recommendations",
            ("verdict", "exercise", "what", "recommendation"),
            tuple((e.verdict, e.exercise, e.what, e.recommendation) for e in ranked),
            tuple(notes),
        )

    def __str__(self) -> str:
        return str(self.table())

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def plan_check(library: Any, plan: Iterable[PlanRow]) -> PlanCheck:
    """Hold every line of a plan against every recommendation that has a dose.

    A line belongs to a recommendation if it names one of its tags or sites, in its own columns
    or in the exercise's name.

    Parameters
    ----------
    library : Library
    plan : iterable of PlanRow
    """
    rows = tuple(plan)
    findings: list[PlanFinding] = []
    spoken: set[int] = set()
    for record in library.recommendations.values():
        if not any(
            getattr(record.dose, name) is not None for name in type(record.dose).model_fields
        ):
            continue
        marks = _marks(library, record)
        mine = [row for row in rows if _belongs(row, marks)]
        spoken |= {row.row for row in mine}
        if not mine:
            what = f"nothing in the plan answers to: {record.statement}"
            findings.append(PlanFinding(MISSING, "", record.id, what))
            continue
        findings += _held(record, mine)
    for row in rows:
        small = is_small_muscle(row)
        if small:
            findings += _practice(row, rows)
        if row.row not in spoken and not small:
            what = "neither for nor against"
            findings.append(PlanFinding(NOTHING, row.exercise, "", what))
    invented = any(record.invented for record in library.recommendations.values())
    return PlanCheck(tuple(findings), invented)


def is_small_muscle(row: PlanRow) -> bool:
    """Whether an exercise is for one small muscle group, by the words in it."""
    name = f"{row.exercise} {row.site}".lower()
    if any(word in name for word in NOT_SMALL):
        return False
    return any(word in name for word in SMALL_MUSCLES)


def _marks(library: Any, record: Recommendation) -> set[str]:
    """Words by which an exercise is known to belong to a recommendation."""
    marks: set[str] = set(record.sites)
    for question_id in record.questions:
        question = library.questions.get(question_id)
        if question is None:
            continue
        marks |= {*(question.sites or ()), *(question.intervention or ())}
    label: Mapping[str, str] = {
        each: library.vocabulary.label(kind, each) for each in marks for kind in ("site", "tag")
    }
    return {word.lower().replace("-", " ") for each in marks for word in (each, label[each])}


def _belongs(row: PlanRow, marks: set[str]) -> bool:
    named = f"{row.exercise} {row.site} {row.tag}".lower().replace("-", " ")
    # A plural in the library's words is met by its singular too: hamstrings, hamstring.
    stems = {mark.removesuffix("s") for mark in marks if len(mark) > 3}
    return any(re.search(rf"\b{re.escape(stem)}", named) for stem in stems)


def _held(record: Recommendation, rows: list[PlanRow]) -> list[PlanFinding]:
    findings = []
    weekly = (sum(r.sets_per_week[0] for r in rows), sum(r.sets_per_week[1] for r in rows))
    names = ", ".join(dict.fromkeys(row.exercise for row in rows))
    if record.dose.sets_per_week is not None:
        findings.append(_one(record, names, "sets_per_week", weekly))
    for row in rows:
        parts = {
            "sessions_per_week": row.sessions,
            "reps": row.reps,
            "load_percent_1rm": row.load_percent_1rm,
            "rest_s": row.rest_s,
            "lowering_s": row.lowering_s,
        }
        for name, planned in parts.items():
            if getattr(record.dose, name) is None:
                continue
            if planned is None:
                advised = _said(_advised(record, name))
                what = f"{_NAMES[name]}: the plan does not say; advised {advised}"
                findings.append(PlanFinding(MISSING, row.exercise, record.id, what))
            else:
                findings.append(_one(record, row.exercise, name, planned))
    return findings


def _advised(record: Recommendation, name: str) -> tuple[float, float]:
    low, high = getattr(record.dose, name)
    return float(low), float(high)


def _one(record: Recommendation, exercise: str, name: str, planned) -> PlanFinding:
    low, high = _advised(record, name)
    what = f"{_NAMES[name]}: {_said(planned)} planned, {_said((low, high))} advised"
    verdict = AGREES
    if planned[1] > high:
        verdict = BEYOND
    elif planned[0] < low:
        verdict = BELOW
    return PlanFinding(verdict, exercise, record.id, what)


def _practice(row: PlanRow, rows: tuple[PlanRow, ...]) -> list[PlanFinding]:
    """Common practice for a small muscle group, said to be no more than that."""
    site = row.site.lower()
    same = [other for other in rows if is_small_muscle(other) and other.site.lower() == site]
    parts = {"reps": row.reps, "sets": row.sets, "sessions": row.sessions}
    if site:
        parts["exercises"] = (float(len(same)), float(len(same)))
    words = {"sets": "sets", "reps": "repetitions", "sessions": "sessions a week"}
    found = []
    for name, planned in parts.items():
        low, high = SMALL_MUSCLE[name]
        named = words.get(name, "exercises")
        said = "not said" if planned is None else f"{_said(planned)} planned"
        inside = planned is not None and low <= planned[0] and planned[1] <= high
        fits = "fits" if inside else "differs from"
        found.append(f"{named}: {said}, {fits} the usual {_said((low, high))}")
    found.append(f"usually {SMALL_MUSCLE_ORDER}")
    return [PlanFinding(PRACTICE, row.exercise, "", "; ".join(found))]


def _said(span: tuple[float, float]) -> str:
    low, high = (number(end, decimals=0 if float(end).is_integer() else 1) for end in span)
    return low if low == high else f"{low} to {high}"
