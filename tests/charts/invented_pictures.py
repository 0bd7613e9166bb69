"""Invented data for every picture: seeded numbers, names of places that are not."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from scipy import stats

from steelyard.pooling import pictures
from tests.charts.invented_forests import PLACES

NOTES = (
    "Invented data: Tarnside Rowing Club and every study here are made up.",
    "Random effects, REML; Knapp–Hartung interval.",
)
STRENGTH = pictures.EffectAxis(
    title="Difference in strength gained, in standard deviations",
    left_words="favours usual lifting",
    right_words="favours added slow lowering",
    zone=(-0.14, 0.14),
)
COMPLAINTS = pictures.EffectAxis(
    title="Ratio of the chances of a hamstring complaint within one season",
    left_words="fewer complaints with added slow lowering",
    right_words="more complaints with added slow lowering",
    kind="log",
    no_effect=1.0,
    zone=(0.9, 1.1),
)


def label(i: int) -> str:
    return f"{PLACES[i % len(PLACES)]} {1998 + (i * 7) % 27}"


def invented_funnel(k: int = 24, *, kind: str = "linear") -> pictures.FunnelData:
    generator = np.random.default_rng(k)
    show = np.exp if kind == "log" else (lambda value: value)
    error = generator.uniform(0.07, 0.42, size=k)
    effect = generator.normal(0.25 + 0.7 * error, 0.7 * error)
    flags = ["" for _ in range(k)]
    for i in range(2, k, 7):
        flags[i] = ("suspect numbers", "assumed r; read off a figure", "retracted")[i % 3]
    pooled = float((effect / error**2).sum() / (1 / error**2).sum())
    grid = np.array([0.0, 0.6])
    contours = {"standard_error": grid}
    for level in (90, 95, 99):
        z = stats.norm.ppf(0.5 + level / 200)
        contours[f"low_{level}"], contours[f"high_{level}"] = show(-z * grid), show(z * grid)
    far = np.argsort(effect - pooled)[-3:] if k > 3 else []
    return pictures.FunnelData(
        axis=STRENGTH if kind == "linear" else COMPLAINTS,
        studies=pd.DataFrame(
            {
                "study": [f"study-{i}" for i in range(k)],
                "label": [label(i) for i in range(k)],
                "estimate": show(effect),
                "standard_error": error,
                "weight": np.full(k, 100 / k),
                "flags": flags,
                "pooled": ["retracted" not in flag for flag in flags],
            }
        ),
        filled=pd.DataFrame(
            {"estimate": show(2 * pooled - effect[far]), "standard_error": error[far]}
            if k > 3
            else {"estimate": [], "standard_error": []}
        ),
        contours=pd.DataFrame(contours),
        funnel=pd.DataFrame(
            {
                "standard_error": grid,
                "low": show(pooled - 1.96 * grid),
                "high": show(pooled + 1.96 * grid),
            }
        ),
        estimate=float(show(pooled)),
        estimate_filled=float(show(pooled - 0.06)) if k > 3 else math.nan,
        title="Do small studies tell another story?",
        subtitle="Small studies show larger effects than large ones; filling in what may be "
        "missing takes the answer down a little.",
        notes=NOTES,
    )


def invented_dose() -> pictures.DoseData:
    generator = np.random.default_rng(4)
    rows = []
    for study in range(9):
        for dose in sorted(generator.choice([4, 6, 8, 10, 12, 16, 20], size=2 + study % 2)):
            error = generator.uniform(0.08, 0.25)
            effect = 0.3 * math.log(dose / 3) + generator.normal(0, error)
            rows.append(
                {
                    "study": f"study-{study}",
                    "label": label(study),
                    "dose": float(dose),
                    "estimate": effect,
                    "low": effect - 1.96 * error,
                    "high": effect + 1.96 * error,
                    "weight": 1 / error**2,
                    "flags": "assumed r" if study == 3 else "",
                }
            )
    dose = np.linspace(1, 28, 80)
    error = 0.05 + 0.002 * np.abs(dose - 10) ** 1.5

    def form(name, words, curve):
        table = {"dose": dose, "estimate": curve, "low": curve - 2 * error}
        return pictures.DoseForm(
            name=name, words=words, curve=pd.DataFrame(table | {"high": curve + 2 * error})
        )

    return pictures.DoseData(
        axis=STRENGTH,
        points=pd.DataFrame(rows),
        forms=(
            form("linear", "each set adds the same", 0.035 * (dose - 3)),
            form("log", "each doubling adds the same", 0.3 * np.log(dose / 3)),
            form("spline", "bends where the data say", 0.5 * np.tanh((dose - 3) / 9)),
        ),
        form="log",
        evidence_low=4.0,
        evidence_high=20.0,
        dose_title="weekly sets for one muscle",
        title="How many weekly sets?",
        subtitle="More sets do better up to about twelve a week; what more than twenty would do "
        "no study shows.",
        notes=NOTES,
    )


def invented_choices(sizes=(4, 3, 3, 4, 3, 3)) -> pictures.ChoicesData:
    """As many ways as the product of the sizes; 1,296 by default."""
    options = {
        "correlation before–after": ("0.7", "0.8", "0.9", "as reported only"),
        "metric": ("standardised", "percent, put on SDs", "raw, put on SDs"),
        "contrast": ("post", "change", "adjusted for the start"),
        "estimator": ("REML", "DL", "PM", "common effect"),
        "dependence": ("composite", "multilevel", "first outcome only"),
        "inclusion": ("all", "without suspect numbers", "randomised only"),
    }
    shifts = {
        name: np.linspace(-0.12, 0.1, len(texts)) * strength
        for (name, texts), strength in zip(
            options.items(), (1, 0.3, 0.6, 0.1, 0.4, 1.2), strict=True
        )
    }
    rows = []
    for number, places in enumerate(np.ndindex(*sizes)):
        row, effect = {}, 0.3
        for place, (name, texts) in zip(places, options.items(), strict=True):
            row[f"choice_{name}"] = texts[place]
            effect += shifts[name][place]
        half = 0.12 + 0.05 * math.sin(number)
        rows.append(row | {"estimate": effect, "low": effect - half, "high": effect + half})
    ways = pd.DataFrame(rows).sort_values("estimate", ignore_index=True)
    return pictures.ChoicesData(
        axis=STRENGTH,
        ways=ways,
        choices=tuple(
            pictures.Choice(column=f"choice_{name}", words=name, options=texts[:size])
            for (name, texts), size in zip(options.items(), sizes, strict=True)
        ),
        shipped=int(0.62 * len(ways)),
        title="Would another way to weigh give another answer?",
        subtitle="Of all ways that can be defended, most give an answer that matters; what the "
        "correlation is taken to be and which studies count move it most.",
        notes=NOTES,
    )


def invented_turns(k: int = 14) -> pictures.TurnsData:
    generator = np.random.default_rng(k)
    move = np.sort(np.abs(generator.normal(0, 0.03, size=k)))[::-1]
    move[0] = 0.19
    effect = 0.27 - move * generator.choice([-1, 1], size=k)
    effect[0] = 0.08
    return pictures.TurnsData(
        axis=STRENGTH,
        without=pd.DataFrame(
            {
                "study": [f"study-{i}" for i in range(k)],
                "label": [label(i) for i in range(k)],
                "estimate": effect,
                "low": effect - 0.14,
                "high": effect + 0.15,
                "turns": ["no longer enough to matter", *[""] * (k - 1)],
                "flags": ["suspect numbers", *[""] * (k - 1)],
            }
        ),
        estimate=0.27,
        low=0.15,
        high=0.39,
        title="Does the answer turn on one study?",
        subtitle="On one of fourteen: without Ashcombe 1998 the answer would no longer be enough "
        "to matter.",
        notes=NOTES,
    )


def invented_history(*, told: bool = True) -> pictures.HistoryData:
    year = [2003, 2007, 2008, 2011, 2014, 2016, 2019, 2020, 2023]
    effect = np.array([0.9, 0.62, 0.55, 0.4, 0.42, 0.35, 0.31, 0.33, 0.3])
    half = np.array([0.8, 0.5, 0.42, 0.3, 0.26, 0.2, 0.16, 0.14, 0.11])
    words = ["very low", "very low", "very low", "low", "low", "low", "moderate", "moderate"]
    return pictures.HistoryData(
        axis=STRENGTH,
        years=pd.DataFrame(
            {
                "year": year,
                "estimate": effect,
                "low": effect - half,
                "high": effect + half,
                "studies": [1, 2, 4, 5, 6, 8, 9, 11, 13],
                "added": [label(i) for i in range(9)],
                "certainty": [*words, "high"] if told else [""] * 9,
            }
        ),
        told=pd.DataFrame(
            {
                "year": [2012.3, 2021.5],
                "estimate": [0.4, 0.33],
                "words": ["told: perhaps +0.4", "told: probably +0.3"],
            }
            if told
            else {"year": [], "estimate": [], "words": []}
        ),
        title="How did the answer come to be?",
        subtitle="It has come down from the first study's and hardly moved since 2016.",
        notes=NOTES,
    )


def invented_belief(*, priors: bool = True) -> pictures.BeliefData:
    value = np.linspace(-1.2, 1.6, 281)
    rows = {
        "words": ["nothing in particular", "small effects are usual", "doubt: none at all"],
        "estimate": [0.27, 0.25, 0.19],
        "low": [0.13, 0.12, 0.05],
        "high": [0.41, 0.38, 0.33],
        "above": ["96 in 100", "95 in 100", "76 in 100"],
        "used": [False, True, False],
    }
    return pictures.BeliefData(
        axis=STRENGTH,
        curves=pd.DataFrame(
            {
                "value": value,
                "average": stats.norm.pdf(value, 0.25, 0.065),
                "following": stats.t.pdf((value - 0.25) / 0.2, 8) / 0.2,
            }
        ),
        average=pictures.Chances(below="under 1 in 100", within="5 in 100", above="95 in 100"),
        following=pictures.Chances(below="4 in 100", within="25 in 100", above="71 in 100"),
        average_interval=(0.12, 0.38),
        following_interval=(-0.2, 0.7),
        priors=pd.DataFrame(rows if priors else {name: [] for name in rows}),
        title="What should one believe now?",
        subtitle="That it helps by enough to matter, on average; the next group may well gain "
        "less.",
        notes=NOTES,
    )


def invented_overview(k: int = 8) -> pictures.OverviewData:
    generator = np.random.default_rng(3)
    statements = (
        "Add slow lowering work twice a week", "Do about twelve weekly sets for each muscle",
        "Rest two minutes or more between heavy sets", "Train one leg at a time",
        "Stop two repetitions short of failure", "Lift before rowing, not after it",
        "Cut the volume by half in the week before a regatta, and keep the load as it was in "
        "the sets that are left, whichever boat is raced and however the winter went",
        "Eat protein soon after the evening session",
    )  # fmt: skip
    about = ("hamstring strength", "muscle size", "2 km time", "strains")
    size = generator.normal(1.6, 1.3, size=k)
    half = generator.uniform(0.3, 1.6, size=k)
    return pictures.OverviewData(
        recommendations=pd.DataFrame(
            {
                "recommendation": [f"recommendation-{i}" for i in range(k)],
                "statement": [statements[i % len(statements)] for i in range(k)],
                "about": [about[i % 4] for i in range(k)],
                "estimate": size,
                "low": size - half,
                "high": size + half,
                "prediction_low": [math.nan if i % 5 == 4 else size[i] - 2 * half[i]
                                   for i in range(k)],
                "prediction_high": [math.nan if i % 5 == 4 else size[i] + 2 * half[i]
                                    for i in range(k)],
                "certainty": [pictures.CERTAINTY_WORDS[(3 * i + 2) % 4] for i in range(k)],
                "verdict": ["not settled" if i % 2 else "better by enough" for i in range(k)],
                "reviewed": ["" if i == 6 else "March 2024" for i in range(k)],
                "changed": ["smaller than it was, one study new" if i % 6 == 1 else ""
                            for i in range(k)],
            }
        ),
        title="What we recommend, and how well it stands",
        subtitle="Most help by enough to matter; two have moved since clients were told.",
        notes=NOTES,
    )  # fmt: skip


def invented_concern() -> pictures.ConcernData:
    return pictures.ConcernData(
        domains=pd.DataFrame(
            {
                "domain": [
                    "How people were put into groups", "Whether they kept to the training",
                    "Results that are missing", "How it was measured",
                    "Which results were reported",
                ],
                "low": [62.0, 30.0, 88.0, 95.5, 0.0],
                "some": [33.0, 45.0, 9.0, 4.5, 100.0],
                "high": [5.0, 25.0, 3.0, 0.0, 0.0],
            }
        ),
        title="How much of the weight rests on doubtful ground?",
        subtitle="A quarter rests on studies in which people did not keep to the training.",
        notes=NOTES,
    )  # fmt: skip


def invented_nearness() -> pictures.NearnessData:
    return pictures.NearnessData(
        respects=pd.DataFrame(
            {
                "respect": ["training status", "age", "sessions a week", "outcome"],
                "asked": ["trained or highly trained", "50 to 65", "2", "what is asked"],
                "near": [82.0, 6.5, 0.0, 100.0],
            }
        ),
        title="How near are the studies to the person asked about?",
        subtitle="Most of the weight comes from trained people, little from such ages.",
        notes=NOTES,
    )  # fmt: skip


def invented_tested_dose() -> pictures.TestedDoseData:
    return pictures.TestedDoseData(
        parts=pd.DataFrame(
            {
                "part": ["sessions a week", "sets a week", "load, % of 1RM", "exercises",
                         "rest, s"],
                "low": [2.0, 4.0, 60.0, 1.0, 90.0],
                "high": [2.0, 8.0, 75.0, 1.0, 120.0],
                "tested_low": [1.0, 6.0, 80.0, math.nan, 120.0],
                "tested_high": [3.0, 12.0, 90.0, math.nan, 120.0],
                "recommended": ["2", "4 to 8", "60 to 75", "1", "90 to 120"],
                "tested": [
                    "tested: 1 to 3 in 9 studies", "tested: 6 to 12 in 8 studies",
                    "tested: 80 to 90 in 3 studies", "no study says", "tested: 120 in 9 studies",
                ],
                "mark": [
                    "tested", "partly tested", "beyond the evidence", "no study says",
                    "partly tested",
                ],
            }
        ),
        title="Is the dose what was tested?",
        subtitle="Partly: the load is lighter than any study used.",
        notes=NOTES,
    )  # fmt: skip
