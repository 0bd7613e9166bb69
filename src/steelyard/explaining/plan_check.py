"""A weekly plan against the recommendations: what agrees, what goes beyond, what is missing."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from typing import Any

from steelyard.explaining.plan_table import Plan, PlanRow, column_names, plan_of, read_plan
from steelyard.explaining.record_words import in_language
from steelyard.explaining.wording.catalogue import Catalogue, catalogue
from steelyard.records.recommendation import Recommendation
from steelyard.records.settings import Settings
from steelyard.show import Table

AGREES = "agrees"
BEYOND = "beyond"
BELOW = "below"
MISSING = "missing"
NOTHING = "nothing"
PRACTICE = "practice"
UNREAD = "unread"
# What needs a look comes first.
IN_ORDER = (UNREAD, BEYOND, MISSING, BELOW, PRACTICE, NOTHING, AGREES)
COLUMNS = ("verdict", "exercise", "what", "recommendation")
# Common practice for exercises of one small muscle group, no study behind it.
SMALL_MUSCLE = {
    "reps": (10.0, 20.0),
    "sets": (2.0, 3.0),
    "sessions": (2.0, 3.0),
    "exercises": (2.0, 3.0),
}


@dataclass(frozen=True, slots=True)
class PlanFinding:
    """One thing about one line of a plan, or about what no line holds.

    Attributes
    ----------
    verdict : str
        `AGREES`, `BEYOND`, `BELOW`, `MISSING`, `NOTHING`, `PRACTICE` or `UNREAD`.
    exercise : str
        Empty for what is missing from the plan as a whole; of `UNREAD`, the headings.
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
    words: Catalogue

    def table(self) -> Table:
        """The findings, those that need a look first; one row per verdict on an exercise."""
        say = self.words.say
        together: dict[tuple[str, str, str], list[str]] = {}
        for each in sorted(self.findings, key=lambda one: IN_ORDER.index(one.verdict)):
            key = (each.verdict, each.exercise, each.recommendation)
            together.setdefault(key, []).append(each.what)
        notes = [say("plan.practice_note"), say("plan.caution")]
        if self.invented:
            notes.append(say("page.invented"))
        return Table(
            say("plan.title"),
            tuple(
                say(f"plan.{name}") for name in ("verdict", "exercise", "what", "recommendation")
            ),
            tuple(
                (say(f"plan_verdict.{verdict}"), exercise, "\n".join(what), recommendation)
                for (verdict, exercise, recommendation), what in together.items()
            ),
            tuple(notes),
        )

    def as_json(self) -> dict[str, object]:
        """Every finding."""
        return {"findings": [asdict(each) for each in self.findings], "invented": self.invented}

    def __str__(self) -> str:
        return str(self.table())

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def plan_check(
    library: Any, plan: Plan, *, settings: Settings | None = None, language: str | None = None
) -> PlanCheck:
    """Hold every line of a plan against every recommendation that has a dose.

    A line belongs to a recommendation if it names one of its tags or sites, in its own columns
    or in the exercise's name.

    Parameters
    ----------
    library : Library
    plan : Plan
    settings, language
        As in `explain`.
    """
    settings = settings or Settings()
    tag = language or settings.language
    words = catalogue(tag, terms=settings.terms.get(tag))
    rows = plan.rows
    not_read = words.say("plan.not_read", known=column_names(words))
    unread = ", ".join(plan.unread)
    findings = [PlanFinding(UNREAD, unread, "", not_read)] if unread else []
    spoken: set[int] = set()
    for record in library.recommendations.values():
        if not any(
            getattr(record.dose, name) is not None for name in type(record.dose).model_fields
        ):
            continue
        marks = _marks(library, record, words)
        mine = [row for row in rows if _belongs(row, marks)]
        spoken |= {row.row for row in mine}
        if not mine:
            own = in_language(record, words, written_in=settings.records_language).record
            what = words.say("plan.answers_nothing", statement=own.statement)
            findings.append(PlanFinding(MISSING, "", record.id, what))
            continue
        findings += _held(record, mine, words)
    for row in rows:
        small = is_small_muscle(row, words)
        if small:
            findings += _practice(row, rows, words)
        if row.row not in spoken and not small:
            findings.append(PlanFinding(NOTHING, row.exercise, "", words.say("plan.neither")))
    invented = any(record.invented for record in library.recommendations.values())
    return PlanCheck(tuple(findings), invented, words)


def check_of(
    library: Any, plan: str, *, settings: Settings | None = None, language: str | None = None
) -> PlanCheck:
    """Read a plan and check it: a file's name, or lines with commas.

    Parameters
    ----------
    library : Library
    plan : str
        A file (csv or xlsx), or lines, the first naming the columns.
    settings, language
        As in `explain`.

    Raises
    ------
    PlanError, UsageError
        As `read_plan` and `plan_of`.
    """
    settings = settings or Settings()
    words = catalogue(language or settings.language)
    typed = not plan.strip() or "\n" in plan.strip()
    read = plan_of(plan, words=words) if typed else read_plan(plan.strip(), words=words)
    return plan_check(library, read, settings=settings, language=language)


def is_small_muscle(row: PlanRow, words: Catalogue) -> bool:
    """Whether an exercise is for one small muscle group, by the words in it."""
    name = f"{row.exercise} {row.site}".lower()
    # A plan in another language often keeps the English names of exercises.
    speaking = (words, catalogue("en"))
    if any(word in name for each in speaking for word in each.listed("plan.not_small")):
        return False
    return any(word in name for each in speaking for word in each.listed("plan.small_muscles"))


def _marks(library: Any, record: Recommendation, words: Catalogue) -> set[str]:
    """Words by which an exercise is known to belong to a recommendation."""
    ids: set[str] = set(record.sites)
    for question_id in record.questions:
        question = library.questions.get(question_id)
        if question is not None:
            ids |= {*(question.sites or ()), *(question.intervention or ())}
    marks = set(ids)
    for each in ids:
        for kind in ("site", "tag"):
            label = library.vocabulary.label(kind, each)
            marks |= {label, words.term(each, label)}
    return {mark.lower().replace("-", " ") for mark in marks}


def _belongs(row: PlanRow, marks: set[str]) -> bool:
    named = f"{row.exercise} {row.site} {row.tag}".lower().replace("-", " ")
    # A plural in the library's words is met by its singular too: hamstrings, hamstring.
    stems = {mark.removesuffix("s") for mark in marks if len(mark) > 3}
    return any(re.search(rf"\b{re.escape(stem)}", named) for stem in stems)


def _held(record: Recommendation, rows: list[PlanRow], words: Catalogue) -> list[PlanFinding]:
    findings = []
    weekly = (sum(r.sets_per_week[0] for r in rows), sum(r.sets_per_week[1] for r in rows))
    names = ", ".join(dict.fromkeys(row.exercise for row in rows))
    if record.dose.sets_per_week is not None:
        findings.append(_one(record, names, "sets_per_week", weekly, words))
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
                part, advised = _part(name, words), _said(_advised(record, name), words)
                what = words.say("plan.not_said", part=part, advised=advised)
                findings.append(PlanFinding(MISSING, row.exercise, record.id, what))
            else:
                findings.append(_one(record, row.exercise, name, planned, words))
    return findings


def _advised(record: Recommendation, name: str) -> tuple[float, float]:
    low, high = getattr(record.dose, name)
    return float(low), float(high)


def _one(
    record: Recommendation, exercise: str, name: str, planned: tuple[float, float], words: Catalogue
) -> PlanFinding:
    low, high = _advised(record, name)
    verdict = BEYOND if planned[1] > high else BELOW if planned[0] < low else AGREES
    what = words.say(
        "plan.compared",
        part=_part(name, words),
        planned=_said(planned, words),
        advised=_said((low, high), words),
    )
    return PlanFinding(verdict, exercise, record.id, what)


def _practice(row: PlanRow, rows: tuple[PlanRow, ...], words: Catalogue) -> list[PlanFinding]:
    """Common practice for a small muscle group, said to be no more than that."""
    site = row.site.lower()
    same = [other for other in rows if is_small_muscle(other, words) and other.site.lower() == site]
    parts = {"reps": row.reps, "sets": row.sets, "sessions": row.sessions}
    if site:
        parts["exercises"] = (float(len(same)), float(len(same)))
    found = []
    for name, planned in parts.items():
        low, high = SMALL_MUSCLE[name]
        said = {"part": _part(name, words), "usual": _said((low, high), words)}
        if planned is None:
            found.append(words.say("plan.usual", **said))
            continue
        fits = low <= planned[0] and planned[1] <= high
        key = "plan.fits" if fits else "plan.differs"
        found.append(words.say(key, planned=_said(planned, words), **said))
    found.append(words.say("plan.order"))
    return [PlanFinding(PRACTICE, row.exercise, "", what) for what in found]


def _part(name: str, words: Catalogue) -> str:
    return words.say(f"plan_part.{name}")


def _said(span: tuple[float, float], words: Catalogue) -> str:
    low, high = (words.number(e, decimals=0 if float(e).is_integer() else 1) for e in span)
    return low if low == high else words.say("plan.span", low=low, high=high)
