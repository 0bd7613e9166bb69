"""Laying a study out as TOML, the way a careful person would type it."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path
from typing import Any

from tests.invented.answers import OVERRULINGS, appraisal_answers
from tests.invented.catalogue import PLANS
from tests.invented.conduct import conduct_facts
from tests.invented.plan import ArmPlan, Noted, OutcomePlan, StudyPlan
from tests.invented.printing import between_arms_correlation, comparison_numbers, result_numbers
from tests.invented.simulate import Drawn, draw
from tests.invented.truth import SEED

HEAD = "# Invented: no such people, place or paper. Numbers simulated, then printed as papers do."
FACTS = (
    *("registered", "allocation", "deviations", "missing_data", "measurement"),
    "selective_reporting",
)


def write_studies(folder: Path) -> list[Path]:
    """Write every invented study into ``folder``; returns the files."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for plan in PLANS:
        path = folder / f"{plan.id}.toml"
        path.write_text(study_text(plan), encoding="utf-8", newline="\n")
        paths.append(path)
    return paths


def study_text(plan: StudyPlan, *, seed: int = SEED) -> str:
    """One study's record as text."""
    drawn = draw(plan, seed=seed)
    head = [HEAD] if plan.comment is None else [HEAD, f"# {plan.comment}"]
    blocks = ["\n".join([*head, _pairs({"schema": 1, "id": plan.id, "invented": True})])]
    blocks.append(_table("[source]", _source(plan)))
    blocks.append(_table("[design]", _design(plan)))
    blocks.append(_table("[population]", _population(plan)))
    blocks += [_table("[[arm]]", _arm(arm)) for arm in plan.arms]
    blocks += [_table("[[outcome]]", _outcome(plan, out, drawn)) for out in plan.outcomes]
    blocks += _results(plan, drawn)
    blocks += _comparisons(plan, drawn)
    answers = appraisal_answers(plan, _design(plan))
    if answers:
        blocks.append(_table("[appraisal]", answers))
    if plan.id in OVERRULINGS:
        blocks.append(_table("[[appraisal_overruling]]", OVERRULINGS[plan.id]))
    if plan.notes:
        blocks.append(_table("[notes]", plan.notes))
    return "\n\n".join(blocks) + "\n"


def _source(plan: StudyPlan) -> dict[str, Any]:
    people = [
        {"literal": given[1:]} if given.startswith("=") else {"family": family, "given": given}
        for family, given in plan.authors
    ]
    return {
        "type": "article-journal",
        "title": plan.title,
        "author": people,
        "issued": plan.year,
        "container-title": plan.journal,
        "status": "published",
        **plan.source,
    }


def _design(plan: StudyPlan) -> dict[str, Any]:
    facts = {"duration_weeks": plan.last_week} | plan.design
    said = conduct_facts(plan.id, plan.conduct, blinded=facts["blinded_assessors"])
    facts |= {key: sentence for key, sentence in said.items() if key not in facts}
    scores = facts.pop("scores", None)
    first = {key: value for key, value in facts.items() if key not in FACTS}
    last = {key: facts[key] for key in FACTS}
    return first | last | ({"scores": scores} if scores else {})


def _population(plan: StudyPlan) -> dict[str, Any]:
    limbs = plan.kind in ("within-person", "crossover")
    people = plan.arms[0].n if limbs else sum(arm.n for arm in plan.arms)
    return plan.population | {"n_randomised": people} | _given(plan.population, "n_randomised")


def _given(values: dict[str, Any], key: str) -> dict[str, Any]:
    return {key: values[key]} if key in values else {}


def _arm(arm: ArmPlan) -> dict[str, Any]:
    values = {"id": arm.id, "label": arm.label, "tags": list(arm.tags), "n": arm.n}
    return values | ({"dose": arm.dose} if arm.dose else {})


def _outcome(plan: StudyPlan, outcome: OutcomePlan, drawn: Drawn) -> dict[str, Any]:
    values = {"id": outcome.id, "construct": outcome.construct}
    if outcome.site:
        values["site"] = outcome.site
    if outcome.label:
        values["label"] = outcome.label
    values |= {"measure": outcome.measure, "unit": outcome.unit, "better": outcome.better}
    if outcome.whole_numbers:
        values |= {"whole_numbers": True, "items": outcome.items}
    if outcome.shows_r_between_arms:
        what = "changes" if plan.kind == "within-person" else "scores after either period"
        who = "the two limbs'" if plan.kind == "within-person" else "the same people's"
        found = between_arms_correlation(plan, outcome, drawn)
        values["r_between_arms"] = Noted(found, f"of {who} {what}")
    return values | ({"reliability": outcome.reliability} if outcome.reliability else {})


def _results(plan: StudyPlan, drawn: Drawn) -> list[str]:
    blocks = []
    for result in plan.results:
        for arm in plan.arms:
            if isinstance(result.prints, dict) and arm.id not in result.prints:
                continue
            values = {"outcome": result.outcome, "arm": arm.id, "week": result.week}
            if arm.lost:
                values["n"] = Noted(arm.n - arm.lost, f"{arm.lost} did not finish")
            values |= result_numbers(plan, result, arm, drawn)
            values |= _place(result)
            blocks.append(_table("[[result]]", values, comment=result.comment))
    return blocks


def _comparisons(plan: StudyPlan, drawn: Drawn) -> list[str]:
    blocks = []
    for part in plan.comparisons:
        values = {key: getattr(part, key) for key in ("outcome", "intervention", "comparator")}
        values["week"] = part.week
        if part.shows_n:
            for key in ("intervention", "comparator"):
                arm = plan.arm(values[key])
                values[f"n_{key}"] = arm.n - arm.lost
        values |= comparison_numbers(plan, part, drawn)
        if part.adjusted:
            values["adjusted"] = Noted(True, "for the value before training")
        if part.of is not None:
            values["of"] = part.of
        if part.clusters_allowed_for is not None:
            values["clusters_allowed_for"] = part.clusters_allowed_for
        values |= _place(part)
        blocks.append(_table("[[comparison]]", values, comment=part.comment))
    return blocks


def _place(part) -> dict[str, Any]:
    names = ("where", "read_off", "checked_by", "notes")
    return {name: getattr(part, name) for name in names if getattr(part, name)}


def _table(head: str, values: dict[str, Any], *, comment: str | None = None) -> str:
    lines = [f"# {comment}"] if comment else []
    return "\n".join([*lines, head, _pairs(values)])


def _pairs(values: dict[str, Any]) -> str:
    lines = []
    for key, value in values.items():
        comment = ""
        if isinstance(value, Noted):
            value, comment = value.value, f"  # {value.comment}"
        lines.append(f"{key} = {_value(value)}{comment}")
    return "\n".join(lines)


def _key(key: str) -> str:
    return key if key.replace("_", "").replace("-", "").isalnum() else _value(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, dict):
        return (
            "{ " + ", ".join(f"{_key(key)} = {_value(part)}" for key, part in value.items()) + " }"
        )
    return "[" + ", ".join(_value(part) for part in value) + "]"
