"""Whether the answer turns on one study, or on results of one doubtful kind."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd

from steelyard.errors import DesignError
from steelyard.pooling.choices_grid import RULES
from steelyard.pooling.choices_rows import Reducer
from steelyard.pooling.dependence import pool_rows, r_between_outcomes
from steelyard.pooling.effect_axis import effect_axis, ends_shown
from steelyard.pooling.pictures import TurnsData
from steelyard.pooling.pool import pool
from steelyard.pooling.verdict import Verdict, verdict
from steelyard.pooling.weighing import Weighing
from steelyard.show import Shown, count

FEWEST_STUDIES = 3


@dataclass(frozen=True, slots=True, eq=False)
class Turns(Shown):
    """The answer without each study, and without each doubtful kind of result.

    Attributes
    ----------
    weighing : Weighing
    without : DataFrame, most telling first
        ``study`` (id, empty for a kind of result), ``label, estimate, low, high, shift`` (machine
        scale), ``standard_error, tau2, within`` (without it; the last the variance within
        studies, a part of tau2), ``verdict``, ``turned`` (bool: another
        verdict, or another direction shown), ``studies`` (left), ``flags``.
    """

    weighing: Weighing
    without: pd.DataFrame

    @property
    def sentence(self) -> str:
        """What the answer turns on."""
        single = self.without[self.without["study"] != ""]
        kinds = self.without[self.without["study"] == ""]
        turning = list(single.loc[single["turned"], "label"])
        show = self.weighing
        most = single.iloc[0]
        moves = (
            f"Without {most['label']} it would be {show.text(most['estimate'])} "
            f"({show.span(most['low'], most['high'])})"
        )
        if not turning:
            text = f"No single study turns the answer. {moves}, the largest move of all."
        elif len(turning) == 1:
            text = f"The answer turns on one study, {turning[0]}. {moves}."
        else:
            names = f"{', '.join(turning[:-1])} or {turning[-1]}"
            text = f"The answer turns on one study: without {names} it would be another. {moves}."
        turned_kinds = list(kinds.loc[kinds["turned"], "label"])
        if turned_kinds:
            text += f" It would be another too without {' or without '.join(turned_kinds)}."
        return text

    def _title(self) -> str:
        return f"Does it turn on one study: {self.weighing.question.id}"

    def _rows(self) -> list[tuple[str, str]]:
        show = self.weighing
        rows = [("in short", self.sentence)]
        for row in self.without.itertuples():
            told = f"{show.text(row.estimate)} ({show.span(row.low, row.high)})"
            note = f"; {_turn_words(show, row)}" if row.turned else ""
            rows.append((f"without {row.label}", f"{told}{note}"))
        return rows


def turns(weighing: Weighing) -> Turns:
    """Weigh again without each study in turn, by the very method of the weighing.

    Parameters
    ----------
    weighing : Weighing

    Returns
    -------
    Turns

    Raises
    ------
    DesignError
        With fewer than three studies: what is left would be one.
    """
    if weighing.k_studies < FEWEST_STUDIES:
        told = count(weighing.k_studies, "study", "studies")
        raise DesignError(f"{told}: leaving one out leaves too little to compare with")
    rows = weighing.effects[weighing.effects["used"].to_numpy()]
    found = without_each_study(weighing).to_dict("records")
    for flag, text in RULES:
        marked = rows["flags"].str.contains(flag, regex=False)
        left = rows[~marked]
        if not marked.any() or left["study"].nunique() < 2:
            continue
        gone = rows.loc[marked, "study"].nunique()
        found.append(_without(weighing, left, "", text, count(gone, "study", "studies")))
    table = pd.DataFrame(found)
    single = table["study"] != ""
    order = np.lexsort((-table["shift"].abs(), ~table["turned"], ~single))
    return Turns(weighing, table.iloc[order].reset_index(drop=True))


@lru_cache(maxsize=16)
def without_each_study(weighing: Weighing) -> pd.DataFrame:
    """The answer without each pooled study, in the order of the studies.

    Parameters
    ----------
    weighing : Weighing
        With two pooled studies or more.

    Returns
    -------
    DataFrame
        The columns of `Turns.without`. Everything that tells of leaving a study out reads it
        here, so that no two parts of a page differ.
    """
    rows = weighing.effects[weighing.effects["used"].to_numpy()]
    return pd.DataFrame(
        _without(weighing, rows[rows["study"] != each.study], each.study, each.label, each.flags)
        for each in weighing.studies[weighing.studies["used"]].itertuples()
    )


def verdict_of(weighing: Weighing, *, wide, inner) -> Verdict:
    """What another 95 % fit and 90 % fit would settle of a weighing's question."""
    return verdict(
        low=wide.low,
        high=wide.high,
        low_90=inner.low,
        high_90=inner.high,
        worthwhile=weighing.worthwhile,
        intervention=weighing.intervention,
        comparator=weighing.comparator,
        metric=weighing.question.metric,
    )


def _without(weighing: Weighing, rows: pd.DataFrame, study: str, label: str, flags: str) -> dict:
    # An interval is widened or not at each level by itself, so no fit stands in for another.
    fits = {level: _again(weighing, rows, level) for level in sorted({weighing.level, 0.95, 0.90})}
    pooled, wide, inner = (fits[level] for level in (weighing.level, 0.95, 0.90))
    judged = verdict_of(weighing, wide=wide, inner=inner)
    now = weighing.verdict
    return {
        "study": study,
        "label": label,
        "estimate": pooled.estimate,
        "low": pooled.low,
        "high": pooled.high,
        "shift": pooled.estimate - weighing.estimate,
        "standard_error": pooled.standard_error,
        "tau2": pooled.tau2,
        "within": getattr(pooled, "variance_within_studies", 0.0),
        "verdict": judged.word,
        "direction_shown": judged.direction_shown,
        "turned": (judged.word, judged.direction_shown) != (now.word, now.direction_shown),
        "studies": rows["study"].nunique(),
        "flags": flags,
    }


def _again(weighing: Weighing, rows: pd.DataFrame, level: float):
    """The pool of some rows, handled as the weighing handles them."""
    question = weighing.question
    if weighing.dependence == "multilevel":
        return pool_rows(question, rows, level=level)
    step = float(question.dose_step or 1) if question.dose is not None else None
    names = list(dict.fromkeys(rows["study"]))
    reduced = Reducer(rows, names, step=step, correlations={}).numbers(
        np.ones(len(rows), dtype=bool),
        r_between_outcomes=r_between_outcomes(question),
        how="slope" if weighing.dependence == "slope" else "composite",
    )
    return pool(
        reduced.effects,
        reduced.variances,
        between=question.model.between,
        interval=question.model.interval,
        level=level,
    )


def _turn_words(weighing: Weighing, row) -> str:
    now = weighing.verdict
    if row.verdict != now.word:
        return f"{now.word} becomes {row.verdict}"
    return "a direction is shown" if row.direction_shown else "no direction is shown"


def turns_data(found: Turns) -> TurnsData:
    """What the picture of left-out studies shows."""
    weighing = found.weighing
    rows = []
    for row in found.without.itertuples():
        low, high = ends_shown(weighing, row.low, row.high)
        rows.append(
            {
                "study": row.study,
                "label": row.label,
                "estimate": float(weighing.scale.shown(row.estimate)),
                "low": low,
                "high": high,
                "turns": _turn_words(weighing, row) if row.turned else "",
                "flags": row.flags,
            }
        )
    low, high = ends_shown(weighing, weighing.low, weighing.high)
    return TurnsData(
        title="Does the answer turn on one study?",
        subtitle=found.sentence,
        notes=("Invented data, for demonstration.",) if weighing.invented else (),
        axis=effect_axis(weighing),
        without=pd.DataFrame(rows),
        estimate=float(weighing.scale.shown(weighing.estimate)),
        low=low,
        high=high,
        level=weighing.level,
    )
