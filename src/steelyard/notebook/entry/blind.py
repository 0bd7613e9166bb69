"""A study's form with every number taken out, for a second reader, and what they type into it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from steelyard.notebook.entry.build import Built, build
from steelyard.notebook.entry.comparison_form import ComparisonForm
from steelyard.notebook.entry.comparisons import untouched
from steelyard.notebook.entry.loading import form_of_study
from steelyard.notebook.entry.problem import Problem
from steelyard.notebook.entry.state import FormState
from steelyard.records.vocabulary import Vocabulary

# A study needs more than this form asks for; of what it does ask, half an entry would be lost.
_CANNOT_BE_READ = ("cell.", "part.", "detail.", "comparison.")
_HALF_TYPED = ("part.", "comparison.")


@dataclass(frozen=True, slots=True)
class BlindReading:
    """What the second reader typed.

    Attributes
    ----------
    results, comparisons : list of dict
        As a record keeps them. A listed comparison left blank has its arms, outcome and week only.
    problems : tuple of Problem
        What is wrong with them.
    """

    results: list[dict[str, Any]]
    comparisons: list[dict[str, Any]]
    problems: tuple[Problem, ...]


def blind_form(text: str) -> FormState:
    """Arms, outcomes, weeks and columns of a study's file, and what it compares; no number.

    Nor any place or spread, nor with what a paper compares two arms: the second reader must see
    for themselves how the paper prints it.
    """
    state = form_of_study(text, mark="")
    for outcome in state.outcomes:
        outcome.cells, outcome.details, outcome.styles = {}, {}, {}
        outcome.parts = []
        outcome.where = outcome.read_off = ""
    state.comparisons = [
        ComparisonForm(
            each.key,
            outcome=each.outcome,
            intervention=each.intervention,
            comparator=each.comparator,
            week=each.week,
        )
        for each in state.comparisons
    ]
    # Read as a new study, so that nothing of the first reading comes in behind.
    state.base = state.editing = state.opened = ""
    for arm in state.arms:
        arm.n = ""
    return state


def read_blind(
    state: FormState, vocabulary: Vocabulary, *, listed: Collection[str] = ()
) -> BlindReading:
    """Read what was typed; what else a whole study needs does not count.

    Parameters
    ----------
    state : FormState
    vocabulary : Vocabulary
    listed : collection of str
        Keys of the comparisons that the first reader took from the paper.
    """
    built = build(state, vocabulary)
    blank = {
        each.key
        for each in state.comparisons
        if each.key in listed and untouched(replace(each, week=""))
    }
    problems = [problem for problem in built.problems if _counts(problem, blank)]
    problems += _listed_already(state, listed)
    bare = [_bare(state, each) for each in state.comparisons if each.key in blank]
    return BlindReading(built.values.get("result", []), [*_typed(built), *bare], tuple(problems))


def _typed(built: Built) -> list[dict[str, Any]]:
    return built.values.get("comparison", [])


def _counts(problem: Problem, blank: Collection[str]) -> bool:
    if problem.field.startswith("comparison.") and problem.field.split(".")[1] in blank:
        return False
    if problem.kind == "bad":
        # A week that cannot be read would take its numbers with it.
        return problem.field.startswith(_CANNOT_BE_READ) or problem.field.endswith(".weeks")
    return problem.kind == "needed" and problem.field.startswith(_HALF_TYPED)


def _listed_already(state: FormState, listed: Collection[str]) -> list[Problem]:
    """A comparison added that the list has, which would be kept beside its blank boxes."""
    weeks = {each.key: each.week_texts() for each in state.outcomes}

    def about(each: ComparisonForm) -> tuple:
        typed = [each.week.strip()] if each.week.strip() else weeks.get(each.outcome, [])
        arms = frozenset((each.intervention, each.comparator))
        return each.outcome, arms, typed[0] if len(typed) == 1 else ""

    known = {about(each) for each in state.comparisons if each.key in listed}
    message = "This comparison is listed above: type it there."
    return [
        Problem(f"comparison.{each.key}.intervention", message)
        for each in state.comparisons
        if each.key not in listed and about(each) in known and not untouched(each)
    ]


def _bare(state: FormState, form: ComparisonForm) -> dict[str, Any]:
    return {
        "outcome": state.outcome(form.outcome).id,
        "intervention": state.arm(form.intervention).id,
        "comparator": state.arm(form.comparator).id,
        "week": Decimal(form.week),
    }
