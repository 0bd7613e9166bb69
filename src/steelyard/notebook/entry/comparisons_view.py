"""The part of the form for what the paper itself compares: a difference, or a test."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.notebook.entry.comparison_boxes import ComparisonBoxes
from steelyard.notebook.entry.comparison_form import ComparisonForm
from steelyard.notebook.entry.field import button, row, words
from steelyard.notebook.entry.fold import Fold
from steelyard.records.cells import DecimalMarks
from steelyard.show import count

if TYPE_CHECKING:
    from steelyard.notebook.entry.form import EntryForm

_LABEL = "The paper’s own comparisons: a difference, t, F or p"
_SAID = (
    "<p>For a paper that prints a difference between two arms, or only a test of it. Every number "
    "is the first arm less the second. A ratio is kept as its logarithm. A p printed only as a "
    "bound, such as &lt;0.05, is kept as a bound; “not significant” holds no number.</p>"
)


class ComparisonsView:
    """All comparisons, one below the other."""

    def __init__(self, form: EntryForm) -> None:
        self.form = form
        self.boxes = ComparisonBoxes(form, self.draw)
        self.fold = Fold(form, "comparisons", _LABEL, self._make, fields=("comparison.",))
        self.widget = widgets.VBox([self.fold.widget])
        self.widget.add_class("sy-card")

    def draw(self) -> None:
        """Make the boxes anew, as arms and outcomes now are."""
        self.fold.draw()

    def show(self) -> None:
        """Say on the label how many there are."""
        has = len(self.form.state.comparisons)
        self.fold.tell(f"{_LABEL} ({count(has, 'comparison')})" if has else _LABEL)

    def read_back(self, name: str, marks: DecimalMarks) -> str:
        """What an effect was understood as; empty for any other field."""
        return self.boxes.read_back(name, marks)

    def _make(self) -> widgets.Widget:
        parts = [
            self._comparison(number, each)
            for number, each in enumerate(self.form.state.comparisons, 1)
        ]
        return widgets.VBox([words(_SAID), *parts, row(button("Add a comparison", self._add))])

    def _comparison(self, number: int, form: ComparisonForm) -> widgets.Widget:
        away = button(f"Take comparison {number} away", lambda: self.boxes.remove(form.key))
        made = widgets.VBox(
            [
                *self.boxes.sides(form, f"Comparison {number}"),
                *self.boxes.numbers(form),
                row(away),
            ]
        )
        made.add_class("sy-part")
        return made

    def _add(self) -> None:
        with self.form.guarded():
            self.form.state.add_comparison()
            self.draw()
            self.form.changed()
