"""Boxes for a cell that the paper prints for parts of the group, such as men and women."""

from __future__ import annotations

from html import escape

import ipywidgets as widgets

from steelyard.notebook.entry.boxes import Boxes
from steelyard.notebook.entry.cell import STYLES
from steelyard.notebook.entry.columns import arm_name, column_label
from steelyard.notebook.entry.field import button, choice_field, row, text_field, words
from steelyard.notebook.entry.fold import Fold
from steelyard.notebook.entry.parts import GROUPED, combined_words, steps_to_sds, together
from steelyard.notebook.entry.parts_form import PART_STYLES, PartsForm
from steelyard.notebook.entry.state import OutcomeForm
from steelyard.records.cells import DecimalMarks
from steelyard.show import count

_SAID = (
    "<p>For a paper that prints men and women, or other parts of a group, and not all of them "
    "together. Type n, mean and spread of each part, as printed, and choose what the spread is (an "
    "SE is not an SD: SD = SE × √n); the cell in the grid stays blank and is filled from the "
    "parts.</p>"
)
_HOW = "as if the SD had been worked out from all of them at once (Cochrane Handbook, 6.5.2.10)"
_NOT_YET = "Two parts or more are needed, each with n, mean and {spread}."
_SPREAD_LABEL = "Its {spread}"
_BOXES = (
    ("label", "Part", "150px", "women"),
    ("n", "People in it", "100px", "12"),
    ("mean", "Its mean", "110px", "90.5"),
    ("sd", _SPREAD_LABEL, "130px", ""),
)
_SPREADS = {
    "sd": "14.2",
    "se": "3.2",
    "ci95": "84.2 to 96.8",
    "ci90": "85.2 to 95.8",
    "ci99": "82.0 to 99.0",
}
_MOST_PARTS = 20


class PartsView:
    """What opens below an outcome's grid.

    Parameters
    ----------
    form : Boxes
    outcome : OutcomeForm
    """

    def __init__(self, form: Boxes, outcome: OutcomeForm) -> None:
        self.form, self.outcome = form, outcome
        self.told: dict[str, widgets.HTML] = {}
        number = form.state.outcomes.index(outcome) + 1
        self._label = f"Outcome {number}, printed for parts of a group such as men and women"
        name = f"parts.{outcome.key}"
        if outcome.parts:
            form.unfolded.add(name)
        self.fold = Fold(form, name, self._label, self._make, fields=(f"part.{outcome.key}.",))
        self.widget = self.fold.widget

    def draw(self) -> None:
        """Make the boxes anew, as arms and columns now are."""
        self.fold.draw()

    def show(self, marks: DecimalMarks) -> None:
        """Say how the parts of each cell come together."""
        has = sum(bool(each.typed()) for each in self._shown())
        self.fold.tell(f"{self._label} ({count(has, 'cell')})" if has else self._label)
        for each in self.outcome.parts:
            told = self.told.get(each.key)
            if told is None:
                continue
            combined = together(each, marks=marks)
            said = _NOT_YET.format(spread=STYLES[each.style])
            if combined is not None:
                steps = steps_to_sds(combined)
                said = f"Together {combined_words(combined)}, {_HOW}." + f" {steps}." * bool(steps)
            html = f'<span class="read">{escape(said)}</span>'
            if told.value != html:
                told.value = html

    def rename_arms(self) -> None:
        """Show changed arm names where cells are chosen."""
        options = [(label, place) for place, label in self._places().items()]
        for each in self.outcome.parts:
            field = self.form.fields.get(f"part.{self.outcome.key}.{each.key}.place")
            if field is not None:
                field.offer(options)

    def add(self) -> None:
        """Boxes for the parts of one more cell, first for the first that is blank."""
        with self.form.guarded():
            taken = {each.place for each in self.outcome.parts}
            taken |= {place for place, text in self.outcome.cells.items() if text.strip()}
            free = [place for place in self._places() if place not in taken]
            self.outcome.add_parts(free[0] if free else "")
            self.draw()
            self.form.changed()

    def _places(self) -> dict[str, str]:
        """Every cell that may stand in parts, by its place, with its name."""
        columns = [
            column for column in self.outcome.columns() if column.partition("@")[0] in GROUPED
        ]
        return {
            f"{arm.key}|{column}": f"{column_label(column)}, {arm_name(arm, number)}"
            for number, arm in enumerate(self.form.state.arms, 1)
            for column in columns
        }

    def _shown(self) -> list[PartsForm]:
        """Those of cells that the grid shows now; what is typed for others is kept."""
        places = {"", *self._places()}
        return [each for each in self.outcome.parts if each.place in places]

    def _make(self) -> widgets.Widget:
        self.told = {}
        options = [
            ("choose …", ""),
            *((label, place) for place, label in self._places().items()),
        ]
        blocks = [
            self._block(number, each, options) for number, each in enumerate(self._shown(), 1)
        ]
        return widgets.VBox(
            [words(_SAID), *blocks, row(button("Add a cell printed in parts", self.add))]
        )

    def _block(
        self, number: int, parts: PartsForm, options: list[tuple[str, str]]
    ) -> widgets.Widget:
        while len(parts.rows) < 2:
            parts.rows.append({})
        which = choice_field(
            f"part.{self.outcome.key}.{parts.key}.place", "Numbers printed in parts", parts.place,
            options, self.form.typing_attribute(parts, "place"), width="320px",
        )  # fmt: skip
        style = choice_field(
            f"part.{self.outcome.key}.{parts.key}.style", "Spread of the parts is", parts.style,
            [(STYLES[each], each) for each in PART_STYLES],
            self.form.typing_attribute(parts, "style", after=lambda: self._rename(parts)),
            width="150px",
        )  # fmt: skip
        for field in (which, style):
            self.form.adopt(field)
        self.told[parts.key] = told = words("", classes=("sy-message",))
        lines = [self._row(parts, at) for at in range(1, len(parts.rows) + 1)]
        buttons = [button(f"Take cell {number} in parts away", lambda: self._remove(parts))]
        if len(parts.rows) < _MOST_PARTS:
            buttons.insert(0, button("Add a part", lambda: self._more(parts)))
        made = widgets.VBox([row(which.widget, style.widget), *lines, told, row(*buttons)])
        made.add_class("sy-part")
        return made

    def _row(self, parts: PartsForm, number: int) -> widgets.Widget:
        part = parts.rows[number - 1]
        fields = [
            text_field(
                f"part.{self.outcome.key}.{parts.key}.{number}.{key}",
                f"Part {number}" if key == "label" else label.format(spread=STYLES[parts.style]),
                part.get(key, ""),
                self.form.typing(part, key),
                width=width,
                placeholder=example or _SPREADS[parts.style],
            )
            for key, label, width, example in _BOXES
        ]
        return row(*(self.form.adopt(field).widget for field in fields))

    def _rename(self, parts: PartsForm) -> None:
        """Call the boxes after the style chosen; they stay, and so does the keyboard's place."""
        for number in range(1, len(parts.rows) + 1):
            field = self.form.fields.get(f"part.{self.outcome.key}.{parts.key}.{number}.sd")
            if field is not None:
                field.box.description = _SPREAD_LABEL.format(spread=STYLES[parts.style])
                field.box.placeholder = _SPREADS[parts.style]

    def _more(self, parts: PartsForm) -> None:
        with self.form.guarded():
            parts.rows.append({})
            self.draw()
            self.form.changed()

    def _remove(self, parts: PartsForm) -> None:
        with self.form.guarded():
            self.outcome.parts = [each for each in self.outcome.parts if each.key != parts.key]
            self.draw()
            self.form.changed()
