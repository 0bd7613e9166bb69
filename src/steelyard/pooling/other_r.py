"""The answer at the low and the high end of each correlation that is assumed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

import numpy as np
import pandas as pd

from steelyard.effects.correlations_used import (
    assumable_between,
    assumes_between_arms,
    ends_by_arm,
)
from steelyard.effects.selection import Pairing
from steelyard.effects.table import at_end, table_of
from steelyard.errors import DesignError
from steelyard.pooling.dependence import Handling
from steelyard.pooling.pool import PoolResult
from steelyard.pooling.pool_nested import NestedPoolResult
from steelyard.pooling.turns import verdict_of
from steelyard.pooling.verdict import Verdict
from steelyard.pooling.weigh import one_row_per_study, pool_as_handled
from steelyard.pooling.weighing import Weighing, plain
from steelyard.records.question import Question

ENDS = ("low", "high")
BETWEEN_KINDS = {
    "r_between_arms": "r between two conditions",
    "r_between_outcomes": "r between outcomes or weeks",
}
_KEYS = ["study", "comparison", "outcome", "week"]
_NUMBERS = ("effect", "variance", "df", "comparator_variance")


@dataclass(frozen=True, slots=True)
class OtherR:
    """The answer with one assumed correlation at one end of what may be assumed.

    Attributes
    ----------
    kind : str
        Which correlation, in words.
    end : str
        ``low`` or ``high``.
    values : str
        The correlation there, in words: by arm where arms that rest have another.
    pooled : PoolResult or NestedPoolResult or None
        By the method of the weighing; None where it cannot be had.
    verdict : Verdict or None
    turned : bool
        Whether the verdict is another, or another direction is shown.
    refused : str
        Why there is no answer.
    """

    kind: str
    end: str
    values: str
    pooled: PoolResult | NestedPoolResult | None
    verdict: Verdict | None
    turned: bool = False
    refused: str = ""

    def as_json(self) -> dict:
        """Its numbers, machine scale."""
        names = ("estimate", "standard_error", "level", "low", "high")
        return {
            "r": self.kind,
            "end": self.end,
            "values": self.values,
            **{name: plain(getattr(self.pooled, name, None)) for name in names},
            "verdict": None if self.verdict is None else self.verdict.word,
            "turned": self.turned,
            "refused": self.refused or None,
        }


@lru_cache(maxsize=16)
def at_other_r(weighing: Weighing) -> tuple[OtherR, ...]:
    """Weigh again at both ends of each correlation that the weighing assumes.

    Correlations before to after by construct and by arm, those between two conditions in one
    person, and those between outcomes; one at a time, the others as weighed. Ends at which no
    number changes are left out.

    Parameters
    ----------
    weighing : Weighing

    Returns
    -------
    tuple of OtherR
        Empty where nothing is assumed.
    """
    rows = weighing.effects[weighing.effects["used"].to_numpy()]
    found = []
    for kind, end, values, question, again in _tries(weighing, rows):
        try:
            found.append(_weighed(weighing, kind, end, values, question, again))
        except DesignError as refused:
            found.append(OtherR(kind, end, values, None, None, refused=str(refused)))
    return tuple(found)


def told_at_other_r(weighing: Weighing) -> tuple[str, ...]:
    """One line for each assumed correlation: the answers at its ends, and whether one turns it."""
    kinds: dict[str, list[OtherR]] = {}
    for each in at_other_r(weighing):
        kinds.setdefault(each.kind, []).append(each)
    lines = []
    for kind, ends in kinds.items():
        text = "; ".join(_end_words(weighing, each) for each in ends)
        told = [each for each in ends if each.pooled is not None]
        same = weighing.verdict.word and told and not any(each.turned for each in told)
        lines.append(f"with {kind} {text}{'; the same verdict' if same else ''}")
    return tuple(lines)


def _end_words(weighing: Weighing, each: OtherR) -> str:
    if each.pooled is None:
        return f"{each.end}, {each.values}: cannot be had ({each.refused})"
    pooled, now = each.pooled, weighing.verdict
    text = f"{each.end}, {each.values}: {weighing.text(pooled.estimate)}, "
    text += weighing.span(pooled.low, pooled.high)
    if not each.turned:
        return text
    if each.verdict.word != now.word:
        return f"{text} ({now.word} becomes {each.verdict.word})"
    return f"{text} ({'a' if each.verdict.direction_shown else 'no'} direction is shown)"


def _tries(
    weighing: Weighing, rows: pd.DataFrame
) -> Iterator[tuple[str, str, str, Question, pd.DataFrame]]:
    """Kind, end, its value in words, the question and the rows under it, where numbers change."""
    question, pairings = weighing.question, weighing.on_assumed_r
    for end in ENDS:
        ended = [at_end(pairing, end) for pairing in pairings]
        again = _formed_again(rows, ended, question)
        moved = _moved(rows, again)
        if moved.any():
            keys = set(again.loc[moved, _KEYS].itertuples(index=False, name=None))
            touched = (each for each in pairings if _key(each) in keys)
            yield "pre-post r", end, ends_by_arm(question, touched, end), question, again
    if assumes_between_arms(rows):
        for end, value, asked in _between(question, "r_between_arms"):
            again = _formed_again(rows, pairings, asked)
            if _moved(rows, again).any():
                yield BETWEEN_KINDS["r_between_arms"], end, value, asked, again
    several = rows.groupby("study")[["outcome", "week"]].nunique().to_numpy() > 1
    if weighing.dependence != "single" and several.any():
        for end, value, asked in _between(question, "r_between_outcomes"):
            yield BETWEEN_KINDS["r_between_outcomes"], end, value, asked, rows


def _between(question: Question, name: str) -> Iterator[tuple[str, str, Question]]:
    """The question at each end of a correlation that is one number for all."""
    span = assumable_between(question, name)
    for end in ENDS:
        value = span.at(end)
        if value != span.value:
            assume = question.assume.model_copy(update={name: Decimal(str(value))})
            yield end, f"{value:.2f}", question.model_copy(update={"assume": assume})


def _formed_again(
    rows: pd.DataFrame, pairings: Iterable[Pairing], question: Question
) -> pd.DataFrame:
    """Rows with the numbers of these pairings as the question forms them now."""
    formed = table_of(pairings, question).rows
    places = pd.MultiIndex.from_frame(rows[_KEYS]).get_indexer(
        pd.MultiIndex.from_frame(formed[_KEYS])
    )
    there, new = places >= 0, {}
    for name in _NUMBERS:
        new[name] = rows[name].to_numpy(float, copy=True)
        new[name][places[there]] = formed[name].to_numpy(float)[there]
    return rows.assign(**new)


def _moved(rows: pd.DataFrame, again: pd.DataFrame) -> np.ndarray:
    numbers = ["effect", "variance"]
    return (rows[numbers].to_numpy(float) != again[numbers].to_numpy(float)).any(axis=1)


def _key(pairing: Pairing) -> tuple[str, str, str, float]:
    arms = f"{pairing.intervention.id} vs {pairing.comparator.id}"
    return pairing.study.id, arms, pairing.outcome.id, float(pairing.week)


def _weighed(weighing, kind, end, values, question, rows) -> OtherR:
    chosen = Handling(weighing.dependence, weighing.why_dependence)
    studies = None if chosen.name == "multilevel" else one_row_per_study(question, rows)
    # As where a study is left out: no fit at one level stands in for another.
    fits = {
        level: pool_as_handled(question, chosen, rows, studies, level=level)
        for level in sorted({weighing.level, 0.95, 0.90})
    }
    wide, inner, now = fits[0.95], fits[0.90], weighing.verdict
    judged = verdict_of(weighing, wide=wide, inner=inner)
    turned = (judged.word, judged.direction_shown) != (now.word, now.direction_shown)
    return OtherR(kind, end, values, fits[weighing.level], judged, turned)
