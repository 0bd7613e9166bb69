"""Rows of a table to study records."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from pydantic import ValidationError

from steelyard.records.consistency import study_findings
from steelyard.records.reading import faults_of
from steelyard.records.slugs import slug
from steelyard.records.sound_parts import sound_part
from steelyard.records.study import Comparison, Result, Study
from steelyard.records.tables.columns import OUTCOME_COLUMNS, STUDY_COLUMNS, Layout
from steelyard.records.tables.facts import agreed
from steelyard.records.tables.parts import (
    Part,
    build_comparisons,
    build_results,
    without_none,
)
from steelyard.records.tables.rows import ProblemList, TableRow

_STUDY_PLACES = {
    ("source", "issued"): "year",
    ("source", "title"): "title",
    ("source", "author"): "authors",
    ("source", "DOI"): "doi",
    ("design", "duration_weeks"): "duration_weeks",
    ("design", "kind"): "design",
}


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
    kind = "arm" if column in ("intervention", "comparator") else column
    groups: dict[str, list[TableRow]] = {}
    for row in rows:
        text = row.texts.get(column)
        if text is None:
            continue
        group = groups.setdefault(slug(text, kind=kind), [])
        first = group[0].texts[column] if group else text
        if text.casefold() != first.casefold():
            message = (
                f"expected one way of writing it, found {text!r} here and {first!r} in row "
                f"{group[0].number}: both would be {slug(text, kind=kind)!r}"
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
            "design": without_none(
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
            values["result"] = self._kept(build_results(self.rows, self.problems))
        else:
            self._arms("intervention", "intervention_tags")
            self._arms("comparator", "comparator_tags")
            values["comparison"] = self._kept(
                build_comparisons(
                    self.rows, self.problems, duration_weeks=facts.get("duration_weeks")
                )
            )
        values["arm"] = list(self.arms.values())
        if not all("construct" in outcome for outcome in values["outcome"]) or any(
            row.number in self.problems.bad_rows for row in self.rows
        ):
            return None
        return self._validated(values)

    def _source(self, facts: dict[str, Any]) -> dict[str, Any]:
        year = facts.get("year")
        if isinstance(year, Decimal) and year == year.to_integral_value():
            year = int(year)
        return without_none(
            title=facts.get("title", f"Untitled: {self.rows[0].texts['study']}"),
            author=facts.get("authors"),
            issued=year,
            DOI=facts.get("doi"),
        )

    def _outcomes(self) -> Iterator[dict[str, Any]]:
        for outcome_id, rows in grouped(self.rows, "outcome", self.problems).items():
            facts = agreed(rows, OUTCOME_COLUMNS, self.problems)
            is_listed = any(row.number in self.problems.bad_rows for row in rows)
            if "construct" not in facts and not is_listed and not self.problems.misaligned:
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

    def _kept(self, parts: Iterable[Part]) -> list[Result | Comparison]:
        kept = list(parts)
        self.result_rows += [part.row for part in kept]
        return [part.record for part in kept]

    def _validated(self, values: dict[str, Any]) -> Study | None:
        try:
            study = Study.model_validate(values)
        except ValidationError as error:
            for loc, rule, message in faults_of(error, sound_part(values, Study), Study):
                column = _STUDY_PLACES.get(loc[:2], str(loc[-1]))
                row = next((r for r in self.rows if column in r.texts or column in r.numbers), None)
                number = (row or self.rows[0]).number
                self.problems.add(number, column, rule, message)
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


def _label(part_id: str, text: str) -> dict[str, str]:
    """People's own words, where the id does not already say them."""
    return {} if text == part_id else {"label": text}
