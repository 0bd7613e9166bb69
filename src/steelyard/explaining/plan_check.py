"""A weekly plan against the recommendations: what agrees, what goes beyond, what is missing."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from typing import Any

from steelyard.explaining.dose_lines import gives_dose
from steelyard.explaining.evidence import Evidence, evidence_of
from steelyard.explaining.plan_table import Plan, PlanRow, column_names, plan_of, read_plan
from steelyard.explaining.record_words import in_language
from steelyard.explaining.wording.catalogue import Catalogue, catalogue
from steelyard.judging.dose import check_dose, tested_in_all
from steelyard.pooling.verdict import EQUIVALENT
from steelyard.records.recommendation import Recommendation
from steelyard.records.settings import Settings
from steelyard.show import Table

AGREES = "agrees"
BEYOND = "beyond"
BELOW = "below"
ABOVE = "above"
MISSING = "missing"
NOTHING = "nothing"
PRACTICE = "practice"
UNREAD = "unread"
# What needs a look comes first.
IN_ORDER = (UNREAD, BEYOND, MISSING, ABOVE, BELOW, PRACTICE, NOTHING, AGREES)
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
        `AGREES`, `BEYOND` (more than any pooled study tested), `ABOVE` (more than advised only),
        `BELOW`, `MISSING`, `NOTHING`, `PRACTICE` or `UNREAD`.
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
    or in the exercise's name. What goes past the advice is held against the doses that the pooled
    studies tested. A recommendation that no line answers to is only missed where the studies
    show a difference: a choice between equals leaves nothing out. How much of one part is a
    matter of the recommendation that asks for it, where the lines belong to that one too.

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
        if not gives_dose(record):
            continue
        first = evidence_of(library, record.id)[1][0]
        marks = _marks(library, record, words, kinds=("site", "tag"))
        mine = [row for row in rows if _belongs(row, marks)]
        spoken |= {row.row for row in mine}
        if not mine and not _shows_a_difference(first):
            continue
        if not mine:
            own = in_language(record, words, written_in=settings.records_language).record
            what = words.say("plan.answers_nothing", statement=own.statement)
            findings.append(PlanFinding(MISSING, "", record.id, what))
            continue
        work = _marks(library, record, words, kinds=("tag",))
        doing = [row for row in mine if _belongs(row, work)]
        elsewhere = _asked_elsewhere(library, record, mine, words)
        findings += _held(_Advice(record, first, elsewhere), mine, words, doing=doing)
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


def _shows_a_difference(evidence: Evidence) -> bool:
    weighing = evidence.weighing
    if weighing is None or weighing.verdict.word == EQUIVALENT:
        return False
    return weighing.verdict.direction_shown


def _asked_elsewhere(
    library: Any, record: Recommendation, rows: list[PlanRow], words: Catalogue
) -> set[str]:
    """Parts of a dose that another recommendation is about, on the same outcome, for a line."""
    own, found = library.questions.get(record.questions[0]), set()
    for other in library.recommendations.values():
        question = library.questions.get(other.questions[0])
        if other.id == record.id or own is None or question is None or question.dose is None:
            continue
        same = (question.constructs, question.sites) == (own.constructs, own.sites)
        if same and getattr(other.dose, question.dose, None) is not None:
            marks = _marks(library, other, words, kinds=("site", "tag"))
            if any(_belongs(row, marks) for row in rows):
                found.add(question.dose)
    return found


def _marks(
    library: Any, record: Recommendation, words: Catalogue, *, kinds: tuple[str, ...]
) -> set[str]:
    """Words by which an exercise is known: of the body's parts, of the work, or of both."""
    ids = {"site": set(record.sites), "tag": set()}
    for question_id in record.questions:
        question = library.questions.get(question_id)
        if question is not None:
            ids["site"] |= set(question.sites or ())
            ids["tag"] |= set(question.intervention or ())
    marks: set[str] = set()
    for kind in kinds:
        for each in ids[kind]:
            label = library.vocabulary.label(kind, each)
            marks |= {each, label, words.term(each, label)}
    plain = {mark.lower().replace("-", " ") for mark in marks}
    left_out = set(words.listed("plan.left_out"))
    return {" ".join(word for word in mark.split() if word not in left_out) for mark in plain}


def _belongs(row: PlanRow, marks: set[str]) -> bool:
    named = f"{row.exercise} {row.site} {row.tag}".lower().replace("-", " ")
    # A plural in the library's words is met by its singular too: hamstrings, hamstring.
    stems = {mark.removesuffix("s") for mark in marks if len(mark) > 3}
    return any(re.search(rf"\b{re.escape(stem)}", named) for stem in stems)


class _Advice:
    """A recommendation, and what the pooled studies tested of each part of its dose.

    Parts that are `elsewhere` are what another one is about that the same lines answer to: here
    they only say at which dose something else was studied.
    """

    def __init__(self, record: Recommendation, evidence: Evidence, elsewhere: set[str]) -> None:
        self.record, self.evidence, self.elsewhere = record, evidence, elsewhere
        weighing = evidence.weighing
        held = weighing is not None and evidence.question.metric != "correlation"
        checks = check_dose(record, weighing, evidence.studies) if held else ()
        self.tested = {check.part: check.tested for check in checks}
        self.adds_sets = any(check.added for check in checks if check.part == "sets_per_week")

    def in_all(self, part: str) -> tuple[float, float] | None:
        """Of whole programmes, where the advice is for work on top."""
        return tested_in_all(part, weighing=self.evidence.weighing, studies=self.evidence.studies)


def _held(
    advice: _Advice, rows: list[PlanRow], words: Catalogue, *, doing: list[PlanRow]
) -> list[PlanFinding]:
    record, findings = advice.record, []
    if record.dose.sets_per_week is not None and "sets_per_week" not in advice.elsewhere:
        # Advice for added sets is held against the lines that add them; where none does, what
        # the week holds in all is held against whole programmes.
        whole = advice.adds_sets and not doing
        counted = doing if advice.adds_sets and doing else rows
        weekly = (
            sum(r.sets_per_week[0] for r in counted),
            sum(r.sets_per_week[1] for r in counted),
        )
        names = ", ".join(dict.fromkeys(row.exercise for row in counted))
        findings.append(_one(advice, names, "sets_per_week", weekly, words=words, whole=whole))
    for row in rows:
        parts = {
            "sessions_per_week": row.sessions,
            "reps": row.reps,
            "load_percent_1rm": row.load_percent_1rm,
            "rest_s": row.rest_s,
            "lowering_s": row.lowering_s,
        }
        for name, planned in parts.items():
            if getattr(record.dose, name) is None or name in advice.elsewhere:
                continue
            if planned is None:
                part, advised = _part(name, words), _said(_advised(record, name), words)
                what = words.say("plan.not_said", part=part, advised=advised)
                findings.append(PlanFinding(MISSING, row.exercise, record.id, what))
            else:
                findings.append(_one(advice, row.exercise, name, planned, words=words))
    return findings


def _advised(record: Recommendation, name: str) -> tuple[float, float]:
    low, high = getattr(record.dose, name)
    return float(low), float(high)


def _one(
    advice: _Advice,
    exercise: str,
    name: str,
    planned: tuple[float, float],
    *,
    words: Catalogue,
    whole: bool = False,
) -> PlanFinding:
    """One part of one line; only what goes past the advice needs what was tested.

    A `whole` week has no advice to be held against, where that is for work on top.
    """
    low, high = _advised(advice.record, name)
    tested = advice.in_all(name) if whole else advice.tested.get(name)
    if whole and tested is not None:
        key, (least, most) = "compared_whole", tested
        verdict = BEYOND if planned[1] > most else BELOW if planned[0] < least else AGREES
    elif planned[1] > high:
        verdict = BEYOND if tested is not None and planned[1] > tested[1] else ABOVE
        added = name == "sets_per_week" and advice.adds_sets
        key = "compared_added" if added else "compared_tested"
        key = "compared_untold" if tested is None else key
    else:
        verdict, key = BELOW if planned[0] < low else AGREES, "compared"
    what = words.say(
        f"plan.{key}",
        part=_part(name, words),
        planned=_said(planned, words),
        advised=_said((low, high), words),
        tested="" if tested is None else _said(tested, words),
    )
    return PlanFinding(verdict, exercise, advice.record.id, what)


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
