"""What a second reader has typed, kept until the reading is: never a number of the first reader."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from steelyard.notebook.entry.columns import arm_name, column_label
from steelyard.notebook.entry.comparison_form import ComparisonForm
from steelyard.notebook.entry.state import KINDS, FormState

_TYPED = ("cells", "parts", "details", "styles")
# What else the first reader noted of an outcome, such as its reliability, is no part of it.
_KEPT = frozenset({"key", "id", "label", "measure", "unit", "weeks", "prints", *_TYPED})


@dataclass(frozen=True, slots=True)
class Typed:
    """A draft of a second reading.

    Attributes
    ----------
    reader : str
        The name typed; may be empty.
    state : FormState
        Outcomes and comparisons as typed.
    fits : bool
        Whether the study still has the arms, outcomes, weeks and comparisons it was typed for.
    numbers : tuple of str
        What was typed into cells, in words, for a study it no longer fits.
    """

    reader: str
    state: FormState
    fits: bool
    numbers: tuple[str, ...]


def as_draft(state: FormState, *, reader: str, listed: Collection[str]) -> dict[str, Any]:
    """What to keep of a blind form."""
    return {
        "reader": reader,
        "asked": _asked(state, listed),
        "arms": [{"key": arm.key, "id": arm.id, "label": arm.label} for arm in state.arms],
        "outcomes": [
            {name: value for name, value in asdict(outcome).items() if name in _KEPT}
            for outcome in state.outcomes
        ],
        "comparisons": [asdict(comparison) for comparison in state.comparisons],
    }


def from_draft(form: Mapping[str, Any], blank: FormState) -> Typed:
    """What a draft holds, held against the blind form of the study as it now is."""
    state = FormState.from_json(form)
    listed = [comparison.key for comparison in blank.comparisons]
    fits = form.get("asked") == _asked(blank, listed)
    reader = form.get("reader")
    return Typed(reader if isinstance(reader, str) else "", state, fits, _numbers(state))


def go_on(blank: FormState, typed: Typed) -> None:
    """Put what was typed into a blind form that it fits."""
    before = {outcome.key: outcome for outcome in typed.state.outcomes}
    for outcome in blank.outcomes:
        if outcome.key in before:
            for name in _TYPED:
                setattr(outcome, name, getattr(before[outcome.key], name))
    listed = {comparison.key: comparison for comparison in blank.comparisons}
    again = {comparison.key: comparison for comparison in typed.state.comparisons}
    for key, comparison in listed.items():
        if key in again and _about(again[key]) == _about(comparison):
            blank.comparisons[blank.comparisons.index(comparison)] = again[key]
    blank.comparisons += [each for key, each in again.items() if key not in listed]


def _asked(state: FormState, listed: Collection[str]) -> dict[str, Any]:
    """What a blind form asks for: which a draft must have been typed for, to be gone on with."""
    return {
        "arms": [[arm.key, arm.id] for arm in state.arms],
        "outcomes": [
            [outcome.key, outcome.id, outcome.weeks, list(outcome.prints)]
            for outcome in state.outcomes
        ],
        "comparisons": [
            [comparison.key, *_about(comparison)]
            for comparison in state.comparisons
            if comparison.key in listed
        ],
    }


def _about(comparison: ComparisonForm) -> list[str]:
    return [comparison.outcome, comparison.intervention, comparison.comparator, comparison.week]


def _numbers(state: FormState) -> tuple[str, ...]:
    arms = {arm.key: arm_name(arm, number) for number, arm in enumerate(state.arms, 1)}
    outcomes, found = {}, []
    for number, outcome in enumerate(state.outcomes, 1):
        outcomes[outcome.key] = (outcome.label or outcome.measure).strip() or f"outcome {number}"
        for place, text in outcome.numbers():
            arm, _, column = place.partition("|")
            if text.strip():
                when = column_label(column) if column.partition("@")[0] in KINDS else column
                found.append(f"{outcomes[outcome.key]}, {arms.get(arm, arm)}, {when}: {text}")
    for each in state.comparisons:
        sides = f"{arms.get(each.intervention, '')} against {arms.get(each.comparator, '')}"
        texts = [effect.get("text", "") for effect in each.effects]
        texts += [f"{name} {text}" for name in "tfp" if (text := getattr(each, name))]
        found += [
            f"{outcomes.get(each.outcome, '')}, {sides}: {text}" for text in texts if text.strip()
        ]
    return tuple(found)
