"""Which formed effects stay out of the pool, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.effects import formed as words
from steelyard.effects.selection import LeftOut
from steelyard.records.question import Question

NO_SCALE = (
    "held out: the paper does not say which SD its effect on {outcome} is in, and one in SDs of "
    "change can be more than twice one in SDs between people; expected over beside it, of beside "
    'a test, or unknown_scale = "keep" in the question'
)


@dataclass(frozen=True, slots=True, eq=False)
class HeldOut:
    """Effects kept out of a pool; arrays of bool, one per row of the effect table.

    Attributes
    ----------
    retracted : ndarray
        Of retracted papers; always out.
    unscaled : ndarray
        Standardised effects of unknown scale; out unless the question keeps them.
    suspect : ndarray
        With suspect numbers; out where the question holds them out.
    """

    retracted: np.ndarray
    unscaled: np.ndarray
    suspect: np.ndarray

    @property
    def anyhow(self) -> np.ndarray:
        """Out whatever becomes of suspect numbers."""
        return self.retracted | self.unscaled

    @property
    def out(self) -> np.ndarray:
        return self.anyhow | self.suspect


def held_out(question: Question, rows: pd.DataFrame) -> HeldOut:
    """What a question keeps out of its pool."""
    return HeldOut(
        retracted=_flagged(rows, words.RETRACTED),
        unscaled=_flagged(rows, words.SCALE_OPEN) & holds_unscaled(question),
        suspect=_flagged(rows, words.SUSPECT) & holds_suspects(question),
    )


def holds_unscaled(question: Question) -> bool:
    """Whether standardised effects of unknown scale are held out."""
    return question.model.unknown_scale != "keep"


def holds_suspects(question: Question) -> bool:
    """Whether suspect numbers are held out."""
    return question.model.suspect == "hold-out"


def not_pooled(
    rows: pd.DataFrame, held: HeldOut, suspects: Mapping[tuple[str, str], str]
) -> list[LeftOut]:
    """The reasons, each once for each study or outcome."""
    keys = list(zip(rows["study"], rows["outcome"], strict=True))
    out = [LeftOut(study, "retracted") for study in rows.loc[held.retracted, "study"]]
    for place in np.flatnonzero(held.out & ~held.retracted):
        study, outcome = keys[place]
        reason = NO_SCALE.format(outcome=outcome.replace("-", " "))
        if held.suspect[place]:
            reason = f"held out: {suspects[study, outcome]}"
        out.append(LeftOut(study, reason))
    return list(dict.fromkeys(out))


def _flagged(rows: pd.DataFrame, flag: str) -> np.ndarray:
    return rows["flags"].str.contains(flag, regex=False).to_numpy(bool)
