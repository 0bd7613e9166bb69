"""Weigh a question anew when one study has changed, fast enough to do while it is typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from steelyard.effects.table import EffectTable
from steelyard.errors import EmptyQuestionError
from steelyard.pooling.dependence import handling
from steelyard.pooling.held_out import held_out, not_pooled
from steelyard.pooling.scale import scale_of
from steelyard.pooling.verdict import verdict
from steelyard.pooling.weigh import (
    assumptions_used,
    one_row_per_study,
    pool_as_handled,
    refuse_mixed_units,
    study_weights,
    why_empty,
    with_suspects,
)
from steelyard.pooling.weighing import Weighing

_NOT_FOR_POOLING = [
    *("construct", "site", "metric", "shares", "r_used", "r_from", "route", "flags"),
    *("label", "year", "unit", "better", "assumed", "where", "used"),
]


def reweigh(
    others: Weighing,
    table: EffectTable,
    *,
    suspects: Mapping[tuple[str, str], str] | None = None,
    invented: bool = False,
) -> Weighing:
    """The weighing of a question with one study more, given that of all others.

    Estimate, interval, weights and verdict are those `weigh` gives for all effects together. What
    takes longer is left out: other ways of handling several effects, the pool with suspect
    numbers used the other way, and the fingerprint, since nothing is on record yet.

    Parameters
    ----------
    others : Weighing
        Of the same question, without the study.
    table : EffectTable
        Of the study alone.
    suspects : mapping of (study, outcome) to str, optional
        Of the study, with the reason.
    invented : bool
        Whether the study is invented.

    Raises
    ------
    EmptyQuestionError
        If the study adds no effect and nothing else can be pooled.
    DesignError
        As `weigh` does.
    """
    question = others.question
    left_out = (*others.left_out, *table.left_out)
    if table.rows.empty:
        return replace(
            others, left_out=left_out, alternatives=(), without_suspects=None, fingerprint=""
        )
    new = with_suspects(table.rows, suspects or {})
    held = held_out(question, new)
    new["used"] = ~held.out
    left_out = (*left_out, *not_pooled(new, held, suspects or {}))
    rows = pd.concat([others.effects, new], ignore_index=True)
    counted = rows[rows["used"]]
    if counted.empty:
        raise EmptyQuestionError(why_empty(question, list(left_out)))
    refuse_mixed_units(question, counted)
    chosen = handling(question, counted)
    studies = pd.concat(
        [others.studies.drop(columns="weight"), one_row_per_study(question, new)],
        ignore_index=True,
    )
    used = studies[studies["used"]]
    # Narrow, since taking rows apart by study costs time for every column there is.
    narrow = counted.drop(columns=_NOT_FOR_POOLING)
    pooled = pool_as_handled(question, chosen, narrow, used)
    decisive, ninety = (
        pooled
        if pooled.level == level
        else pool_as_handled(question, chosen, narrow, used, level=level)
        for level in (0.95, 0.90)
    )
    studies["weight"] = 0.0
    studies.loc[studies["used"], "weight"] = study_weights(pooled, counted, used)
    return replace(
        others,
        effects=rows,
        studies=studies,
        pooled=pooled,
        verdict=verdict(
            low=decisive.low,
            high=decisive.high,
            low_90=ninety.low,
            high_90=ninety.high,
            worthwhile=others.worthwhile,
            intervention=others.intervention,
            comparator=others.comparator,
            metric=others.question.metric,
        ),
        decisive=decisive,
        ninety=ninety,
        dependence=chosen.name,
        why_dependence=chosen.why,
        alternatives=(),
        assumptions=assumptions_used(question, counted, chosen.name),
        left_out=left_out,
        without_suspects=None,
        scale=scale_of(
            question,
            units=set(rows["unit"]),
            better=set(rows["better"]),
            size=float(np.median(np.abs(used["effect"]))) or abs(pooled.high - pooled.low),
        ),
        invented=others.invented or invented,
        fingerprint="",
        on_assumed_r=(*others.on_assumed_r, *table.on_assumed_r),
    )
