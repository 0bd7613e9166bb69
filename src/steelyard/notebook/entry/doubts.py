"""What the checks ask about numbers being typed, said where they are typed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from steelyard.judging.integrity import IntegrityFinding
from steelyard.notebook.entry.build import Built
from steelyard.notebook.entry.columns import arm_name, column_label
from steelyard.notebook.entry.problem import Problem
from steelyard.notebook.entry.state import FormState

BELOW = "Look again: see below the grid."
# What a record's file is told to write is chosen above a column here.
_WRITE = ": write "
_CHOOSE = {
    "standard-error-as-sd": "if the paper prints standard errors, choose SE above the column",
    "sd-as-standard-error": "if the paper prints SDs, choose SD above the column",
}


def said_in_form(finding: IntegrityFinding) -> str:
    """A finding's message, with what to choose in the form for what to write in a file."""
    choose = _CHOOSE.get(finding.rule)
    told, write, _ = finding.message.rpartition(_WRITE)
    return f"{told}; {choose}" if choose and write else finding.message


def doubts(
    findings: Iterable[IntegrityFinding], built: Built, state: FormState
) -> tuple[Problem, ...]:
    """The warnings among findings as messages beside fields, each once.

    A cell of a grid is too narrow for a sentence: it points below the grid, where the cell is
    named.
    """
    warnings = (finding for finding in findings if finding.severity == "warning")
    return tuple(dict.fromkeys(each for one in warnings for each in _at(one, built, state)))


def _at(finding: IntegrityFinding, built: Built, state: FormState) -> Iterator[Problem]:
    field, message = built.field_of(finding.path), said_in_form(finding)
    message = message[:1].upper() + message[1:]
    kind, *rest = field.split(".", 3)
    if kind != "cell":
        yield Problem(field, message, "doubt")
        return
    outcome, arm, column = rest
    number = next(n for n, each in enumerate(state.arms, 1) if each.key == arm)
    name = f"{arm_name(state.arm(arm), number)}, {column_label(column).lower()}"
    yield Problem(field, BELOW, "doubt")
    yield Problem(f"grid.{outcome}", f"{name}: {message[:1].lower()}{message[1:]}.", "doubt")
