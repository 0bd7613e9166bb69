"""Boxes for how repeatable an outcome is, and for what few papers print of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.notebook.entry.field import row, text_field
from steelyard.notebook.entry.fold import Fold
from steelyard.notebook.entry.state import OutcomeForm

if TYPE_CHECKING:
    from steelyard.notebook.entry.form import EntryForm

_RELIABILITY = (
    ("sem", "Standard error of measurement", "215px", "in the unit above"),
    ("icc", "ICC", "90px", "0.93"),
    ("cv_percent", "Coefficient of variation, %", "190px", "4.1"),
    ("where", "Where the repeatability stands", "fill", "Methods, p. 4"),
)
_REST = (
    ("r_between_arms", "Correlation between arms of the same people", "300px", "0.6"),
    ("items", "Items a score adds up", "170px", ""),
)


def reliability_fold(form: EntryForm, outcome: OutcomeForm, number: int) -> Fold:
    """What opens below an outcome's results.

    Parameters
    ----------
    form : EntryForm
    outcome : OutcomeForm
    number : int
        Of the outcome, as its heading says.
    """
    name = f"outcome.{outcome.key}"

    def make() -> widgets.Widget:
        first = [
            text_field(
                f"{name}.reliability.{key}", label, outcome.reliability.get(key, ""),
                form.typing(outcome.reliability, key), width=width, placeholder=example,
            )
            for key, label, width, example in _RELIABILITY
        ]  # fmt: skip
        second = [
            text_field(
                f"{name}.{key}", label, getattr(outcome, key),
                form.typing_attribute(outcome, key), width=width, placeholder=example,
            )
            for key, label, width, example in _REST
        ]  # fmt: skip
        rows = [row(*(form.adopt(field).widget for field in fields)) for fields in (first, second)]
        return widgets.VBox(rows)

    return Fold(
        form,
        f"reliability.{outcome.key}",
        f"How repeatable outcome {number} is, and more",
        make,
        fields=tuple(f"{name}.{part}" for part in ("reliability.", "r_between_arms", "items")),
    )
