"""The boxes of one of a paper's own comparisons: its effects, tests, people and place."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as widgets

from steelyard.notebook.entry.boxes import Boxes
from steelyard.notebook.entry.comparison_form import ComparisonForm
from steelyard.notebook.entry.comparisons import MOST_EFFECTS
from steelyard.notebook.entry.field import button, choice_field, row, text_field, words
from steelyard.notebook.entry.printed_effect import (
    EFFECT_EXAMPLES,
    EFFECT_STYLES,
    EFFECTS,
    RATIO_EXAMPLE,
    RATIOS,
    read_effect,
)
from steelyard.records.cells import CellError, DecimalMarks

_PLAIN = ("difference", "standardised", "risk_difference")
_KINDS = (
    *((EFFECTS[kind], kind) for kind in _PLAIN),
    *((label, kind) for kind, (label, _) in RATIOS.items()),
    *((label, kind) for kind, label in EFFECTS.items() if kind not in _PLAIN),
)
_STYLES = tuple((label, style) for style, label in EFFECT_STYLES.items())
_NO_YES = (("not said", ""), ("yes", "yes"), ("no", "no"))
_OF = (("not said", ""), ("changes", "change"), ("scores after training", "post"))
_OVER = (
    *(("not said", ""), ("SD before", "pre-sd"), ("SD after", "post-sd")),
    ("SD of the change", "change-sd"),
)
_READ_OFF = (
    *(("not said", ""), ("table", "table"), ("text", "text"), ("figure", "figure")),
    ("from the authors", "authors"),
)


class ComparisonBoxes:
    """Makes the boxes.

    Parameters
    ----------
    form : Boxes
    draw : callable
        Makes all comparisons of the form anew.
    """

    def __init__(self, form: Boxes, draw: Callable[[], None]) -> None:
        self.form, self._draw = form, draw

    def sides(self, form: ComparisonForm, heading: str) -> list[widgets.Widget]:
        """A heading, and boxes for what is held against what."""
        text, choice = self._text(form), self._choice(form)
        outcomes = [("choose …", ""), *self.form.outcome_options()]
        arms = [("choose …", ""), *self.form.arm_options()]
        return [
            words(f"<h4>{heading}</h4>"),
            row(
                choice("outcome", "Outcome compared", outcomes, "fill"),
                choice("intervention", "First arm", arms, "fill"),
                choice("comparator", "Second arm", arms, "fill"),
                text("week", "After weeks", "110px", "as above"),
            ),
        ]

    def numbers(self, form: ComparisonForm) -> list[widgets.Widget]:
        """Boxes for everything else of one comparison."""
        while not form.effects:
            form.effects.append({"kind": "difference", "style": "ci95", "text": ""})
        text, choice = self._text(form), self._choice(form)
        parts = [self._effect(form, at) for at in range(1, len(form.effects) + 1)]
        if len(form.effects) < MOST_EFFECTS:
            parts.append(row(button("It prints a second effect", lambda: self.second(form))))
        return [
            *parts,
            row(
                text("t", "t", "90px"),
                text("f", "F", "90px"),
                text("p", "p, exact or bound", "190px", "0.03 or <0.05"),
                text("n_intervention", "People, first arm", "125px", "as above"),
                text("n_comparator", "People, second arm", "140px", "as above"),
            ),
            row(
                choice("of", "What was tested", _OF, "165px"),
                choice("adjusted", "Adjusted for the start", _NO_YES, "155px"),
                choice("over", "Standardised by", _OVER, "140px"),
                choice("clusters_allowed_for", "Allowed for clusters", _NO_YES, "145px"),
            ),
            row(
                text("where", "Where in the paper it stands", "fill", "Table 3, p. 7"),
                choice("read_off", "Read off", _READ_OFF, "150px"),
                text("checked_by", "Checked by", "130px"),
            ),
        ]

    def second(self, form: ComparisonForm) -> None:
        """A box more, for a second effect."""
        with self.form.guarded():
            form.effects.append({"kind": "standardised", "style": "ci95", "text": ""})
            self._draw()
            self.form.changed()

    def remove(self, key: str) -> None:
        """Take one comparison away."""
        with self.form.guarded():
            state = self.form.state
            state.comparisons = [each for each in state.comparisons if each.key != key]
            self._draw()
            self.form.changed()

    def read_back(self, name: str, marks: DecimalMarks) -> str:
        """What an effect was understood as; empty for any other field."""
        _, key, part, *at = name.split(".")
        comparison = next((each for each in self.form.state.comparisons if each.key == key), None)
        if part != "effect" or comparison is None:
            return ""
        effect = comparison.effects[int(at[0]) - 1]
        try:
            found = read_effect(effect, marks=marks)
        except CellError:
            return ""
        if found is None:
            return ""
        return f"as logarithm: {found.text()}" if effect.get("kind") in RATIOS else found.text()

    def _effect(self, form: ComparisonForm, at: int) -> widgets.Widget:
        effect = form.effects[at - 1]
        name = f"comparison.{form.key}.effect.{at}"
        which = "effect" if at == 1 else "second effect"
        box = self.form.adopt(
            text_field(
                name,
                f"The {which}: first arm less second",
                effect.get("text", ""),
                self.form.typing(effect, "text"),
                placeholder=_example(effect),
            )
        )

        def chosen(key: str):
            def set_choice(value: str) -> None:
                with self.form.guarded():
                    effect[key] = value
                    box.box.placeholder = _example(effect)
                    self.form.changed()

            return set_choice

        kind = choice_field(
            f"{name}.kind", f"Kind of {which}", effect.get("kind", ""), _KINDS,
            chosen("kind"), width="250px",
        )  # fmt: skip
        style = choice_field(
            f"{name}.style", f"{'With' if at == 1 else 'Second with'} its",
            effect.get("style", ""), _STYLES, chosen("style"), width="110px",
        )  # fmt: skip
        return row(kind.widget, style.widget, box.widget)

    def _text(self, form: ComparisonForm):
        def text(key: str, label: str, width: str, placeholder: str = "") -> widgets.Widget:
            field = text_field(
                f"comparison.{form.key}.{key}", label, getattr(form, key),
                self.form.typing_attribute(form, key), width=width, placeholder=placeholder,
            )  # fmt: skip
            return self.form.adopt(field).widget

        return text

    def _choice(self, form: ComparisonForm):
        def choice(key: str, label: str, options, width: str) -> widgets.Widget:
            field = choice_field(
                f"comparison.{form.key}.{key}", label, getattr(form, key), options,
                self.form.typing_attribute(form, key), width=width,
            )  # fmt: skip
            return self.form.adopt(field).widget

        return choice


def _example(effect: dict[str, str]) -> str:
    if effect.get("kind") in RATIOS:
        return RATIO_EXAMPLE
    return EFFECT_EXAMPLES.get(effect.get("style", ""), "")
