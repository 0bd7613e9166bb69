"""Invented data for the pictures that a client reads."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from scipy import stats

from steelyard.pooling import pictures
from tests.charts.invented_pictures import NOTES, label


def invented_hundred(better: int = 63, same: int = 29, worse: int = 8) -> pictures.HundredData:
    return pictures.HundredData(
        better=better,
        same=same,
        worse=worse,
        better_words="would end stronger by enough to notice than with their usual lifting",
        same_words="would end about the same",
        worse_words="would end weaker than with their usual lifting",
        title="If a hundred masters rowers added slow lowering",
        subtitle="About six in ten would notice a gain.",
        notes=NOTES,
    )


def invented_hills(client: float = 231.0) -> pictures.HillsData:
    value = np.linspace(110, 350, 121)
    return pictures.HillsData(
        curves=pd.DataFrame(
            {
                "value": value,
                "usual": stats.norm.pdf(value, 224, 32),
                "changed": stats.norm.pdf(value, 235, 32),
            }
        ),
        axis_title="hamstring strength after twelve weeks, in newtons",
        usual_words="people who kept to their usual lifting",
        changed_words="people who added slow lowering",
        client=client,
        client_words="" if math.isnan(client) else "you now",
        title="How far apart are the two groups?",
        subtitle="They overlap a lot: most of the difference between people has other reasons.",
        notes=NOTES,
    )


def invented_strip(*, worthwhile: float = 4.5) -> pictures.StripData:
    return pictures.StripData(
        ranges=pd.DataFrame(
            {
                "words": ["The average of all such groups", "The next group like yours",
                          "One person"],
                "estimate": [8.2, 8.2, 8.2],
                "low": [4.6, -1.0, -14.0],
                "high": [11.8, 17.4, 30.4],
                "numbers": ["+5 to +12 kg", "−1 to +17 kg", "−14 to +30 kg"],
            }
        ),
        unit="kg",
        worthwhile=worthwhile,
        worthwhile_words="" if math.isnan(worthwhile) else "worth the work",
        left_words="less than with usual lifting",
        right_words="more than with usual lifting",
        title="What it comes to on the leg press",
        subtitle="About 8 kg more on average; what one person gains differs far more.",
        notes=NOTES,
    )  # fmt: skip


def invented_plain_forest(k: int = 11) -> pictures.PlainForestData:
    generator = np.random.default_rng(k)
    effect = generator.normal(0.28, 0.2, size=k)
    half = generator.uniform(0.15, 0.6, size=k)
    return pictures.PlainForestData(
        studies=pd.DataFrame(
            {
                "label": [label(i) for i in range(k)],
                "estimate": effect,
                "low": effect - half,
                "high": effect + half,
                "people": [math.nan if i == 4 else 20.0 + 7 * i for i in range(k)],
                "flags": ["people chose their group" if i == 2 else "" for i in range(k)],
            }
        ),
        zone=(-0.14, 0.14),
        estimate=0.27,
        low=0.16,
        high=0.38,
        together_words="better, by enough to notice",
        title="Where do the studies stand?",
        subtitle="Eight of eleven studies found more strength with slow lowering; none found less.",
        notes=NOTES,
    )
