"""The part of the form about outcomes, each with its grid of results."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.notebook.entry.field import (
    button,
    card,
    choice_field,
    row,
    text_field,
    tick,
    words,
)
from steelyard.notebook.entry.grid_view import GridView
from steelyard.notebook.entry.reliability_view import reliability_fold
from steelyard.notebook.entry.state import KINDS, OutcomeForm

if TYPE_CHECKING:
    from steelyard.notebook.entry.form import EntryForm

_BETTER = (("higher", "higher"), ("lower", "lower"))
_READ_OFF = (
    *(("not said", ""), ("table", "table"), ("text", "text"), ("figure", "figure")),
    ("from the authors", "authors"),
)


class OutcomesView:
    """All outcomes, one card each."""

    def __init__(self, form: EntryForm) -> None:
        self.form = form
        self.grids: dict[str, GridView] = {}
        self.list = widgets.VBox([])
        self.list.add_class("sy-typed")
        self.widget = widgets.VBox([self.list, row(button("Add an outcome", self._add))])
        self.widget.add_class("sy-typed")
        self.draw()

    def draw(self) -> None:
        """Make the boxes of every outcome anew."""
        for name in ("outcome.", "cell.", "part.", "detail.", "grid.", "paste."):
            self.form.forget(name)
        self.grids = {}
        outcomes = self.form.state.outcomes
        self.list.children = [
            self._outcome(number, outcome) for number, outcome in enumerate(outcomes, 1)
        ]

    def _outcome(self, number: int, outcome: OutcomeForm) -> widgets.Widget:
        form, name = self.form, f"outcome.{outcome.key}"

        def text(key: str, label: str, width: str, placeholder: str = "") -> widgets.Widget:
            field = text_field(
                f"{name}.{key}",
                label,
                getattr(outcome, key),
                form.typing_attribute(
                    outcome, key, after=form.rename if key in ("label", "measure") else None
                ),
                width=width,
                placeholder=placeholder,
            )
            return form.adopt(field).widget

        def choice(key: str, label: str, options, width: str) -> widgets.Widget:
            field = choice_field(
                f"{name}.{key}",
                label,
                getattr(outcome, key),
                options,
                form.typing_attribute(outcome, key),
                width=width,
            )
            return form.adopt(field).widget

        weeks = text_field(
            f"{name}.weeks", "Measured after, weeks", outcome.weeks,
            lambda value: self._weeks(outcome, value), width="160px", placeholder="12 or 6, 12",
            at_once=False,
        )  # fmt: skip
        form.adopt(weeks)
        grid = GridView(form, outcome)
        self.grids[outcome.key] = grid
        prints = [
            tick(label, kind in outcome.prints, self._printing(outcome, kind))
            for kind, label in KINDS.items()
        ]
        head = [
            text("label", "Outcome: name", "fill", "isometric knee flexion"),
            choice("construct", "Measures", form.word_options("construct", "choose …"), "160px"),
            choice("site", "Site", form.word_options("site", "none"), "160px"),
            text("unit", "Unit", "80px", "N"),
            choice("better", "Better when", _BETTER, "110px"),
        ]
        parts: list[widgets.Widget] = [
            row(*head),
            row(
                text("measure", "How it was measured", "fill", "dynamometer, 60° a second"),
                weeks.widget,
                tick("whole numbers only", outcome.whole_numbers == "yes", self._whole(outcome)),
            ),
            row(words('<div class="sy-head">The paper prints</div>'), *prints),
            grid.widget,
            row(
                text("where", "Where in the paper", "fill", "Table 2, p. 6"),
                choice("read_off", "Read off", _READ_OFF, "150px"),
            ),
            grid.beside,
            reliability_fold(form, outcome, number).widget,
        ]
        if len(form.state.outcomes) > 1:
            away = button(f"Take outcome {number} away", lambda: self._remove(outcome.key))
            parts.append(row(away))
        return card(f"Outcome {number} and its results", *parts)

    def rename_arms(self) -> None:
        """Show changed arm names beside the grids."""
        for grid in self.grids.values():
            grid.rename_arms()

    def redraw_grid(self, key: str) -> None:
        """Make one outcome's grid anew."""
        for name in (f"cell.{key}.", f"detail.{key}."):
            self.form.forget(name)
        self.grids[key].draw()

    def _weeks(self, outcome: OutcomeForm, text: str) -> None:
        with self.form.guarded():
            outcome.set_weeks(text)
            self.redraw_grid(outcome.key)
            self.form.changed()

    def _printing(self, outcome: OutcomeForm, kind: str):
        def set_printing(on: bool) -> None:
            with self.form.guarded():
                chosen = {*outcome.prints, kind} if on else {*outcome.prints} - {kind}
                outcome.prints = [each for each in KINDS if each in chosen]
                self.redraw_grid(outcome.key)
                self.form.changed()

        return set_printing

    def _whole(self, outcome: OutcomeForm):
        def set_whole(on: bool) -> None:
            with self.form.guarded():
                outcome.whole_numbers = "yes" if on else ""
                self.form.changed()

        return set_whole

    def _add(self) -> None:
        with self.form.guarded():
            self.form.state.add_outcome()
            self.form.draw_outcomes()
            self.form.changed()

    def _remove(self, key: str) -> None:
        with self.form.guarded():
            self.form.state.remove_outcome(key)
            self.form.draw_outcomes()
            self.form.changed()
