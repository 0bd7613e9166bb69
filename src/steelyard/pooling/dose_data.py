"""What the picture of a dose-response shows, in display units."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import ndtri

from steelyard.pooling.dose_answer import DoseAnswer
from steelyard.pooling.pictures import DoseData, DoseForm, EffectAxis

POINTS = 60
_SHORT = {"linear": "a straight line", "log": "levels off", "spline": "free to bend"}
_QUANTITIES = {
    "standardised": "standard deviations between people",
    "raw": "the unit measured",
    "percent": "percent",
}


def dose_data(answer: DoseAnswer) -> DoseData:
    """Everything the dose picture shows.

    Each study's lowest dose is set on the curve, since only differences inside a study were
    compared; its other doses stand as far from there as the study found.
    """
    weighing, fit = answer.weighing, answer.fit
    rows = weighing.effects[weighing.effects["used"]]
    weights = weighing.studies.set_index("study")["weight"]
    shown = weighing.scale.shown
    reach = float(ndtri((1 + fit.level) / 2))
    points = []
    for study, part in rows.groupby("study", sort=False):
        start = float(part["dose_comparator"].iloc[0])
        base = float(fit.curve([start]).estimate[0])
        label, weight = part["label"].iloc[0], 100 * float(weights[study])
        first = (start, base, np.nan, np.nan, "")
        others = [
            (
                r.dose_intervention,
                base + r.effect,
                *_ends(base + r.effect, r.variance, reach),
                r.flags,
            )
            for r in part.itertuples()
        ]
        for dose, effect, low, high, flags in (first, *sorted(others)):
            ends = sorted(float(shown(end)) for end in (low, high))
            points.append((study, label, dose, float(shown(effect)), *ends, weight, flags))
    columns = ["study", "label", "dose", "estimate", "low", "high", "weight", "flags"]
    lowest = f"{fit.lowest:g} {answer.what}"
    return DoseData(
        title=weighing.question.asks,
        subtitle=answer.sentence,
        notes=_notes(answer),
        axis=EffectAxis(
            title=f"difference from {lowest}, in {_quantity(weighing)}",
            left_words="less than at the lowest dose",
            right_words="more than at the lowest dose",
            kind=weighing.scale.kind,
            no_effect=weighing.scale.no_effect,
            decimals=weighing.scale.decimals,
        ),
        points=pd.DataFrame(points, columns=columns),
        forms=tuple(
            DoseForm(name=name, words=_SHORT[name], curve=_curve(answer, name))
            for name in answer.fits
        ),
        form=answer.form,
        evidence_low=fit.lowest,
        evidence_high=fit.highest,
        dose_title=weighing.question.dose.replace("_", " "),
        level=fit.level,
    )


def _ends(effect: float, variance: float, reach: float) -> tuple[float, float]:
    half = reach * float(np.sqrt(variance))
    return effect - half, effect + half


def _curve(answer: DoseAnswer, name: str) -> pd.DataFrame:
    fit, shown = answer.fits[name], answer.weighing.scale.shown
    found = fit.curve(np.linspace(fit.lowest, fit.highest, POINTS))
    ends = np.sort(np.column_stack([shown(found.low), shown(found.high)]), axis=1)
    return pd.DataFrame(
        {
            "dose": found.dose,
            "estimate": shown(found.estimate),
            "low": ends[:, 0],
            "high": ends[:, 1],
        }
    )


def _quantity(weighing) -> str:
    unit = weighing.scale.unit.strip()
    return (
        unit
        if weighing.question.metric == "raw" and unit
        else _QUANTITIES[weighing.question.metric]
    )


def _notes(answer: DoseAnswer) -> tuple[str, ...]:
    found = ["Invented data, for demonstration."] if answer.weighing.invented else []
    found.append(
        "Each study's lowest dose is set on the curve, since only doses inside a study were "
        "compared; its other doses stand as far from there as the study found."
    )
    found.append(answer.between_sentence)
    found += [f"No {name} curve: {why}." for name, why in answer.refused.items()]
    return tuple(found)
