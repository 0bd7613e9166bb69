"""One row of a table to the part of a study it is: a result or a comparison."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from pydantic import ValidationError

from steelyard.records.model import Record
from steelyard.records.reading import faults_of
from steelyard.records.slugs import slug
from steelyard.records.sound_parts import sound_part
from steelyard.records.study import Comparison, Result
from steelyard.records.tables.columns import STAGES
from steelyard.records.tables.facts import read_fact
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
_EFFECT_PLACES = {"value": "effect", "se": "effect_se", "ci95": "effect_ci_low"}
_SPREAD_PLACES = {"ci95": "ci_low"}


@dataclass(frozen=True, slots=True)
class Part:
    """A result or comparison, and the row it stands in."""

    row: TableRow
    record: Result | Comparison


def build_results(rows: Sequence[TableRow], problems: ProblemList) -> Iterator[Part]:
    """A result per row."""
    for row in rows:
        if not {"outcome", "arm"} <= row.texts.keys() or "week" not in row.numbers:
            continue
        values = without_none(
            outcome=slug(row.texts["outcome"], kind="outcome"),
            arm=slug(row.texts["arm"], kind="arm"),
            **{name: row.numbers.get(name) for name in ("week", "n")},
            **{stage: _spread(row, stage, problems) for stage in STAGES},
            **{name: row.numbers.get(name) for name in ("events", "r")},
            where=row.texts.get("where"),
            notes=row.notes or None,
        )
        yield from _part(Result, values, row, problems)


def _spread(row: TableRow, stage: str, problems: ProblemList) -> dict[str, Any] | None:
    interval = _interval(row, stage, problems)
    parts = without_none(
        mean=row.numbers.get(f"{stage}_mean"),
        sd=row.numbers.get(f"{stage}_sd"),
        se=row.numbers.get(f"{stage}_se"),
        ci95=interval,
    )
    return parts or None


def _interval(row: TableRow, name: str, problems: ProblemList) -> tuple[Decimal, Decimal] | None:
    low, high = f"{name}_ci_low", f"{name}_ci_high"
    if low in row.numbers and high in row.numbers:
        return row.numbers[low], row.numbers[high]
    missing, given = (high, low) if low in row.numbers else (low, high)
    if given in row.numbers and (row.number, missing) not in problems.bad_cells:
        message = f"expected both ends of the interval, found only {given}"
        problems.add(row.number, missing, "missing", message)
    return None


def build_comparisons(
    rows: Sequence[TableRow], problems: ProblemList, *, duration_weeks: Decimal | None
) -> Iterator[Part]:
    """A comparison per row; without a week it is taken at the end of training."""
    seen: dict[tuple[str, ...], int] = {}
    for row in rows:
        metric = read_fact(row, "metric", problems)
        named = {"outcome", "intervention", "comparator"} <= row.texts.keys()
        if metric is None or not named or "effect" not in row.numbers:
            continue
        week = row.numbers.get("week")
        notes = dict(row.notes)
        if week is None:
            week = duration_weeks or Decimal(0)
            notes["week"] = END_OF_TRAINING
        effect = without_none(
            value=row.numbers["effect"],
            se=row.numbers.get("effect_se"),
            ci95=_interval(row, "effect", problems),
        )
        values = without_none(
            outcome=slug(row.texts["outcome"], kind="outcome"),
            intervention=slug(row.texts["intervention"], kind="arm"),
            comparator=slug(row.texts["comparator"], kind="arm"),
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
            problems.add(row.number, "", "duplicate-comparison", message)
        seen.setdefault(key, row.number)
        yield from _part(Comparison, values, row, problems)


def _part(
    model: type[Record], values: dict[str, Any], row: TableRow, problems: ProblemList
) -> Iterator[Part]:
    try:
        part = model.model_validate(values)
    except ValidationError as error:
        for loc, rule, message in faults_of(error, sound_part(values, model), model):
            column = _column(loc)
            if rule == "needs-centre" and (row.number, column) in problems.bad_cells:
                continue
            problems.add(row.number, column, rule, message)
        return
    yield Part(row, part)


def _column(loc: tuple[Any, ...]) -> str:
    """The column a part's fault stands in: ``("pre", "sd")`` is ``pre_sd``."""
    first = str(loc[0]) if loc else ""
    if first in STAGES:
        part = str(loc[1]) if len(loc) > 1 else "mean"
        return f"{first}_{_SPREAD_PLACES.get(part, part)}"
    if first in EFFECT_FIELDS.values():
        return _EFFECT_PLACES[str(loc[1])] if len(loc) > 1 else "effect"
    return first


def without_none(**values: Any) -> dict[str, Any]:
    """The values that are there."""
    return {name: value for name, value in values.items() if value is not None}
