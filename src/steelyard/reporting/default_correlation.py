"""Pre-post correlations to assume when neither paper nor question gives one."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DefaultCorrelation:
    """An editable default with a low and a high to rerun."""

    value: float
    low: float
    high: float


# Own choice, rounded from medians back-calculated out of reported change SDs in the open
# extraction table behind Steele et al. (2023), J Sports Sci: strength .89 (24 arm rows of 6
# studies), size .96 (39 arm rows of 10 studies). The basis is thin: rerun at low and high.
BY_CONSTRUCT = {
    "strength": DefaultCorrelation(0.85, 0.70, 0.95),
    "muscle-size": DefaultCorrelation(0.93, 0.80, 0.98),
}
# Common practice, no source: for outcomes of which nothing is known.
OTHERWISE = DefaultCorrelation(0.80, 0.50, 0.95)

# Common practice, no source: two limbs of one person, or two periods, agree about half.
BETWEEN_ARMS = 0.5
# Common practice, no source: several outcomes or weeks of the same people.
BETWEEN_OUTCOMES = 0.6
# Common practice, no source: people who train in one group are a little alike.
CLUSTER_ICC = 0.05


def default_correlation(construct: str) -> DefaultCorrelation:
    """The default for a construct."""
    return BY_CONSTRUCT.get(construct, OTHERWISE)
