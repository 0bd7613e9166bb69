"""The grids of a study with every number taken out, for a second reader."""

from __future__ import annotations

from steelyard.notebook.entry.build import build
from steelyard.notebook.entry.loading import form_of_study
from steelyard.notebook.entry.problem import Problem
from steelyard.notebook.entry.state import FormState
from steelyard.records.vocabulary import Vocabulary


def blind_form(text: str) -> FormState:
    """Arms, outcomes, weeks and columns of a study's file; no number, no place, no spread.

    The second reader must see for themselves how the paper prints its spread, so that is open too.
    """
    state = form_of_study(text, mark="")
    for outcome in state.outcomes:
        outcome.cells, outcome.details, outcome.styles = {}, {}, {}
        outcome.where = outcome.read_off = ""
    # Read as a new study, so that nothing of the first reading comes in behind.
    state.base = state.editing = state.opened = ""
    for arm in state.arms:
        arm.n = ""
    return state


def blind_results(
    state: FormState, vocabulary: Vocabulary
) -> tuple[list[dict], tuple[Problem, ...]]:
    """The results typed, and what is wrong with them; needs of a whole study do not count."""
    built = build(state, vocabulary)
    problems = tuple(
        problem
        for problem in built.problems
        if problem.kind == "bad" and problem.field.startswith(("cell.", "detail."))
    )
    return built.values.get("result", []), problems
