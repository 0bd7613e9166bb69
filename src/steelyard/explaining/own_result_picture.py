"""A client's own result as ranges: both together, what was measured, what was expected."""

from __future__ import annotations

import pandas as pd
from scipy.special import ndtri

from steelyard.explaining.own_result import OwnResult
from steelyard.explaining.own_result_words import decimals_of, span
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.pooling.pictures import StripData


def own_result_strip(result: OwnResult) -> StripData:
    """The three ranges; where no evidence was joined, the measured one alone.

    The mark stands at the smallest change beyond measurement error.
    """
    words = catalogue(result.language)
    z = float(ndtri((1 + result.level) / 2))
    rows = [("own.band_measured", result.change, z * result.error)]
    if result.expected is not None:
        rows.append(("own.band_expected", result.expected, z * result.expected_sd))
        # The narrowest goes first: a strip is the paler the further down it stands.
        rows.insert(0, ("own.band_both", result.likely, z * result.likely_sd))
    ranges = pd.DataFrame(
        [
            {
                "words": words.say(key),
                "estimate": centre,
                "low": centre - reach,
                "high": centre + reach,
                "numbers": span(result, centre - reach, centre + reach, words=words),
            }
            for key, centre, reach in rows
        ]
    )
    return StripData(
        title=words.say("own.title"),
        subtitle=result.sentence,
        notes=(words.say("page.invented"),) if result.invented else (),
        ranges=ranges,
        unit=result.unit,
        axis_title=words.say("own.axis", unit=result.unit),
        zero_words=words.say("own.axis_zero"),
        left_words=words.say("own.axis_loss"),
        right_words=words.say("own.axis_gain"),
        worthwhile=result.detectable,
        worthwhile_words=words.say("own.axis_mark"),
        from_here_words=words.say("page.strip_from_here"),
        decimals=decimals_of(result),
    )
