"""Invented weighings to draw: numbers from a seeded generator, names of places that are not."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from scipy import stats

from steelyard.pooling.display import ForestData, ReadingData, ReadingPanel

PLACES = (
    "Ashcombe", "Brindle Fell", "Carrowmoor", "Dunwater", "Eskdyke", "Farlow", "Garthside",
    "Hollin Bank", "Inverlathe", "Jarrowmere", "Kelderwick", "Lowmarsh", "Merrowdale", "Netherby",
    "Oxenholt", "Pellgate", "Quernford", "Rathmoor", "Stonnisdale and Upper Marlow-on-the-Weir",
    "Tarnside",
)  # fmt: skip
LEVELS = ((50, 0.75), (80, 0.9), (95, 0.975))


def invented_forest(k: int, *, scale: str = "linear", seed: int = 7, plain: bool = False):
    """A `ForestData` of `k` studies; `plain` leaves out flags, extremes and uncounted studies."""
    generator = np.random.default_rng(seed + k)
    logarithmic = scale == "log"
    n = generator.integers(8, 70, size=(k, 2))
    error = np.sqrt(4 / n.sum(axis=1)) * (0.9 if logarithmic else 0.85)
    true = generator.normal(0.28, 0.18, size=k)
    effect = generator.normal(true, error)
    flags = [""] * k
    counted = np.ones(k, dtype=bool)
    if not plain:
        if k >= 3:
            flags[1] = "assumed r"
        if k >= 12:
            flags[3] = "retracted"
            counted[3] = False
            flags[6] = "suspect numbers; read off a figure"
            effect[6], error[6] = 3.4, 0.42
            error[9] = 1.9
            flags[10] = "post only; unrandomised"
        if k >= 60:
            for i in range(14, 60, 7):
                flags[i] = ("assumed r", "post only", "unrandomised", "suspect numbers")[i % 4]
            effect[33] = -0.9
            counted[41] = False
            flags[41] = "retracted; suspect numbers"
    tau2 = 0.03
    weight = np.where(counted, 1 / (error**2 + tau2), 0.0)
    pooled = float((weight * effect).sum() / weight.sum())
    se = float(1 / math.sqrt(weight.sum()))
    degrees = int(counted.sum()) - 1
    show = np.exp if logarithmic else (lambda value: value)
    rows = {
        "study": [f"study-{i}" for i in range(k)],
        "label": [f"{PLACES[i % len(PLACES)]} {1998 + (i * 7) % 27}" for i in range(k)],
        "estimate": show(effect),
        "weight": 100 * weight / weight.sum(),
        "n_intervention": n[:, 0],
        "n_comparator": n[:, 1],
        "people": n.sum(axis=1),
        "n_effects": generator.integers(1, 4, size=k),
        "flags": flags,
        "pooled": counted,
    }
    for level, quantile in LEVELS:
        rows[f"low_{level}"] = show(effect - stats.norm.ppf(quantile) * error)
        rows[f"high_{level}"] = show(effect + stats.norm.ppf(quantile) * error)
    t = stats.t.ppf(0.975, degrees) if degrees > 0 else math.nan
    spread = t * math.sqrt(se**2 + tau2)
    common = {
        "rows": pd.DataFrame(rows),
        "level": 0.95,
        "scale": scale,
        "intervention": "added slow lowering",
        "comparator": "usual lifting",
        "title": "Does adding slow lowering work to usual lifting make masters rowers' hamstrings "
        "stronger?",
        "subtitle": "Probably a little: the middle of the evidence lies above what matters, but "
        "the next study may well show less than that.",
        "notes": (
            "Invented data: Tarnside Rowing Club and every study here are made up to show how "
            "the workbook works.",
            "Where a paper gave no pre-post correlation, r = 0.80 was assumed (see the marks).",
            "Random effects, REML; Knapp–Hartung interval.",
        ),
        "estimate": float(show(pooled)),
        "low": float(show(pooled - t * se)),
        "high": float(show(pooled + t * se)),
        "prediction_low": float(show(pooled - spread)),
        "prediction_high": float(show(pooled + spread)),
        "decimals": 2,
    }
    if logarithmic:
        return ForestData(
            **common
            | {
                "title": "Do hamstring complaints become more frequent with added slow lowering?",
                "subtitle": "Perhaps somewhat, and by how much is open.",
            },
            zone=(0.9, 1.1),
            no_effect=1.0,
            axis_title="Ratio of the chances of a hamstring complaint within one season",
            left_words="fewer complaints with added slow lowering",
            right_words="more complaints with added slow lowering",
        )
    return ForestData(
        **common,
        zone=(-0.14, 0.14),
        no_effect=0.0,
        axis_title="Difference in strength gained, in standard deviations",
        left_words="favours usual lifting",
        right_words="favours added slow lowering",
    )


def invented_reading() -> ReadingData:
    """One study with six measured outcomes, one of them extreme, and one of counted people."""
    outcome = [
        "Knee flexion, isometric peak (N), week 12", "Knee extension, isometric peak (N), week 12",
        "Leg press, one repetition maximum (kg), week 12", "Hamstring thickness (mm), week 12",
        "Vastus lateralis thickness at the middle of the thigh (mm), week 12",
        "2 km ergometer time (s), week 12",
    ]  # fmt: skip
    effect = np.array([0.42, 0.18, 0.30, 0.12, -0.05, 2.9])
    error = np.array([0.2, 0.21, 0.17, 0.3, 0.26, 0.5])
    rows = {
        "outcome": outcome,
        "construct": ["strength"] * 3 + ["muscle size"] * 2 + ["performance"],
        "estimate": effect,
        "printed": ["+13.4 N", "+9.1 N", "+6.2 kg", "+0.4 mm", "−0.2 mm", "−9.8 s"],
        "flags": ["", "", "assumed r", "", "read off a figure", "suspect numbers"],
    }
    for level, quantile in LEVELS:
        rows[f"low_{level}"] = effect - stats.norm.ppf(quantile) * error
        rows[f"high_{level}"] = effect + stats.norm.ppf(quantile) * error
    return ReadingData(
        panels=(
            ReadingPanel(
                rows=pd.DataFrame(rows),
                zone=(-0.14, 0.14),
                zone_words="−0.14 to +0.14 SD",
                no_effect=0.0,
                scale="linear",
                axis_title="Difference between the arms, in standard deviations",
                left_words="favours usual lifting",
                right_words="favours added slow lowering",
                decimals=2,
            ),
            _invented_counts(),
        ),
        title="Merrowdale 2019: everything it measured",
        subtitle="Of seven outcomes, one is clear of the zone; nothing here was corrected for "
        "looking seven times.",
        notes=("Invented data: no such study exists.", "An r of 0.80 was assumed once."),
    )


def _invented_counts() -> ReadingPanel:
    """People with a complaint, told as a ratio, on a scale of their own."""
    effect, error = math.log(0.6), 0.7
    rows = {
        "outcome": ["Hamstring complaints (people), week 12"],
        "construct": ["complaints"],
        "estimate": [math.exp(effect)],
        "printed": ["3 of 22 against 5 of 22"],
        "flags": ["one half added"],
    }
    for level, quantile in LEVELS:
        reach = stats.norm.ppf(quantile) * error
        rows[f"low_{level}"], rows[f"high_{level}"] = (
            [math.exp(effect - reach)],
            [math.exp(effect + reach)],
        )
    return ReadingPanel(
        rows=pd.DataFrame(rows),
        zone=(0.8, 1.25),
        zone_words="0.80 to 1.25 times the risk",
        no_effect=1.0,
        scale="log",
        axis_title="How many times as likely with added slow lowering",
        left_words="fewer with added slow lowering",
        right_words="more with added slow lowering",
        decimals=2,
    )
