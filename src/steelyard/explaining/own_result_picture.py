"""A client's own result as ranges: what was expected, what was measured, both together."""

from __future__ import annotations

import pandas as pd
from scipy.special import ndtri

from steelyard.explaining.own_result import OwnResult
from steelyard.pooling.pictures import StripData
from steelyard.show import interval as shown_interval


def own_result_strip(result: OwnResult, *, invented: bool = False) -> StripData:
    """The three ranges; where no evidence was joined, the measured one alone.

    The mark stands at the smallest change beyond measurement error.
    """
    z = float(ndtri((1 + result.level) / 2))
    rows = [("measured", result.change, z * result.error)]
    if result.expected is not None:
        rows.insert(0, ("expected", result.expected, z * result.expected_sd))
        rows.append(("both together", result.likely, z * result.likely_sd))
    decimals = 0 if result.error >= 10 else 1 if result.error >= 0.5 else 2
    ranges = pd.DataFrame(
        [
            {
                "words": words,
                "estimate": centre,
                "low": centre - reach,
                "high": centre + reach,
                "numbers": shown_interval(centre - reach, centre + reach, decimals=decimals)
                + f" {result.unit}",
            }
            for words, centre, reach in rows
        ]
    )
    return StripData(
        title="Own result",
        subtitle=result.sentence,
        notes=("Invented data, for demonstration.",) if invented else (),
        ranges=ranges,
        unit=result.unit,
        left_words="loss",
        right_words="gain",
        worthwhile=result.detectable,
        worthwhile_words="beyond error",
        decimals=decimals,
    )
