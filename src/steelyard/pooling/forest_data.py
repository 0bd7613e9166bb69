"""From a weighing to the numbers a forest plot shows, in display units."""

from __future__ import annotations

import numpy as np
import pandas as pd

from steelyard.pooling.answer import answer_sentence
from steelyard.pooling.display import ForestData
from steelyard.pooling.side_words import axis_words
from steelyard.pooling.weighing import Weighing

BOUNDS = tuple(f"{end}_{level}" for level in (50, 80, 95) for end in ("low", "high"))
TITLE_NOTE_INVENTED = "Invented data, for demonstration."


def forest_data(weighing: Weighing, *, mark: str | None = None) -> ForestData:
    """Everything a forest plot of this weighing shows.

    Parameters
    ----------
    weighing : Weighing
    mark : str, optional
        Id of a study to mark as new.

    Returns
    -------
    ForestData
        Rows from the largest effect to the smallest, studies not pooled last.
    """
    scale = weighing.scale
    rows = display_rows(weighing.studies, scale)
    rows["weight"] = 100 * weighing.studies["weight"].to_numpy(float)
    rows["pooled"] = weighing.studies["used"].to_numpy(bool)
    if mark is not None:
        new = rows["study"] == mark
        rows.loc[new, "flags"] = [
            "; ".join(filter(None, ("new", text))) for text in rows.loc[new, "flags"]
        ]
    rows = rows.sort_values(["pooled", "estimate"], ascending=[False, False], kind="stable")
    pooled = weighing.pooled
    low, high = _ends(scale, pooled.low, pooled.high)
    prediction_low, prediction_high = _ends(scale, pooled.prediction_low, pooled.prediction_high)
    zone = None
    if weighing.worthwhile is not None:
        zone = tuple(_ends(scale, -weighing.worthwhile, weighing.worthwhile))
    left, right = axis_words(weighing)
    return ForestData(
        rows=rows.reset_index(drop=True),
        estimate=float(scale.shown(pooled.estimate)),
        low=low,
        high=high,
        prediction_low=prediction_low,
        prediction_high=prediction_high,
        level=pooled.level,
        zone=zone,
        no_effect=scale.no_effect,
        scale=scale.kind,
        axis_title=axis_title(weighing),
        left_words=left,
        right_words=right,
        intervention=weighing.intervention,
        comparator=weighing.comparator,
        title=weighing.question.asks,
        subtitle=answer_sentence(weighing),
        notes=notes(weighing),
        decimals=scale.decimals,
    )


def display_rows(table: pd.DataFrame, scale) -> pd.DataFrame:
    """Rows with an effect and nested intervals, machine scale to display units."""
    people = ["n_intervention", "n_comparator", "people"]
    rows = table[["study", "label", *people, "n_effects", "flags"]].copy()
    rows["estimate"] = scale.shown(table["effect"].to_numpy(float))
    for level in (50, 80, 95):
        ends = np.sort(
            np.column_stack(
                [scale.shown(table[f"{end}_{level}"].to_numpy(float)) for end in ("low", "high")]
            ),
            axis=1,
        )
        rows[f"low_{level}"], rows[f"high_{level}"] = ends[:, 0], ends[:, 1]
    return rows


def axis_title(weighing: Weighing) -> str:
    """Quantity and unit in words."""
    question = weighing.question
    what = {
        "standardised": "difference, in standard deviations between people",
        "raw": f"difference, in{weighing.scale.unit or ' the unit measured'}",
        "percent": "difference, in percent",
        "correlation": "correlation",
        "risk-ratio": "risk, as a ratio",
        "odds-ratio": "odds, as a ratio",
        "risk-difference": "difference in risk, per 100 people",
        "variability-ratio": "spread between people, as a ratio",
        "relative-variability-ratio": "spread between people relative to their mean, as a ratio",
    }[question.metric]
    if question.dose is not None:
        step = float(question.dose_step or 1)
        what += f", for every {step:g} more {question.dose.replace('_', ' ')}"
    return what


def notes(weighing: Weighing) -> tuple[str, ...]:
    """Sentences that belong below the plot."""
    found = [TITLE_NOTE_INVENTED] if weighing.invented else []
    found.append(f"{weighing.method[:1].upper()}{weighing.method[1:]}.")
    found += [f"{text[:1].upper()}{text[1:]}." for text in weighing.assumptions]
    if weighing.without_suspects is not None:
        sentence = weighing.suspect_sentence
        found.append(f"Suspect numbers: {sentence}.")
    found.append(f"Evidence fingerprint {weighing.fingerprint}.")
    return tuple(found)


def _ends(scale, low: float, high: float) -> list[float]:
    if np.isnan(low) or np.isnan(high):
        return [float("nan")] * 2
    return sorted(float(scale.shown(end)) for end in (low, high))
