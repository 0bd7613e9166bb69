"""Answers of the appraisal that differ for one outcome."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.notebook.entry.field import button, choice_field, row, words
from steelyard.records.appraisal import FACTS, NOT_REPORTED

if TYPE_CHECKING:
    from steelyard.notebook.entry.form import EntryForm

_CHOOSE = ("choose …", "")


def exceptions_part(form: EntryForm, draw: Callable[[], None]) -> list[widgets.Widget]:
    """Rows of question, outcome and answer; nothing where a study has one outcome only.

    Parameters
    ----------
    form : EntryForm
    draw : callable
        Makes the appraisal anew.
    """
    state = form.state
    if len(state.outcomes) < 2 and not state.exceptions:
        return []

    def add() -> None:
        with form.guarded():
            state.exceptions.append({"fact": "", "outcome": "", "answer": ""})
            draw()
            form.changed()

    rows = [_row(form, number, draw) for number in range(1, len(state.exceptions) + 1)]
    made = widgets.VBox(
        [
            words("<h4>Where the answer differs for one outcome</h4>"),
            *rows,
            row(button("Add an answer for one outcome", add)),
        ]
    )
    made.add_class("sy-part")
    return [made]


def _row(form: EntryForm, number: int, draw: Callable[[], None]) -> widgets.Widget:
    exception = form.state.exceptions[number - 1]
    fact = exception.get("fact", "")
    answers = (*FACTS[fact][1], NOT_REPORTED) if fact in FACTS else ()

    def asked(value: str) -> None:
        with form.guarded():
            exception["fact"], exception["answer"] = value, ""
            draw()
            form.changed()

    def away() -> None:
        with form.guarded():
            form.state.exceptions.remove(exception)
            draw()
            form.changed()

    questions = [_CHOOSE, *((asks, name) for name, (asks, _) in FACTS.items())]
    fields = [
        choice_field(f"exception.{number}.fact", "Question", fact, questions, asked),
        choice_field(
            f"exception.{number}.outcome", "Outcome", exception.get("outcome", ""),
            [_CHOOSE, *form.outcome_options()], form.typing(exception, "outcome"), width="170px",
        ),
        choice_field(
            f"exception.{number}.answer", "Answer", exception.get("answer", ""),
            [_CHOOSE, *((each, each) for each in answers)], form.typing(exception, "answer"),
            width="190px",
        ),
    ]  # fmt: skip
    return row(
        *(form.adopt(field).widget for field in fields),
        button(f"Take answer {number} away", away),
    )
