"""Whether the parts of a recommended dose add up to the week it names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import prod

from steelyard.errors import Finding
from steelyard.records.recommendation import Recommendation, RecommendedDose

FACTORS = ("sessions_per_week", "exercises", "sets")


def sets_in_a_week(dose: RecommendedDose) -> tuple[float, float] | None:
    """Fewest and most sets a week by sessions × exercises × sets; None where one is not said.

    Parameters
    ----------
    dose : RecommendedDose

    Returns
    -------
    tuple of float or None
    """
    pairs = [getattr(dose, name) for name in FACTORS]
    if None in pairs:
        return None
    low, high = (prod(float(pair[end]) for pair in pairs) for end in (0, 1))
    return low, high


def dose_sum_findings(recommendations: Mapping[str, Recommendation]) -> Iterator[Finding]:
    """A warning where the sets a week that are named cannot come of the sessions described.

    Parameters
    ----------
    recommendations : mapping of str to Recommendation

    Yields
    ------
    Finding
        Where the range named is not inside the range that follows; a narrower one may be meant.
    """
    for record in recommendations.values():
        named, follows = record.dose.sets_per_week, sets_in_a_week(record.dose)
        if named is None or follows is None:
            continue
        if follows[0] <= named[0] and named[1] <= follows[1]:
            continue
        message = (
            f"names {_said(named)} sets a week, and sessions × exercises × sets of each come to "
            f"{_said(follows)}"
        )
        file = f"recommendations/{record.id}.toml"
        yield Finding(file, "dose.sets_per_week", "warning", "dose-does-not-add-up", message)


def _said(pair) -> str:
    low, high = pair
    return f"{float(low):g}" if low == high else f"{float(low):g} to {float(high):g}"
