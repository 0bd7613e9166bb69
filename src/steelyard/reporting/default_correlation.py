"""Pre-post correlations to assume when neither paper nor question gives one."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.records.study import Arm


@dataclass(frozen=True, slots=True)
class DefaultCorrelation:
    """An editable default with a low and a high to rerun."""

    value: float
    low: float
    high: float

    def at(self, end: str) -> float:
        """The ``low``, the ``usual`` or the ``high`` of it."""
        return {"low": self.low, "usual": self.value, "high": self.high}[end]


# Own choice, rounded from medians back-calculated out of reported change SDs in the open
# extraction table behind Steele et al. (2023), J Sports Sci: strength .89 (24 arm rows of 6
# studies), size .96 (39 arm rows of 10 studies). The basis is thin: rerun at low and high.
BY_CONSTRUCT = {
    "strength": DefaultCorrelation(0.85, 0.70, 0.95),
    "muscle-size": DefaultCorrelation(0.93, 0.80, 0.98),
}
# The same, for arms that do not train, who agree better with their earlier selves: medians .95
# (strength) and .98 (size) in the same table, taken down by the same margin.
OF_REST = {
    "strength": DefaultCorrelation(0.90, 0.75, 0.96),
    "muscle-size": DefaultCorrelation(0.95, 0.85, 0.99),
}
REST_TAGS = frozenset({"no-training", "non-training", "untrained-control"})
"""Tags that say an arm does not train; a dose of no sets or no sessions says it too."""
# Common practice, no source: for outcomes of which nothing is known.
OTHERWISE = DefaultCorrelation(0.80, 0.50, 0.95)

# Common practice, no source: two limbs of one person, or two periods, agree about half. How
# far off that may be is own choice, as for the next.
BETWEEN_ARMS = 0.5
BETWEEN_ARMS_RANGE = (0.3, 0.8)
# Common practice, no source: several outcomes or weeks of the same people.
BETWEEN_OUTCOMES = 0.6
BETWEEN_OUTCOMES_RANGE = (0.3, 0.9)
# Common practice, no source: people who train in one group are a little alike.
CLUSTER_ICC = 0.05


def default_correlation(construct: str, *, rests: bool = False) -> DefaultCorrelation:
    """The default for a construct, in arms that train or, with `rests`, in arms that do not."""
    return (OF_REST if rests else BY_CONSTRUCT).get(construct, OTHERWISE)


def is_resting(arm: Arm) -> bool:
    """Whether tags or dose say that an arm does not train."""
    doses = (arm.dose.sets_per_week, arm.dose.sessions_per_week, arm.dose.sets_per_session)
    return bool(REST_TAGS & set(arm.tags)) or any(dose == 0 for dose in doses)
