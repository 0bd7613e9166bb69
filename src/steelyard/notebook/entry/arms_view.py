"""The part of the form about arms: each with its tags, size and dose."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.notebook.entry.field import button, card, row, suggesting_field, text_field, words
from steelyard.notebook.entry.fold import Fold
from steelyard.notebook.entry.state import ArmForm

if TYPE_CHECKING:
    from steelyard.notebook.entry.form import EntryForm

_DOSE = (
    ("sessions_per_week", "Sessions a week", "118px"),
    ("sets_per_week", "Sets a week", "94px"),
    ("reps", "Repetitions", "100px"),
    ("load_percent_1rm", "Load, % of 1RM", "112px"),
    ("rest_s", "Rest, s", "76px"),
    ("lowering_s", "Lowering, s", "92px"),
    ("reps_in_reserve", "In reserve", "88px"),
    ("sets_per_session", "Sets a session", "108px"),
    ("exercises", "Exercises", "84px"),
)
_MORE_DOSE = (
    ("direct_sets_per_week", "Direct sets a week", "140px", ""),
    ("indirect_sets_per_week", "Indirect sets a week", "150px", ""),
    ("order", "Place in the workout", "fill", "last, after the rowing"),
)


class ArmsView:
    """All arms, one below the other."""

    def __init__(self, form: EntryForm) -> None:
        self.form = form
        self.list = widgets.VBox([])
        self.widget = card(
            "Arms",
            words("<p>Each group, limb or period. Blank means not reported.</p>"),
            self.list,
            row(button("Add an arm", self._add)),
        )
        self.draw()

    def draw(self) -> None:
        """Make the boxes of every arm anew."""
        self.form.forget("arm.")
        arms = self.form.state.arms
        self.list.children = [self._arm(number, arm) for number, arm in enumerate(arms, 1)]

    def _arm(self, number: int, arm: ArmForm) -> widgets.Widget:
        form, name = self.form, f"arm.{arm.key}"

        def set_text(key: str):
            return form.typing_attribute(
                arm, key, after=form.rename_arms if key == "label" else None
            )

        label = text_field(
            f"{name}.label", f"Arm {number}: name", arm.label, set_text("label"),
            placeholder="usual lifting",
        )  # fmt: skip
        tags = suggesting_field(
            f"{name}.tags", "Tags", arm.tags, sorted(form.vocabulary.words("tag")),
            set_text("tags"), placeholder="usual-lifting", width="220px",
        )  # fmt: skip
        n = text_field(f"{name}.n", "People", arm.n, set_text("n"), width="110px")
        parts = [form.adopt(field).widget for field in (label, tags, n)]
        if len(form.state.arms) > 1:
            parts.append(button(f"Take arm {number} away", lambda: self._remove(arm.key)))
        dose = [
            self._dose(arm, key, heading, width, "6 to 8" if key == "reps" else "")
            for key, heading, width in _DOSE
        ]
        more = Fold(
            form,
            f"dose.{arm.key}",
            f"More about the dose of arm {number}",
            lambda: row(*(self._dose(arm, *each) for each in _MORE_DOSE)),
            fields=tuple(f"{name}.dose.{key}" for key, *_ in _MORE_DOSE),
        )
        head = row(*parts)
        head.add_class("sy-one-line")
        made = widgets.VBox([head, row(*dose), more.widget])
        made.add_class("sy-part")
        return made

    def _dose(
        self, arm: ArmForm, key: str, heading: str, width: str, example: str
    ) -> widgets.Widget:
        field = text_field(
            f"arm.{arm.key}.dose.{key}",
            heading,
            arm.dose.get(key, ""),
            self.form.typing(arm.dose, key),
            width=width,
            placeholder=example,
        )
        return self.form.adopt(field).widget

    def _add(self) -> None:
        with self.form.guarded():
            self.form.state.add_arm()
            self.form.draw_arms()

    def _remove(self, key: str) -> None:
        with self.form.guarded():
            self.form.state.remove_arm(key)
            self.form.draw_arms()
