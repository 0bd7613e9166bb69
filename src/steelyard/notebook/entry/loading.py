"""From a study on disk to what the form shows of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from steelyard.notebook.entry.appraisal import load_appraisal
from steelyard.notebook.entry.cell import style_of, write_cell
from steelyard.notebook.entry.comparisons import load_comparisons
from steelyard.notebook.entry.parts import fill_in
from steelyard.notebook.entry.said import said, texts
from steelyard.notebook.entry.state import (
    DESIGN,
    DETAILS,
    DOSE,
    KINDS,
    ONE_NUMBER,
    POPULATION,
    RELIABILITY,
    ArmForm,
    FormState,
    OutcomeForm,
)
from steelyard.records.adding_references import source_texts
from steelyard.records.reading import parse

_OUTCOME_TEXTS = ("label", "site", "measure", "unit", "items", "r_between_arms")


def form_of_study(text: str, *, mark: str) -> FormState:
    """The form of a study's file, given its text and the mark of its bytes."""
    values = parse(text, file="study")
    state = FormState(
        study_id=values["id"],
        editing=values["id"],
        opened=mark,
        base=text,
        invented=said(values.get("invented")) if values.get("invented") else "",
        source=source_texts(values.get("source", {})),
        design=texts(values.get("design", {}), DESIGN),
        population=texts(values.get("population", {}), POPULATION),
    )
    for number, arm in enumerate(values.get("arm", ()), 1):
        state.arms.append(
            ArmForm(
                key=f"a{number}",
                id=arm["id"],
                label=arm.get("label", ""),
                tags=", ".join(arm.get("tags", ())),
                n=said(arm.get("n")),
                dose=texts(arm.get("dose", {}), DOSE),
            )
        )
    for number, outcome in enumerate(values.get("outcome", ()), 1):
        own = [each for each in values.get("result", ()) if each["outcome"] == outcome["id"]]
        state.outcomes.append(_outcome(f"o{number}", outcome, own, state.arms))
    load_comparisons(state, values)
    load_appraisal(state, values)
    return state


def _outcome(
    key: str, values: Mapping[str, Any], results: list[Mapping[str, Any]], arms: list[ArmForm]
) -> OutcomeForm:
    outcome = OutcomeForm(
        key=key,
        id=values["id"],
        construct=values.get("construct", ""),
        better=values.get("better", "higher"),
        whole_numbers=said(values.get("whole_numbers")),
        reliability=texts(values.get("reliability", {}), RELIABILITY),
        **{name: said(values.get(name)) for name in _OUTCOME_TEXTS},
    )
    if not results:
        return outcome
    weeks = list(dict.fromkeys(result["week"] for result in results))
    outcome.weeks = ", ".join(str(week) for week in weeks)
    outcome.prints = [
        kind for kind in KINDS if any(result.get(kind) is not None for result in results)
    ]
    for name in ("where", "read_off"):
        said_once = {said(result.get(name)) for result in results}
        if len(said_once) == 1:
            setattr(outcome, name, said_once.pop())
    keys = {arm.id: arm.key for arm in arms}
    for result in results:
        if result["arm"] in keys:
            _fill(outcome, keys[result["arm"]], str(result["week"]), result)
    return outcome


def _fill(outcome: OutcomeForm, arm: str, week: str, result: Mapping[str, Any]) -> None:
    """Put one result into the grid."""
    for kind in KINDS:
        value = result.get(kind)
        column = kind if kind == "pre" else f"{kind}@{week}"
        place = f"{arm}|{column}"
        if value is None or (kind == "pre" and place in outcome.cells):
            continue
        if kind in ONE_NUMBER:
            outcome.cells[place] = str(value)
            continue
        style = outcome.styles.setdefault(column, style_of(value) or "none")
        if style == "none" and style_of(value):
            style = outcome.styles[column] = style_of(value)
        outcome.cells[place] = write_cell(value, style)
        if value.get("groups"):
            fill_in(outcome.add_parts(place), value)
    beside = outcome.detail(arm, week)
    for name in DETAILS:
        value = said(result.get(name))
        if name == "reading_error":
            value = said(
                next(
                    (
                        spread["reading_error"]
                        for kind in ("pre", "post", "change")
                        if (spread := result.get(kind)) and "reading_error" in spread
                    ),
                    None,
                )
            )
        if value and not (name in ("where", "read_off") and value == getattr(outcome, name)):
            beside[name] = value
