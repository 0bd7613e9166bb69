"""What a pooled interval settles, against the smallest effect worth having."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.pooling.sides import Sides, sides

BETTER = "better"
EQUIVALENT = "equivalent"
WORSE = "worse"
NOT_SETTLED = "not settled"


@dataclass(frozen=True, slots=True)
class Verdict:
    """One of four words, and the sentence behind it.

    Attributes
    ----------
    word : str
        ``better``, ``equivalent``, ``worse`` or ``not settled``; empty where no smallest
        worthwhile effect is set.
    sentence : str
        What that means here.
    direction_shown : bool
        Whether the interval leaves zero out.
    """

    word: str
    sentence: str
    direction_shown: bool


def verdict(
    *,
    low: float,
    high: float,
    low_90: float,
    high_90: float,
    worthwhile: float | None,
    intervention: str = "the intervention",
    comparator: str = "the comparator",
    metric: str = "standardised",
) -> Verdict:
    """Decide between better, equivalent, worse and not settled.

    *Better* if the interval lies wholly above the smallest worthwhile effect, *worse* if wholly
    below its negative; *equivalent* if the 90 % interval lies wholly inside the zone between
    the two, which is two one-sided tests at 5 % [1]_; otherwise *not settled*, however small
    or large p may be.

    Parameters
    ----------
    low, high : float
        95 % interval; positive favours the intervention. The level of the interval that is
        shown does not move the verdict.
    low_90, high_90 : float
        90 % interval.
    worthwhile : float or None
        Smallest worthwhile effect, above 0, on the same scale.
    intervention, comparator : str
        Names for the sentence.
    metric : str
        Of the question: under a ratio of spreads the sentence says who varies more or less,
        under a correlation what goes together.

    Returns
    -------
    Verdict

    References
    ----------
    .. [1] Schuirmann, D. J. (1987). A comparison of the two one-sided tests procedure and the
           power approach. Journal of Pharmacokinetics and Biopharmaceutics 15, 657-680.
    """
    shown = low > 0 or high < 0
    both = sides(metric=metric, intervention=intervention, comparator=comparator)
    leaning = both.ahead if low > 0 else both.behind
    if worthwhile is None:
        sentence = (
            f"{leaning} on average; no smallest worthwhile effect is set, so whether it matters "
            "is not judged"
            if shown
            else f"{both.which} is not settled"
        )
        return Verdict("", sentence, shown)
    if low >= worthwhile:
        return Verdict(BETTER, f"{both.ahead} on average, by enough to matter", shown)
    if high <= -worthwhile:
        return Verdict(WORSE, f"{both.behind} on average, by enough to matter", shown)
    if -worthwhile < low_90 and high_90 < worthwhile:
        sentence = "about the same on average: a difference large enough to matter is ruled out"
        return Verdict(EQUIVALENT, sentence, shown)
    if shown:
        sentence = f"{leaning} on average, but whether by enough to matter is not settled"
    else:
        sentence = (
            "not settled: the studies allow a difference that matters"
            f"{_ways(low, high, worthwhile, both)}, and none at all"
        )
    return Verdict(NOT_SETTLED, sentence, shown)


def _ways(low: float, high: float, worthwhile: float, both: Sides) -> str:
    if high > worthwhile and low < -worthwhile:
        return " either way"
    if high > worthwhile:
        return f" {both.towards_ahead}"
    if low < -worthwhile:
        return f" {both.towards_behind}"
    return ""
