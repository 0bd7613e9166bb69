"""What a paper compares itself, for a second reader: what is held against what, and empty boxes."""

from __future__ import annotations

from collections.abc import Collection
from html import escape

import ipywidgets as widgets

from steelyard.notebook.entry.boxes import Boxes
from steelyard.notebook.entry.comparison_boxes import ComparisonBoxes
from steelyard.notebook.entry.comparison_form import ComparisonForm
from steelyard.notebook.entry.field import button, card, row, words

_HEADING = "The paper’s own comparisons"
_LISTED = (
    "<p>The first reader took these from the paper. Type what it prints of each; every number is "
    "the first arm less the second. Where it prints nothing of one, leave its boxes blank.</p>"
)
_NONE = "<p>The first reader found none.</p>"


class BlindComparisons:
    """The comparisons of a blind form, those listed and those the second reader adds.

    Parameters
    ----------
    form : Boxes
    listed : collection of str
        Keys of the comparisons that the first reader took from the paper.
    """

    def __init__(self, form: Boxes, listed: Collection[str]) -> None:
        self.form, self.listed = form, listed
        self.boxes = ComparisonBoxes(form, self.draw)
        self.place = widgets.VBox([])
        self.place.add_class("sy-unfolded")
        self.widget = card(_HEADING, words(_LISTED if self.listed else _NONE), self.place)
        self.draw()

    def draw(self) -> None:
        """Make the boxes anew."""
        self.form.forget("comparison.")
        comparisons = self.form.state.comparisons
        parts = [self._listed(each) for each in comparisons if each.key in self.listed]
        added = [each for each in comparisons if each.key not in self.listed]
        parts += [self._added(number, each) for number, each in enumerate(added, 1)]
        if len(self.form.state.arms) > 1:
            parts.append(row(button("Add a comparison that is not listed", self.add)))
        self.place.children = parts

    def add(self) -> None:
        """One comparison more, which the first reader does not have."""
        with self.form.guarded():
            added = self.form.state.add_comparison()
            # What it is about is for the second reader to choose.
            added.intervention = added.comparator = ""
            self.draw()
            self.form.changed()

    def _listed(self, form: ComparisonForm) -> widgets.Widget:
        arms, outcomes = dict(map(_turned, self.form.arm_options())), self.form.outcome_options()
        outcome = dict(map(_turned, outcomes)).get(form.outcome, "")
        sides = f"{arms.get(form.intervention, '')} against {arms.get(form.comparator, '')}"
        heading = f"<h4>{escape(f'{outcome}: {sides}, week {form.week}')}</h4>"
        made = widgets.VBox([words(heading), *self.boxes.numbers(form)])
        made.add_class("sy-part")
        return made

    def _added(self, number: int, form: ComparisonForm) -> widgets.Widget:
        away = button(f"Take added comparison {number} away", lambda: self.boxes.remove(form.key))
        made = widgets.VBox(
            [
                *self.boxes.sides(form, f"Added comparison {number}"),
                *self.boxes.numbers(form),
                row(away),
            ]
        )
        made.add_class("sy-part")
        return made


def _turned(option: tuple[str, str]) -> tuple[str, str]:
    label, key = option
    return key, label
