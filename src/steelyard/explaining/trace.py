"""From every number of an explanation to the cells of the studies it came from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from steelyard.explaining.evidence import Evidence
from steelyard.explaining.explanation import Explanation
from steelyard.explaining.ledger import STUDIES, ToldNumber
from steelyard.records.model import Record
from steelyard.records.study import Study
from steelyard.show import Table

AS_PRINTED = ("as reported", "adjusted")
NOT_A_CELL = frozenset({"where", "read_off", "checked_by", "notes", "outcome", "arm"})


@dataclass(frozen=True, slots=True)
class Cell:
    """One printed number of a study.

    Attributes
    ----------
    study, file, path : str
        ``studies/x.toml`` and ``result[2].pre.mean``, counted from 1.
    printed : str
    where : str
        In the paper; empty where the record does not say.
    """

    study: str
    file: str
    path: str
    printed: str
    where: str


@dataclass(frozen=True, slots=True)
class EffectTrace:
    """One pooled effect with the cells it was formed from, and how."""

    question: str
    study: str
    label: str
    outcome: str
    effect: str
    weight: float
    route: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """All numbers of an explanation and all cells below them.

    Attributes
    ----------
    recommendation : str
    numbers : tuple of ToldNumber
        Those that rest on ``studies`` follow from all effects together.
    effects : tuple of EffectTrace
    turned_by : tuple of (str, str, str)
        What turned effects into a client's unit: record and key, value, source.
    """

    recommendation: str
    numbers: tuple[ToldNumber, ...]
    effects: tuple[EffectTrace, ...]
    turned_by: tuple[tuple[str, str, str], ...]

    def rows_of(self, told: ToldNumber) -> tuple[int, ...]:
        """Which of `effects`, counted from 1, a number rests on; none where a record gives it."""
        if told.rests_on != STUDIES:
            return ()
        return tuple(
            at for at, one in enumerate(self.effects, 1) if told.question in ("", one.question)
        )

    def as_json(self) -> dict:
        """Plain values."""
        return {
            "recommendation": self.recommendation,
            "numbers": [
                {
                    "name": number.name,
                    "text": number.text,
                    "value": number.value,
                    "unit": number.unit,
                    "rests_on": number.rests_on,
                    "effects": list(self.rows_of(number)),
                }
                for number in self.numbers
            ],
            "effects": [
                {
                    "row": at,
                    "question": one.question,
                    "study": one.study,
                    "outcome": one.outcome,
                    "effect": one.effect,
                    "weight_percent": one.weight,
                    "route": one.route,
                    "cells": [
                        {
                            "file": cell.file,
                            "path": cell.path,
                            "printed": cell.printed,
                            "where": cell.where,
                        }
                        for cell in one.cells
                    ],
                }
                for at, one in enumerate(self.effects, 1)
            ],
            "turned_by": [
                {"place": place, "value": value, "source": source}
                for place, value, source in self.turned_by
            ],
        }

    def tables(self) -> tuple[Table, Table, Table]:
        """Numbers; what turned them into a unit; effects with their cells."""
        numbers = tuple(
            (each.name, f"{each.text} {each.unit}".strip(), f"{each.value:.6g}", self.rests(each))
            for each in self.numbers
        )
        cells = tuple(
            (
                f"{at}. {one.label}\nstudies/{one.study}.toml",
                f"{one.outcome}: {one.effect}\nweight {one.weight:.1f} %\n{one.route}",
                "\n".join(f"{cell.path} = {cell.printed}" for cell in one.cells),
                "\n".join(dict.fromkeys(cell.where for cell in one.cells if cell.where)),
            )
            for at, one in enumerate(self.effects, 1)
        )
        return (
            Table("Numbers said", ("number", "written", "is", "rests on"), numbers),
            Table("Turned into a unit by", ("place", "value", "source"), self.turned_by),
            Table(
                "Effects and their cells",
                ("row, study, file", "effect", "cells of the file", "in the paper"),
                cells,
            ),
        )

    def rests(self, told: ToldNumber) -> str:
        """What a number rests on, in words that lead to rows below."""
        rows = self.rows_of(told)
        if not rows:
            return told.rests_on
        if len(rows) == 1:
            return f"row {rows[0]} of the effects"
        return f"rows {rows[0]} to {rows[-1]} of the effects"

    def __str__(self) -> str:
        return "\n\n".join(str(table) for table in self.tables())

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        return "".join(table._repr_html_() for table in self.tables())


def trace(explanation: Explanation) -> Trace:
    """Follow every number of an explanation down to the studies."""
    effects: list[EffectTrace] = []
    turned: list[tuple[str, str, str]] = []
    for evidence in (*explanation.evidence, *explanation.harms):
        if evidence.weighing is not None:
            effects += _effects(evidence)
        turned += _turned_by(evidence)
    return Trace(explanation.recommendation.id, explanation.numbers, tuple(effects), tuple(turned))


def cells_of(study: Study, *, outcome: str, arms: tuple[str, str], week: Decimal, contrast: str):
    """The printed numbers behind one effect.

    Where the paper's own test was used, its comparison comes first, and the arms' cells after
    it: the SD that a difference is divided by is theirs.
    """
    found: list[Cell] = []
    if contrast in AS_PRINTED:
        for at, comparison in enumerate(study.comparisons, 1):
            if comparison.outcome == outcome and comparison.week == week:
                found += _cells(study, f"comparison[{at}]", comparison)
    for at, result in enumerate(study.results, 1):
        if result.outcome != outcome or result.arm not in arms:
            continue
        if result.week == week:
            found += _cells(study, f"result[{at}]", result)
        elif result.pre is not None:
            # Papers print the starting values once.
            found += _within(study, f"result[{at}].pre", result.pre, result.where or "")
    return tuple(found)


def _effects(evidence: Evidence) -> Iterator[EffectTrace]:
    weighing = evidence.weighing
    weights = weighing.studies.set_index("study")["weight"]
    for row in weighing.effects[weighing.effects["used"]].itertuples():
        study = evidence.studies[row.study]
        yield EffectTrace(
            evidence.question.id,
            row.study,
            row.label,
            f"{study.outcome(row.outcome).name}, week {row.week:g}, {row.comparison}",
            weighing.text(row.effect),
            100 * float(weights[row.study]),
            row.route,
            cells_of(
                study,
                outcome=row.outcome,
                arms=(row.intervention, row.comparator),
                week=Decimal(str(row.week)),
                contrast=row.contrast,
            ),
        )


def _turned_by(evidence: Evidence) -> list[tuple[str, str, str]]:
    question = evidence.question
    file = f"questions/{question.id}.toml"
    named = (
        ("client.reference_sd", question.client.reference_sd, question.client.reference_sd_source),
        ("client.baseline", question.client.baseline, question.client.baseline_source),
        ("smallest_worthwhile", question.smallest_worthwhile, question.smallest_worthwhile_source),
    )
    return [
        (f"{file} {key}", str(value), source or "no source given")
        for key, value, source in named
        if value is not None
    ]


def _cells(study: Study, path: str, part: Record) -> Iterator[Cell]:
    yield from _within(study, path, part, part.where or "")


def _within(study: Study, path: str, part: Record, where: str) -> Iterator[Cell]:
    for name in type(part).model_fields:
        value: Any = getattr(part, name)
        if value in (None, (), {}) or name in NOT_A_CELL:
            continue
        place = f"{path}.{name}"
        if isinstance(value, Record):
            yield from _within(study, place, value, where)
        elif isinstance(value, tuple) and any(isinstance(part, Record) for part in value):
            for at, part in enumerate(value, 1):
                yield from _within(study, f"{place}[{at}]", part, where)
        elif isinstance(value, tuple):
            printed = f"[{', '.join(map(str, value))}]"
            yield Cell(study.id, f"studies/{study.id}.toml", place, printed, where)
        elif isinstance(value, Decimal | int | str) and not isinstance(value, bool):
            if name in ("intervention", "comparator", "week"):
                continue
            yield Cell(study.id, f"studies/{study.id}.toml", place, str(value), where)
