"""Rows of a table to study records."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from pydantic import BaseModel, ValidationError

from steelyard.records.consistency import study_findings
from steelyard.records.reading import sentence
from steelyard.records.slugs import slug
from steelyard.records.study import Comparison, Result, Study
from steelyard.records.tables.columns import OUTCOME_COLUMNS, STAGES, STUDY_COLUMNS, Layout
from steelyard.records.tables.facts import agreed, read_fact
from steelyard.records.tables.rows import ProblemList, TableRow

EFFECT_FIELDS = {
    "raw": "difference",
    "standardised": "standardised",
    "percent": "log_ratio_of_means",
    "risk-ratio": "log_risk_ratio",
    "odds-ratio": "log_odds_ratio",
    "risk-difference": "risk_difference",
    "variability-ratio": "log_sd_ratio",
}
END_OF_TRAINING = "not reported; the end of training is meant"
_STUDY_PLACES = {
    ("source", "issued"): "year",
    ("source", "title"): "title",
    ("source", "author"): "authors",
    ("source", "DOI"): "doi",
    ("design", "duration_weeks"): "duration_weeks",
    ("design", "kind"): "design",
}
_EFFECT_PLACES = {"value": "effect", "se": "effect_se", "ci95": "effect_ci_low"}
_SPREAD_PLACES = {"ci95": "ci_low"}


def build_studies(
    rows: Sequence[TableRow], layout: Layout, problems: ProblemList
) -> Iterator[Study]:
    """One record per study, in the order of the file; a study with a problem is left out."""
    for study_id, study_rows in grouped(rows, "study", problems).items():
        study = _Builder(study_id, study_rows, layout, problems).build()
        if study is not None and not any(row.number in problems.bad_rows for row in study_rows):
            yield study


def grouped(
    rows: Sequence[TableRow], column: str, problems: ProblemList
) -> dict[str, list[TableRow]]:
    """Rows by the id of what they name in a column; two names for one id are a problem."""
    groups: dict[str, list[TableRow]] = {}
    for row in rows:
        text = row.texts.get(column)
        if text is None:
            continue
        group = groups.setdefault(slug(text, kind=column), [])
        first = group[0].texts[column] if group else text
        if text.casefold() != first.casefold():
            message = (
                f"expected one way of writing it, found {text!r} here and {first!r} in row "
                f"{group[0].number}: both would be {slug(text, kind=column)!r}"
            )
            problems.add(row.number, column, "two-spellings", message)
        group.append(row)
    return groups


@dataclass(slots=True)
class _Builder:
    study_id: str
    rows: list[TableRow]
    layout: Layout
    problems: ProblemList
    arms: dict[str, dict[str, Any]] = field(default_factory=dict)
    result_rows: list[TableRow] = field(default_factory=list)

    def build(self) -> Study | None:
        facts = agreed(self.rows, STUDY_COLUMNS, self.problems)
        values = {
            "schema": 1,
            "id": self.study_id,
            "source": self._source(facts),
            "design": _without_none(
                kind=facts.get("design", "parallel"),
                randomised=facts.get("randomised"),
                duration_weeks=facts.get("duration_weeks"),
                equated=facts.get("equated"),
            ),
            "outcome": list(self._outcomes()),
        }
        if "invented" in facts:
            values["invented"] = facts["invented"]
        if "training_status" in facts:
            values["population"] = {"training_status": facts["training_status"]}
        if self.layout == "arms":
            self._arms("arm", "tags")
            values["result"] = list(self._results())
        else:
            self._arms("intervention", "intervention_tags")
            self._arms("comparator", "comparator_tags")
            values["comparison"] = list(self._comparisons(facts.get("duration_weeks")))
        values["arm"] = list(self.arms.values())
        if any(row.number in self.problems.bad_rows for row in self.rows):
            return None
        return self._validated(values)

    def _source(self, facts: dict[str, Any]) -> dict[str, Any]:
        year = facts.get("year")
        if isinstance(year, Decimal) and year == year.to_integral_value():
            year = int(year)
        return _without_none(
            title=facts.get("title", f"Untitled: {self.rows[0].texts['study']}"),
            author=facts.get("authors"),
            issued=year,
            DOI=facts.get("doi"),
        )

    def _outcomes(self) -> Iterator[dict[str, Any]]:
        for outcome_id, rows in grouped(self.rows, "outcome", self.problems).items():
            facts = agreed(rows, OUTCOME_COLUMNS, self.problems)
            has_problem = any(row.number in self.problems.bad_rows for row in rows)
            if "construct" not in facts and not has_problem:
                message = "expected a construct in some row of this outcome, found none"
                self.problems.add(rows[0].number, "construct", "missing", message)
            yield {"id": outcome_id, **_label(outcome_id, rows[0].texts["outcome"]), **facts}

    def _arms(self, column: str, tags_column: str) -> None:
        for arm_id, rows in grouped(self.rows, column, self.problems).items():
            facts = agreed(rows, (tags_column,), self.problems)
            tags = facts.get(tags_column, ())
            arm = self.arms.setdefault(arm_id, {"id": arm_id})
            arm.update(_label(arm_id, rows[0].texts[column]))
            if tags and arm.setdefault("tags", tags) and set(arm["tags"]) != set(tags):
                message = f"expected {'; '.join(arm['tags'])} as elsewhere, found {'; '.join(tags)}"
                self.problems.add(rows[0].number, tags_column, "disagrees", message)

    def _results(self) -> Iterator[Result]:
        for row in self.rows:
            if not {"outcome", "arm"} <= row.texts.keys() or "week" not in row.numbers:
                continue
            values = _without_none(
                outcome=slug(row.texts["outcome"], kind="outcome"),
                arm=slug(row.texts["arm"], kind="arm"),
                **{name: row.numbers.get(name) for name in ("week", "n")},
                **{stage: self._spread(row, stage) for stage in STAGES},
                **{name: row.numbers.get(name) for name in ("events", "r")},
                where=row.texts.get("where"),
                notes=row.notes or None,
            )
            yield from self._part(Result, values, row)

    def _spread(self, row: TableRow, stage: str) -> dict[str, Any] | None:
        interval = self._interval(row, stage)
        parts = _without_none(
            mean=row.numbers.get(f"{stage}_mean"),
            sd=row.numbers.get(f"{stage}_sd"),
            se=row.numbers.get(f"{stage}_se"),
            ci95=interval,
        )
        return parts or None

    def _interval(self, row: TableRow, name: str) -> tuple[Decimal, Decimal] | None:
        low, high = f"{name}_ci_low", f"{name}_ci_high"
        if low in row.numbers and high in row.numbers:
            return row.numbers[low], row.numbers[high]
        missing, given = (high, low) if low in row.numbers else (low, high)
        if given in row.numbers and (row.number, missing) not in self.problems.bad_cells:
            message = f"expected both ends of the interval, found only {given}"
            self.problems.add(row.number, missing, "missing", message)
        return None

    def _comparisons(self, duration_weeks: Decimal | None) -> Iterator[Comparison]:
        seen: dict[tuple[str, ...], int] = {}
        for row in self.rows:
            metric = read_fact(row, "metric", self.problems)
            named = {"outcome", "intervention", "comparator"} <= row.texts.keys()
            if metric is None or not named or "effect" not in row.numbers:
                continue
            week = row.numbers.get("week")
            notes = dict(row.notes)
            if week is None:
                week = duration_weeks or Decimal(0)
                notes["week"] = END_OF_TRAINING
            effect = _without_none(
                value=row.numbers["effect"],
                se=row.numbers.get("effect_se"),
                ci95=self._interval(row, "effect"),
            )
            values = _without_none(
                **{
                    name: slug(row.texts[name], kind=kind)
                    for name, kind in (
                        *(("outcome", "outcome"), ("intervention", "arm")),
                        ("comparator", "arm"),
                    )
                },
                week=week,
                n_intervention=row.numbers.get("n_intervention"),
                n_comparator=row.numbers.get("n_comparator"),
                **{EFFECT_FIELDS[metric]: effect},
                where=row.texts.get("where"),
                notes=notes or None,
            )
            key = (
                *(values[n] for n in ("outcome", "intervention", "comparator")),
                str(week),
                metric,
            )
            if key in seen:
                message = f"expected each comparison once, found that of row {seen[key]} again"
                self.problems.add(row.number, "", "duplicate-comparison", message)
            seen.setdefault(key, row.number)
            yield from self._part(Comparison, values, row)

    def _part(self, model: type[BaseModel], values: dict[str, Any], row: TableRow) -> Iterator[Any]:
        try:
            part = model.model_validate(values)
        except ValidationError as error:
            for item in error.errors(include_url=False):
                column = _column(item["loc"])
                if (
                    _rule(item) == "needs-centre"
                    and (row.number, column) in self.problems.bad_cells
                ):
                    continue
                self.problems.add(row.number, column, _rule(item), sentence(item, model))
            return
        self.result_rows.append(row)
        yield part

    def _validated(self, values: dict[str, Any]) -> Study | None:
        try:
            study = Study.model_validate(values)
        except ValidationError as error:
            for item in error.errors(include_url=False):
                column = _STUDY_PLACES.get(item["loc"][:2], str(item["loc"][-1]))
                row = next((r for r in self.rows if column in r.texts or column in r.numbers), None)
                number = (row or self.rows[0]).number
                self.problems.add(number, column, _rule(item), sentence(item, Study))
            return None
        for finding in study_findings(study, None, file=self.problems.file):
            if finding.severity == "fault":
                part, _, place = finding.path.partition("]")
                kind, _, index = part.partition("[")
                found = kind in ("result", "comparison") and index.isdigit()
                row = self.result_rows[int(index) - 1] if found else self.rows[0]
                column = place.removeprefix(".") if found else ""
                self.problems.add(row.number, column, finding.rule, finding.message)
        return study


def _column(loc: tuple[Any, ...]) -> str:
    """The column a part's fault stands in: ``("pre", "sd")`` is ``pre_sd``."""
    first = str(loc[0]) if loc else ""
    if first in STAGES:
        part = str(loc[1]) if len(loc) > 1 else "mean"
        return f"{first}_{_SPREAD_PLACES.get(part, part)}"
    if first in EFFECT_FIELDS.values():
        return _EFFECT_PLACES[str(loc[1])] if len(loc) > 1 else "effect"
    return first


def _rule(item: dict[str, Any]) -> str:
    return item["type"].replace("_", "-")


def _label(part_id: str, text: str) -> dict[str, str]:
    """People's own words, where the id does not already say them."""
    return {} if text == part_id else {"label": text}


def _without_none(**values: Any) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}
