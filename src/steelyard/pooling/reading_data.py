"""One study's own results in display units, for its reading chart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.effects.every_effect import COUNTS
from steelyard.pooling.dependence import t_quantile
from steelyard.pooling.display import ReadingData, ReadingPanel
from steelyard.pooling.reading_groups import in_own_unit
from steelyard.pooling.reading_rows import as_printed
from steelyard.pooling.reading_words import NO_EFFECT
from steelyard.pooling.scale_group import ScaleGroup
from steelyard.pooling.sides import sides
from steelyard.pooling.study_reading import SHOWN, StudyReading
from steelyard.show import count

LEVELS = (50, 80, 95)
ONE_GROUP = (
    "One group only: what follows is that group's own change, not an effect of training. No other "
    "group shows what would have changed without it."
)


def reading_data(reading: StudyReading) -> ReadingData:
    """Everything a study's reading chart shows.

    Returns
    -------
    ReadingData
        A panel for each scale, its outcomes by construct and else in the paper's order; without
        panels where nothing can be drawn.
    """
    draw = _changes_panel if reading.effects.empty else _effects_panel
    study = reading.study
    what = "every outcome it measured"
    if reading.effects.empty:
        what = "how its group changed" if len(reading.own_changes) else "nothing to draw"
    if reading.not_formed and reading.groups:
        what += f", but for {len(reading.not_formed)} left out"
    return ReadingData(
        panels=tuple(draw(reading, group) for group in reading.groups),
        title=f"{study.label}: {what}",
        subtitle=_subtitle(reading),
        notes=_notes(reading),
    )


def _effects_panel(reading: StudyReading, group: ScaleGroup) -> ReadingPanel:
    table = _by_construct(reading.effects.iloc[list(group.places)])
    arms = {arm.id: arm.name for arm in reading.study.arms}
    several = reading.effects["comparison"].nunique() > 1
    labels = []
    for row in table.itertuples():
        text = _label(reading, row)
        compared = f": {arms[row.intervention]} v {arms[row.comparator]}" if several else ""
        labels.append(text + compared)
    names = {
        side: " or ".join(dict.fromkeys(arms[each] for each in table[side]))
        for side in ("intervention", "comparator")
    }
    words = sides(metric=group.metric, **names)
    left, right = (words.above, words.below) if group.scale.turned else (words.below, words.above)
    what = {
        "standardised": "difference, in standard deviations between people",
        "percent": "difference, in percent",
        "raw": f"difference, in{group.scale.unit or ' the unit measured'}",
        "risk-ratio": f"how many times as likely with {names['intervention']}",
        "odds-ratio": f"how many times the odds with {names['intervention']}",
        "risk-difference": "difference in risk, per 100 people",
    }[group.metric]
    printed = [as_printed(row) for row in table.itertuples()]
    if group.metric not in COUNTS:
        printed = [_own(text) for text in printed]
    return _panel(
        reading,
        group,
        _Drawn(table, "effect", labels, printed),
        axis_title=what,
        left_words=left,
        right_words=right,
    )


def _changes_panel(reading: StudyReading, group: ScaleGroup) -> ReadingPanel:
    table = _by_construct(reading.own_changes.iloc[list(group.places)])
    what = {
        "standardised": "the group's own change, in standard deviations",
        "percent": "the group's own change, in percent",
        "raw": f"the group's own change, in{group.scale.unit or ' the unit measured'}",
    }[group.metric]
    printed = [
        "" if row.metric == "raw" else _own(in_own_unit(row.own_unit, 0.0, row.better, row.unit))
        for row in table.itertuples()
    ]
    labels = [_label(reading, row) for row in table.itertuples()]
    ends = ("worse than before", "better than before")
    left, right = ends[::-1] if group.scale.turned else ends
    return _panel(
        reading,
        group,
        _Drawn(table, "change", labels, printed),
        axis_title=what,
        left_words=left,
        right_words=right,
        zero_words="as before",
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """Rows of a table to draw, with the column that holds the result and the words beside it."""

    table: pd.DataFrame
    column: str
    labels: list[str]
    printed: list[str]


def _panel(reading: StudyReading, group: ScaleGroup, drawn: _Drawn, **words) -> ReadingPanel:
    table, scale = drawn.table, group.scale
    value = table[drawn.column].to_numpy(float)
    root = np.sqrt(table["variance"].to_numpy(float))
    construct = reading.vocabulary.label
    rows = {
        "outcome": drawn.labels,
        "construct": [construct("construct", each) for each in table["construct"]],
        "estimate": scale.shown(value),
        "printed": drawn.printed,
        "flags": list(table["flags"]),
    }
    for level in LEVELS:
        reach = t_quantile(table["df"], 0.5 + level / 200) * root
        ends = np.sort([scale.shown(value - reach), scale.shown(value + reach)], axis=0)
        rows[f"low_{level}"], rows[f"high_{level}"] = ends
    zone = group.zone()
    return ReadingPanel(
        rows=pd.DataFrame(rows),
        zone=zone,
        zone_words="" if zone is None else group.zone_words(),
        no_effect=scale.no_effect,
        scale=scale.kind,
        decimals=scale.decimals,
        **words,
    )


def _by_construct(table: pd.DataFrame) -> pd.DataFrame:
    """Rows of one construct together, otherwise in the paper's order: each is one heading."""
    first = {construct: at for at, construct in enumerate(dict.fromkeys(table["construct"]))}
    return table.sort_values("construct", key=lambda each: each.map(first), kind="stable")


def _own(text: str) -> str:
    return f"in its own unit: {text}" if text else ""


def _label(reading: StudyReading, row) -> str:
    outcome = reading.study.outcome(row.outcome)
    unit = f" ({outcome.unit})" if outcome.unit else ""
    return f"{outcome.name}{unit}, week {row.week:g}"


def _subtitle(reading: StudyReading) -> str:
    if len(reading.effects):
        return _in_short(reading.effects)
    return ONE_GROUP if len(reading.own_changes) else NO_EFFECT


def _in_short(effects: pd.DataFrame) -> str:
    """How many outcomes point which way, and how many settle anything; never a count of p.

    What no sentence about the study counts is drawn but not counted here either.
    """
    rows = effects[effects["counted"]]
    if rows.empty:
        return "Only stand-ins for the outcome were measured; none is counted."
    if len(rows) == 1:
        text = _only(rows.iloc[0])
    else:
        text = _of_several(rows)
    earlier = int((~effects["last"]).sum())
    stand_ins = len(effects) - len(rows) - earlier
    others = [count(stand_ins, "stand-in")] * bool(stand_ins)
    others += [count(earlier, "earlier result")] * bool(earlier)
    if others:
        text += f" ({' and '.join(others)} drawn, not counted)"
    return text + ". One study is one witness: its outcomes come from the same people."


def _only(row: pd.Series) -> str:
    way = (
        "towards" if row["effect"] > 0 else "away from" if row["effect"] < 0 else "neither way from"
    )
    text = f"Its one effect leans {way} the intervention"
    if row["verdict"]:
        shows = "shows" if row["verdict"] == SHOWN and row["effect"] > 0 else "does not show"
        text += f"; it {shows} one large enough to matter on its own"
    return text


def _of_several(rows: pd.DataFrame) -> str:
    better = int((rows["effect"] > 0).sum())
    leans = "leans" if better == 1 else "lean"
    text = f"{better} of {count(len(rows), 'effect')} {leans} towards the intervention"
    judged = rows[rows["verdict"] != ""]
    if len(judged):
        settled = int(((judged["verdict"] == SHOWN) & (judged["effect"] > 0)).sum())
        them = "them" if len(judged) == len(rows) else f"the {len(judged)} that can be judged"
        shows = "shows" if settled == 1 else "show"
        text += f"; {settled} of {them} {shows} one large enough to matter on its own"
    return text


def _notes(reading: StudyReading) -> tuple[str, ...]:
    study = reading.study
    found = ["Invented data, for demonstration."] if study.invented else []
    if study.retracted:
        found.append("This study has been retracted.")
    said = [*reading.effects["assumed"], *reading.own_changes["assumed"]]
    found += [f"Assumed: {text}." for text in dict.fromkeys(said) if text]
    found += [f"Left out: {reason}." for reason in reading.left_out]
    return tuple(found)
