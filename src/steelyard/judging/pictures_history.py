"""The answer through time, as a picture shows it."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from steelyard.judging.history import History
from steelyard.pooling.effect_axis import effect_axis, ends_shown
from steelyard.pooling.forest_data import TITLE_NOTE_INVENTED
from steelyard.pooling.pictures import HistoryData
from steelyard.show import count

YEARS = ["year", "estimate", "low", "high", "studies", "added", "certainty"]
TOLD = ["year", "estimate", "words"]


def history_data(history: History) -> HistoryData:
    """Cumulative answers by year, and what clients were told when, in display units.

    Parameters
    ----------
    history : History

    Returns
    -------
    HistoryData
        Studies whose paper has no year have no place in it and are named in the notes; the
        years are empty where no paper has one.
    """
    weighing = history.weighing
    labels = dict(zip(weighing.studies["study"], weighing.studies["label"], strict=True))
    years, notes = [], [TITLE_NOTE_INVENTED] if weighing.invented else []
    notes += history.notes
    for row in history.steps.itertuples():
        named = [labels.get(each, each) for each in row.added.split(", ") if each]
        if not row.year.isdigit():
            notes.append(f"Without a year, and so not drawn: {', '.join(named)}.")
            continue
        low, high = ends_shown(weighing, row.low, row.high)
        years.append(
            {
                "year": int(row.year),
                "estimate": float(weighing.scale.shown(row.estimate)),
                "low": low,
                "high": high,
                "studies": int(row.k_studies),
                "added": ", ".join(named),
                "certainty": row.certainty,
            }
        )
    told = [
        {
            "year": _as_year(row.date),
            "estimate": float(weighing.scale.shown(row.estimate)),
            "words": f"told: {weighing.text(row.estimate)}"
            + (f", {row.certainty} certainty" if row.certainty else ""),
        }
        for row in history.told.itertuples()
        if row.date is not None
    ]
    notes.append(f"Evidence fingerprint {weighing.fingerprint}.")
    return HistoryData(
        title="How did the answer come to be?",
        subtitle=_sentence(history, years),
        notes=tuple(notes),
        axis=effect_axis(weighing),
        years=pd.DataFrame(years, columns=YEARS),
        told=pd.DataFrame(sorted(told, key=lambda row: row["year"]), columns=TOLD),
        level=weighing.level,
    )


def _as_year(date: dt.date) -> float:
    """A date as a year with a fraction: 1 July 2023 is about 2023.5."""
    days = dt.date(date.year + 1, 1, 1) - dt.date(date.year, 1, 1)
    return date.year + (date - dt.date(date.year, 1, 1)) / days


def _sentence(history: History, years: list[dict]) -> str:
    if not years:
        return "No paper behind it has a year, so there is nothing to draw."
    weighing, steps = history.weighing, history.steps
    first, last = steps.iloc[0], steps.iloc[-1]
    if len(steps) == 1:
        return (
            f"All of it came in {first.year}: {count(int(first.k_studies), 'study', 'studies')}, "
            f"{weighing.text(first.estimate)}."
        )
    sentence = (
        f"From {weighing.text(first.estimate)} in {first.year} "
        f"({count(int(first.k_studies), 'study', 'studies')}) to {weighing.text(last.estimate)} "
        f"now ({last.k_studies} studies)"
    )
    settled = _since(steps, "verdict")
    if settled and last.verdict:
        sentence += f"; it has read '{last.verdict}' since {settled}"
    return f"{sentence}."


def _since(steps: pd.DataFrame, column: str) -> str:
    """The year from which a word has been what it is now; empty if from the start."""
    words = list(steps[column])
    held = len(words) - 1
    while held > 0 and words[held - 1] == words[-1]:
        held -= 1
    return "" if held == 0 else str(steps["year"].iloc[held])
