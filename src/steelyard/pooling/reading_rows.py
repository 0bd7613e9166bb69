"""A study's reading as rows for people and as JSON for machines."""

from __future__ import annotations

import numpy as np

from steelyard.pooling.reading_groups import in_own_unit, in_people
from steelyard.pooling.study_reading import POWER, StudyReading
from steelyard.pooling.weighing import plain


def effect_name(reading: StudyReading, row) -> str:
    """Outcome and week of an effect row, with its arms where several are compared."""
    name = f"{reading.study.outcome(row.outcome).name}, week {row.week:g}"
    if reading.effects["comparison"].nunique() == 1:
        return name
    one, other = (reading.study.arm(arm).name for arm in (row.intervention, row.comparator))
    return f"{name}: {one} v {other}"


def as_printed(row) -> str:
    """An effect row as the paper's reader knows it: in people, or in the unit measured."""
    if row.events_intervention == row.events_intervention:
        return in_people(row)
    if row.metric == "raw":
        return ""
    return in_own_unit(row.own_unit, row.own_unit_error, row.better, row.unit)


def reading_rows(reading: StudyReading) -> list[tuple[str, str]]:
    """Rows for the terminal and the notebook."""
    rows = []
    for row in reading.effects.itertuples():
        told = reading.groups[row.scale].told(row.effect, row.low, row.high)
        parts = [told, as_printed(row), row.verdict, row.flags]
        rows.append((effect_name(reading, row), "; ".join(part for part in parts if part)))
    for group in reading.groups if len(reading.own_changes) else ():
        for row in reading.own_changes.iloc[list(group.places)].itertuples():
            told = group.told(row.change, row.low, row.high)
            unit = in_own_unit(row.own_unit, 0.0, row.better, row.unit)
            parts = [told, unit if row.metric != "raw" else "", "own change, no effect", row.flags]
            name = f"{reading.study.outcome(row.outcome).name}, week {row.week:g}"
            rows.append((name, "; ".join(part for part in parts if part)))
    for row in reading.composites.itertuples():
        if row.outcomes < 2:
            continue
        label = reading.vocabulary.label("construct", row.construct)
        told = reading.groups[row.scale].told(row.effect, row.low, row.high)
        verdict = f"; {row.verdict}" if row.verdict else ""
        rows.append(
            (
                f"{label}, {row.outcomes} together",
                f"{told}{verdict}; assumed r {reading.r_between_outcomes:.2f} between outcomes",
            )
        )
    rows += [("finding", sentence) for sentence in reading.findings]
    rows += [("left out", reason) for reason in reading.left_out]
    return rows


def reading_json(reading: StudyReading) -> dict:
    """The machine's view: ratios on the log scale, positive favours the intervention.

    ``metric`` and ``smallest_worthwhile`` are those of the first of ``scales``; every effect
    names its own. What could be told from none is null ``at`` where it is not worked out, or
    ``beyond_reach``: no change of the counted people would do.
    """
    records = reading.effects.to_dict("records")
    keys = ("outcome", "comparison", "week")
    first = reading.groups[0] if reading.groups else None
    return {
        "study": reading.study.id,
        "title": reading.study.source.title,
        "metric": first.metric if first else None,
        "smallest_worthwhile": plain(first.worthwhile) if first else None,
        "direction": "positive favours the intervention",
        "scales": [
            {
                "metric": group.metric,
                "unit": group.scale.unit.strip(),
                "smallest_worthwhile": plain(group.worthwhile),
            }
            for group in reading.groups
        ],
        "effects": _plain(reading.effects),
        "composite": _plain(reading.composites),
        "r_between_outcomes": reading.r_between_outcomes,
        "detectable": [
            {
                **{key: plain(row[key]) for key in keys},
                "power": POWER,
                "at": plain(row["detectable"]),
                "beyond_reach": bool(np.isinf(row["detectable"])),
            }
            for row in records
        ],
        "verdicts": [
            {**{key: plain(row[key]) for key in keys}, "verdict": row["verdict"] or None}
            for row in records
        ],
        "gains_inside_groups": [each.as_json() for each in reading.gain_words],
        "changes_without_comparison": _plain(reading.own_changes),
        "findings": list(reading.findings),
        "left_out": list(reading.left_out),
        "not_shown": [
            {
                "outcome": each.outcome,
                "week": plain(each.week),
                "comparison": each.comparison or None,
                "reason": each.reason,
            }
            for each in reading.not_formed
        ],
        "invented": reading.study.invented,
    }


def _plain(table) -> list[dict]:
    return [{str(k): plain(v) for k, v in row.items()} for row in table.to_dict("records")]
