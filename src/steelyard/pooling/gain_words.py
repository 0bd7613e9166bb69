"""Words for what groups gained in strength by themselves; never for what training did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from steelyard.effects.magnitude import CHANGE, RHEA, ThresholdTable
from steelyard.effects.own_gains import own_gains
from steelyard.records.study import Study
from steelyard.show import number

STRENGTH = "strength"
MOST_NAMED = 4
NO_GAIN = "none"


@dataclass(frozen=True, slots=True)
class GainWord:
    """One group's gain in one outcome over its own SD before training, and the word for it.

    Attributes
    ----------
    outcome, arm : str
        Ids.
    week : float
    gain : float
        SDs of that group before training; positive is better.
    word : str
        Of the table; `NO_GAIN` where nothing was gained.
    table : ThresholdTable
    """

    outcome: str
    arm: str
    week: float
    gain: float
    word: str
    table: ThresholdTable

    def as_json(self) -> dict[str, object]:
        """Ids, week, gain, word, and the table with how it is sourced."""
        names = ("outcome", "arm", "week", "gain", "word")
        values = {name: getattr(self, name) for name in names}
        return values | {"table": self.table.name, "sourced": self.table.sourced}


def gain_words(
    changes: pd.DataFrame, study: Study, *, suspects: Mapping[str, str]
) -> tuple[GainWord, ...]:
    """The word for every gain in strength, where the people of a study have a table.

    Parameters
    ----------
    changes : DataFrame
        What each arm gained, as the reading shows it (`effects.arm_changes`).
    study : Study
    suspects : mapping of outcome to str
        Outcomes whose numbers do not hang together; they get no word. An empty outcome stands
        for all.

    Returns
    -------
    tuple of GainWord
        Empty unless training status is ``untrained``, ``recreational`` or ``highly-trained``.
    """
    table = RHEA.get(study.population.training_status)
    if table is None or changes.empty or "" in suspects:
        return ()
    strength = [
        outcome.id
        for outcome in study.outcomes
        if outcome.construct_id == STRENGTH and outcome.id not in suspects
    ]
    gains = own_gains(changes[changes["outcome"].isin(strength)], study)
    arms = [arm.id for arm in study.arms]
    found = [
        GainWord(
            row.outcome,
            row.arm,
            row.week,
            row.gain,
            table.word(row.gain, of=CHANGE) if row.gain > 0 else NO_GAIN,
            table,
        )
        for row in gains.itertuples()
    ]
    found.sort(key=lambda each: (strength.index(each.outcome), each.week, arms.index(each.arm)))
    return tuple(found)


def gain_sentence(words: tuple[GainWord, ...], study: Study) -> str:
    """The gains in one sentence: each named while they are few, else counted by word."""
    if not words:
        return ""
    table = words[0].table
    told = _each(words, study) if len(words) <= MOST_NAMED else _counted(words)
    return (
        f"On a scale for gains inside one group ({table.name}; {table.sourced}), each over its "
        f"group's own SD before training: {told}. Such words compare no two groups and say nothing "
        "of what the training did: a group gains by practice and time too."
    )


def _each(words: tuple[GainWord, ...], study: Study) -> str:
    parts: dict[tuple[str, float], list[str]] = {}
    for each in words:
        told = f"{each.word} with {study.arm(each.arm).name} ({_signed(each.gain)})"
        parts.setdefault((each.outcome, each.week), []).append(told)
    several = len({each.week for each in words}) > 1
    return "; ".join(
        f"{study.outcome(outcome).name}{f', week {week:g}' if several else ''}, {', '.join(told)}"
        for (outcome, week), told in parts.items()
    )


def _counted(words: tuple[GainWord, ...]) -> str:
    parts: dict[str, list[float]] = {}
    for each in sorted(words, key=lambda each: each.gain):
        parts.setdefault(each.word, []).append(each.gain)
    told = []
    for word, gains in parts.items():
        span = _signed(gains[0])
        span += f" to {_signed(gains[-1])}" if len(gains) > 1 else ""
        told.append(f"{len(gains)} {word} ({span})")
    return f"of {len(words)} gains, {', '.join(told)}"


def _signed(gain: float) -> str:
    return f"{number(gain, decimals=2, sign=True)} SD"
