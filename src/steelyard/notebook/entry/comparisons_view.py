"""The part of the form for what the paper itself compares: a difference, or a test."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.notebook.entry.comparison_form import ComparisonForm
from steelyard.notebook.entry.comparisons import MOST_EFFECTS
from steelyard.notebook.entry.field import Field, button, choice_field, row, text_field, words
from steelyard.notebook.entry.fold import Fold
from steelyard.notebook.entry.printed_effect import (
    EFFECT_EXAMPLES,
    EFFECT_STYLES,
    EFFECTS,
    RATIO_EXAMPLE,
    RATIOS,
    read_effect,
)
from steelyard.records.cells import CellError, DecimalMarks
from steelyard.show import count

if TYPE_CHECKING:
    from steelyard.notebook.entry.form import EntryForm

_LABEL = "The paper’s own comparisons: a difference, t, F or p"
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
_SAID = (
    "<p>For a paper that prints a difference between two arms, or only a test of it. Every number "
    "is the first arm less the second. A ratio is kept as its logarithm. A p printed only as a "
    "bound, such as &lt;0.05, is kept as a bound; “not significant” holds no number.</p>"
)


class ComparisonsView:
    """All comparisons, one below the other."""

    def __init__(self, form: EntryForm) -> None:
        self.form = form
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

    def _make(self) -> widgets.Widget:
        parts = [
            self._comparison(number, each)
            for number, each in enumerate(self.form.state.comparisons, 1)
        ]
        return widgets.VBox([words(_SAID), *parts, row(button("Add a comparison", self._add))])

    def _comparison(self, number: int, form: ComparisonForm) -> widgets.Widget:
        while not form.effects:
            form.effects.append({"kind": "difference", "style": "ci95", "text": ""})
        text, choice = self._text(form), self._choice(form)
        parts: list[widgets.Widget] = [
            words(f"<h4>Comparison {number}</h4>"),
            row(
                choice("outcome", "Outcome compared", self._outcomes(), "fill"),
                choice("intervention", "First arm", self._arms(), "fill"),
                choice("comparator", "Second arm", self._arms(), "fill"),
                text("week", "After weeks", "110px", "as above"),
            ),
            *(self._effect(form, at) for at in range(1, len(form.effects) + 1)),
        ]
        if len(form.effects) < MOST_EFFECTS:
            parts.append(row(button("It prints a second effect", lambda: self._second(form))))
        parts += [
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
            row(button(f"Take comparison {number} away", lambda: self._remove(form.key))),
        ]
        made = widgets.VBox(parts)
        made.add_class("sy-part")
        return made

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
            return self._adopted(field)

        return text

    def _choice(self, form: ComparisonForm):
        def choice(key: str, label: str, options, width: str) -> widgets.Widget:
            field = choice_field(
                f"comparison.{form.key}.{key}", label, getattr(form, key), options,
                self.form.typing_attribute(form, key), width=width,
            )  # fmt: skip
            return self._adopted(field)

        return choice

    def _adopted(self, field: Field) -> widgets.Widget:
        return self.form.adopt(field).widget

    def _outcomes(self) -> list[tuple[str, str]]:
        return [("choose …", ""), *self.form.outcome_options()]

    def _arms(self) -> list[tuple[str, str]]:
        return [("choose …", ""), *self.form.arm_options()]

    def _add(self) -> None:
        with self.form.guarded():
            self.form.state.add_comparison()
            self.draw()
            self.form.changed()

    def _second(self, form: ComparisonForm) -> None:
        with self.form.guarded():
            form.effects.append({"kind": "standardised", "style": "ci95", "text": ""})
            self.draw()
            self.form.changed()

    def _remove(self, key: str) -> None:
        with self.form.guarded():
            state = self.form.state
            state.comparisons = [each for each in state.comparisons if each.key != key]
            self.draw()
            self.form.changed()


def _example(effect: dict[str, str]) -> str:
    if effect.get("kind") in RATIOS:
        return RATIO_EXAMPLE
    return EFFECT_EXAMPLES.get(effect.get("style", ""), "")
