"""What the groups of one study did by themselves, in sentences: never an effect of training."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from steelyard.pooling.scale_group import ScaleGroup
from steelyard.pooling.study_reading import StudyReading
from steelyard.show import MINUS, capital, number


def inside_groups(reading: StudyReading) -> list[str]:
    """Each group's own change or count beside the effect that stands between them."""
    found = []
    for row in reading.effects.itertuples():
        if row.events_intervention == row.events_intervention:
            found.append(_counts(reading, row))
        elif (sentence := _gains(reading, row)) is not None:
            found.append(sentence)
    return found


def _measured(reading: StudyReading, outcome: str, week: float) -> str:
    """The outcome's name, with the week where it was measured at several."""
    rows = reading.effects if reading.own_changes.empty else reading.own_changes
    weeks = rows.loc[rows["outcome"] == outcome, "week"]
    name = reading.study.outcome(outcome).name
    return f"{name}, week {week:g}," if weeks.nunique() > 1 else name


def in_people(row) -> str:
    """The people with an event in both arms, as an effect row has them."""
    return (
        f"{row.events_intervention:g} of {row.n_intervention:g} against "
        f"{row.events_comparator:g} of {row.n_comparator:g}"
    )


def _counts(reading: StudyReading, row) -> str:
    one, other = (reading.study.arm(arm).name for arm in (row.intervention, row.comparator))
    return (
        f"Counted, {_measured(reading, row.outcome, row.week).rstrip(',')}: "
        f"{row.events_intervention:g} of {row.n_intervention:g} people with {one}, "
        f"{row.events_comparator:g} of {row.n_comparator:g} with {other}."
    )


def _gains(reading: StudyReading, row) -> str | None:
    changes, group = reading.changes, reading.groups[row.scale]
    if changes.empty:
        return None
    mine = (changes["outcome"] == row.outcome) & (changes["comparison"] == row.comparison)
    arms = changes[mine & (changes["week"] == row.week)].set_index("arm")
    if row.intervention not in arms.index or row.comparator not in arms.index:
        return None
    z = float(ndtri(0.975))
    own = [float(arms.loc[arm, "change"]) for arm in (row.intervention, row.comparator)]
    names = [reading.study.arm(arm).name for arm in (row.intervention, row.comparator)]
    errors = [float(arms.loc[arm, "variance"]) ** 0.5 for arm in (row.intervention, row.comparator)]
    gained = [change - z * error > 0 for change, error in zip(own, errors, strict=True)]
    # A test, or one adjusted for the start, holds the groups together in another way.
    whole = row.contrast == "change"
    between = "the effect is the difference between them," if whole else "the effect is"
    sentence = (
        f"Inside the groups, {_measured(reading, row.outcome, row.week)} "
        f"{_both(group, own, names)}. These are the groups' own changes; {between} "
        f"{group.told(row.effect, row.low, row.high)}."
    )
    if gained[0] != gained[1] and not row.leaves_out_zero:
        sentence += (
            " One group's own change can be told from none and the other's cannot; that does not "
            "show that the groups differ."
        )
    return sentence


def _both(group: ScaleGroup, changes: list[float], names: list[str]) -> str:
    """``got better by 0.25 SD with one and worse by 0.03 SD with the other``."""
    told, verb = [], ""
    for change, name in zip(changes, names, strict=True):
        words = _better_or_worse(group, change)
        told.append(f"{words.removeprefix(verb)} with {name}")
        verb = "got " if words.startswith("got ") else ""
    return " and ".join(told)


def _better_or_worse(group: ScaleGroup, change: float) -> str:
    """``got better by 0.25 SD``, ``got worse by …``, or no change where it shows as 0."""
    size = group.text(change).lstrip(f"+{MINUS}")
    if size == group.text(0.0).lstrip(f"+{MINUS}"):
        return "stayed the same"
    return f"got {'better' if change > 0 else 'worse'} by {size}"


def own_changes(reading: StudyReading) -> list[str]:
    """What each group of a study without a comparison gained, said to be no effect."""
    found = []
    for row in reading.own_changes.itertuples():
        group = reading.groups[_place(reading, row.Index)]
        sign = MINUS if group.scale.turned else "+"
        raw = in_own_unit(row.own_unit, 0.0, row.better, row.unit)
        unit = f", {raw} in its own unit" if raw and row.metric != "raw" else ""
        name = capital(_measured(reading, row.outcome, row.week))
        found.append(
            f"{name} {_better_or_worse(group, row.change)} (95 % interval "
            f"{group.span(row.low, row.high)}, {sign} being better) with "
            f"{reading.study.arm(row.arm).name}{unit}: the group's own change, not an effect of "
            "training, for no other group shows what would have changed without it."
        )
    return found


def _place(reading: StudyReading, row: int) -> int:
    return next(n for n, group in enumerate(reading.groups) if row in group.places)


def in_own_unit(value: float, spread: float, better: str, unit: str) -> str:
    """A result in the unit measured, signed as that unit runs; empty where there is none.

    Where less is better it says so, for beside it the better result has the plus.

    `spread` sets the decimals where the value is 0.
    """
    if value != value:
        return ""
    shown = -value if better == "lower" else value
    text = f"{number(shown, decimals=_decimals(abs(shown) or spread), sign=True)} {unit}".rstrip()
    return f"{text} (less is better)" if better == "lower" else text


def responses(reading: StudyReading) -> list[str]:
    """How much people differed in their response, where the paper's SDs tell it."""
    found = []
    for (outcome, _, week), response in reading.responses.items():
        record = reading.study.outcome(outcome)
        unit = f" {record.unit}" if record.unit else ""
        name = _measured(reading, outcome, week).rstrip(",")
        found.append(
            f"Who responds, {name}: {response.sentence} ({response.spread(decimals=1, unit=unit)})."
        )
    return found


def _decimals(size: float) -> int:
    """Two telling digits."""
    if not size > 0:
        return 1
    return int(np.clip(1 - np.floor(np.log10(size)), 0, 4))
