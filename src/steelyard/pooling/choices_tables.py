"""The effect table of a question under every choice that changes an effect itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import pandas as pd

from steelyard.effects.correlations_used import assumes_between_arms
from steelyard.effects.selection import Pairing
from steelyard.effects.table import build_table
from steelyard.errors import DesignError
from steelyard.pooling.choices_grid import (
    CONTRAST_TEXTS,
    METRIC_TEXTS,
    Dial,
    correlation_dials,
    with_suspects,
)
from steelyard.pooling.held_out import held_out
from steelyard.pooling.worthwhile_elsewhere import kin_metrics, worthwhile_in
from steelyard.records.question import Question
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.show import count

KEYS = ["study", "comparison", "outcome", "week"]
# Own rule: another metric is only held beside the question's if most studies can be told in it.
FEWEST_SHARE = 2 / 3


@dataclass(frozen=True, slots=True, eq=False)
class Variant:
    """One effect table with the options it was formed under."""

    options: dict[str, str]
    worthwhile: float | None
    rows: pd.DataFrame


@dataclass(frozen=True, slots=True, eq=False)
class Tables:
    """Every distinct effect table, the dials behind them, and what could not be formed."""

    dials: tuple[Dial, ...]
    variants: tuple[Variant, ...]
    notes: tuple[str, ...]


class _Former:
    """Forms tables of one question, each once."""

    def __init__(self, question, studies, vocabulary, suspects) -> None:
        self.question, self.vocabulary, self.suspects = question, vocabulary, suspects
        self.studies = list(studies)
        self.made: dict[tuple, pd.DataFrame] = {}
        self.on_assumed_r: dict[tuple[str, str], tuple[Pairing, ...]] = {}

    def rows(self, *, r, r_arms, metric: str, contrast: str) -> pd.DataFrame:
        key = (r, r_arms, metric, contrast)
        if key not in self.made:
            assume = self.question.assume.model_copy(update={"r_between_arms": _decimal(r_arms)})
            changed = {"assume": assume, "metric": metric, "contrast": contrast}
            asked = self.question.model_copy(update=changed)
            table = build_table(asked, self.studies, self.vocabulary, assumed_r=r)
            self.made[key] = with_suspects(table.rows, self.suspects)
            self.on_assumed_r.setdefault((metric, contrast), table.on_assumed_r)
        return self.made[key]


def form_tables(
    question: Question,
    studies: Iterable[Study],
    *,
    vocabulary: Vocabulary | None,
    suspects: Mapping[tuple[str, str], str],
) -> Tables:
    """Form the question's effects under each correlation, metric and contrast.

    A contrast that a paper does not allow for an effect leaves that effect as the question
    forms it, so that ways differ by the choice and not by which studies happen to be in. Options
    that change no number are dropped.
    """
    former = _Former(question, studies, vocabulary, suspects)
    arms = correlation_dials(question)[1]
    own = {"metric": question.metric, "contrast": question.contrast}
    asked = {"r": "usual", "r_arms": arms.values[arms.shipped]}
    shipped = former.rows(**asked, **own)
    before_after = correlation_dials(question, former.on_assumed_r[tuple(own.values())])[0]
    touched = any(
        not _same(former.rows(**{**asked, "r": value}, **own), shipped)
        for value in before_after.values
    )
    before_after = before_after if touched else before_after.only_shipped()
    arms = arms if assumes_between_arms(shipped) else arms.only_shipped()
    metrics, notes = _metrics(question, former, asked, shipped)
    contrasts = _contrasts(question, former, asked, metrics)
    variants = []
    for metric in metrics:
        for contrast in contrasts[metric]:
            for r_text, r in zip(before_after.options, before_after.values, strict=True):
                for arms_text, r_arms in zip(arms.options, arms.values, strict=True):
                    rows = _filled(former, question, r, r_arms, metric, contrast)
                    options = {
                        "r": r_text,
                        "r_between_arms": arms_text,
                        "metric": METRIC_TEXTS[metric],
                        "contrast": CONTRAST_TEXTS[contrast],
                    }
                    variants.append(Variant(options, worthwhile_in(question, metric), rows))
    every = [c for c in CONTRAST_TEXTS if any(c in kept for kept in contrasts.values())]
    dials = (
        before_after,
        arms,
        _dial("metric", "metric", METRIC_TEXTS, metrics, question.metric),
        _dial("contrast", "what is compared", CONTRAST_TEXTS, every, question.contrast),
    )
    return Tables(dials, tuple(variants), tuple(notes))


def _metrics(question, former, asked, shipped):
    metrics, notes = [question.metric], []
    for metric in kin_metrics(question)[1:]:
        told = METRIC_TEXTS[metric]
        if worthwhile_in(question, metric) is None:
            notes.append(f"no way is in {told}: what is worth having is not known in it")
            continue
        rows = former.rows(**asked, metric=metric, contrast=question.contrast)
        units = count(rows["unit"].nunique(), "unit")
        if metric == "raw" and rows["unit"].nunique() != 1:
            notes.append(f"no way is in the unit measured: the studies measured in {units}")
            continue
        if metric == "raw" and question.client.unit != rows["unit"].iloc[0]:
            notes.append("no way is in the unit measured: the question's reference is in another")
            continue
        unscaled = held_out(question, rows).unscaled
        studies = rows.loc[~unscaled, "study"].nunique()
        if studies < FEWEST_SHARE * shipped["study"].nunique():
            told_by = f"only {studies} of {shipped['study'].nunique()} studies"
            notes.append(f"no way is in {told}: {told_by} can be put in it")
            continue
        if unscaled.any():
            named = ", ".join(dict.fromkeys(rows.loc[unscaled, "label"]))
            notes.append(f"in {told} without {named}: which SD the effect is in is not printed")
        metrics.append(metric)
    return metrics, notes


def _contrasts(question, former, asked, metrics) -> dict[str, list[str]]:
    kept: dict[str, list[str]] = {}
    for metric in metrics:
        found = [question.contrast]
        seen = [_filled(former, question, asked["r"], asked["r_arms"], metric, found[0])]
        others = [c for c in CONTRAST_TEXTS if c not in ("auto", question.contrast)]
        for contrast in others if metric in ("standardised", "raw", "percent") else ():
            rows = _filled(former, question, asked["r"], asked["r_arms"], metric, contrast)
            if not any(_same(rows, other) for other in seen):
                found.append(contrast)
                seen.append(rows)
        kept[metric] = found
    return kept


def _filled(former, question, r, r_arms, metric, contrast) -> pd.DataFrame:
    """Rows under a contrast; what it cannot give, as the question's own contrast gives it."""
    usual = former.rows(r=r, r_arms=r_arms, metric=metric, contrast=question.contrast)
    if contrast == question.contrast:
        return usual
    rows = former.rows(r=r, r_arms=r_arms, metric=metric, contrast=contrast)
    if contrast == "post":
        unlike = {s.id for s in former.studies if s.design.randomised is False}
        rows = rows[~rows["study"].isin(unlike)]
    if rows.empty or usual.empty:
        return usual
    found = set(map(tuple, rows[KEYS].to_numpy()))
    lacking = [tuple(key) not in found for key in usual[KEYS].to_numpy()]
    parts = [part for part in (rows, usual[lacking]) if len(part)]
    return pd.concat(parts, ignore_index=True).sort_values(KEYS, kind="stable", ignore_index=True)


def _same(rows: pd.DataFrame, others: pd.DataFrame) -> bool:
    if len(rows) != len(others):
        return False
    mine, theirs = (each.sort_values(KEYS, kind="stable") for each in (rows, others))
    columns = ["effect", "variance"]
    return bool(np.array_equal(mine[columns].to_numpy(), theirs[columns].to_numpy()))


def _dial(column, what, texts, values, shipped) -> Dial:
    values = tuple(values)
    return Dial(column, what, tuple(texts[each] for each in values), values, values.index(shipped))


def _decimal(value: float | None) -> Decimal | None:
    if value is None:
        return None
    if not -1 < value < 1:
        raise DesignError(f"a correlation must lie strictly between -1 and 1; got {value:g}")
    return Decimal(str(value))
