"""Invented data for the pictures of second rank."""

from __future__ import annotations

import numpy as np
import pandas as pd

from steelyard.pooling.picture_parts import EffectAxis
from steelyard.pooling.pictures import BendingData, GatheringData, PriorsData

NOTES = ("Invented data, for demonstration.",)


def invented_bending(k: int = 8) -> BendingData:
    """Studies that scatter as chance has it, and one far off."""
    random = np.random.default_rng(5)
    distance = random.normal(0, 1, k)
    distance[0] = 3.1
    move = np.sort(np.abs(random.normal(0, 0.3, k)))[::-1]
    return BendingData(
        title="Which study bends the answer?",
        subtitle="Place-0 2010 lies far from the others.",
        notes=NOTES,
        studies=pd.DataFrame(
            {
                "study": [f"place-{n}" for n in range(k)],
                "label": [f"Place-{n} et al. {2010 + n % 12}" for n in range(k)],
                "distance": distance,
                "move": move,
                "weight": 100 / k,
            }
        ),
        far=2.0,
        below="favours usual lifting",
        above="favours slow lowering",
    )


def invented_gathering(k: int = 9, orders: int = 2) -> GatheringData:
    """An answer that settles; the first steps have wide intervals."""
    steps = np.arange(1, k + 1)
    tables = []
    for order in ("oldest first", "most precise first")[:orders]:
        estimate = 0.3 + np.random.default_rng(len(order)).normal(0, 0.4, k).cumsum() / steps
        reach = 1.2 / steps**0.7
        tables.append(
            pd.DataFrame(
                {
                    "order": order,
                    "studies": steps,
                    "label": [f"Place-{n} 2015" for n in steps],
                    "estimate": estimate,
                    "low": estimate - reach,
                    "high": estimate + reach,
                }
            )
        )
    return GatheringData(
        title="How does the answer settle as studies gather?",
        subtitle="It stays inside the final interval.",
        notes=NOTES,
        axis=EffectAxis(
            title="difference, in SDs",
            left_words="favours usual lifting",
            right_words="favours slow lowering",
            zone=(-0.14, 0.14),
        ),
        steps=pd.concat(tables, ignore_index=True),
    )


def invented_priors() -> PriorsData:
    """Two beliefs that lead apart."""
    spread = [0.25, 0.5, 1.0, 2.0, 4.0, 8.0]
    return PriorsData(
        title="How much hangs on what was believed before?",
        subtitle="The chance goes from 40 in 100 to 80 in 100.",
        notes=NOTES,
        curves=pd.DataFrame(
            {
                "words": ["little was known"] * 6 + ["a modest effect was expected"] * 6,
                "spread": spread * 2,
                "chance": [80, 79, 76, 72, 66, 61, 65, 63, 58, 52, 46, 40],
            }
        ),
        spread_title="spread expected between studies",
        chance_title="upward: chance in 100 that it is better by enough",
    )
