"""What is usual among like outcomes: the same construct in the same unit, in other studies."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.reading import Laid
from steelyard.records.study import Outcome


@dataclass(frozen=True, slots=True)
class Typical:
    """Medians over other studies.

    Attributes
    ----------
    sd : float
        In the shared unit.
    variation : float or None
        SD over mean; None where means are not positive.
    studies : int
        How many.
    """

    sd: float
    variation: float | None
    studies: int = 1

    def far_above(self, sd: float, variation: float | None) -> bool:
        """Whether like outcomes spread far more; by SD, and by SD over mean where both have it.

        Both are asked because one unit may serve a small muscle and a large one.
        """
        if sd * limits.PEER_RATIO >= self.sd:
            return False
        if self.variation is None or variation is None:
            return True
        return variation * limits.PEER_RATIO < self.variation

    def near(self, sd: float) -> bool:
        """Whether an SD is within the same factor of the median, either way."""
        return self.sd / limits.PEER_RATIO <= sd <= self.sd * limits.PEER_RATIO

    def factor(self, construct: str) -> float:
        """By how much limits of SD over mean move for these outcomes; 1 where too few are known."""
        bounds = limits.PEER_FACTORS.get(construct)
        if bounds is None or self.variation is None or self.studies < limits.PEER_LIMIT_STUDIES:
            return 1.0
        low, high = bounds
        telling = limits.SPREAD_LIMITS[construct].telling
        return min(max(limits.PEER_SHARE * self.variation / telling, low), high)


class Peers:
    """One SD and one coefficient of variation per study and kind of outcome.

    SDs that may be standard errors themselves, below ``wide``, are left out where others count.
    """

    def __init__(self, studies: Iterable[Laid]) -> None:
        self._kinds: dict[tuple[str, str], dict[str, Typical]] = {}
        for laid in studies:
            seen: dict[tuple[str, str], list[tuple[float, float | None]]] = {}
            for row in laid.rows:
                cell = row.pre if row.pre is not None else row.post
                if cell is None or cell.sd is None:
                    continue
                positive = cell.mean is not None and cell.mean.value > 0
                variation = cell.sd.value / cell.mean.value if positive else None
                if not _doubtful(row.outcome, variation):
                    seen.setdefault(_kind(row.outcome), []).append((cell.sd.value, variation))
            for kind, values in seen.items():
                self._kinds.setdefault(kind, {})[laid.study.id] = _medians(values)
        # In order of size once, so that every study's others need not be sorted again.
        self._sds = {kind: _sorted(found, "sd") for kind, found in self._kinds.items()}
        self._variations = {
            kind: _sorted(found, "variation") for kind, found in self._kinds.items()
        }

    def typical(self, study: str, outcome: Outcome) -> Typical | None:
        """Medians over the other studies; None where they are too few."""
        kind = _kind(outcome)
        studies = self._kinds.get(kind, {})
        own = studies.get(study)
        others = len(studies) - (own is not None)
        if others < limits.PEER_STUDIES:
            return None
        return Typical(
            _median_without(self._sds[kind], own and own.sd),
            _median_without(self._variations[kind], own and own.variation),
            others,
        )


def _kind(outcome: Outcome) -> tuple[str, str]:
    return outcome.construct_id, outcome.unit


def _doubtful(outcome: Outcome, variation: float | None) -> bool:
    known = limits.SPREAD_LIMITS.get(outcome.construct_id)
    return known is not None and variation is not None and variation < known.wide


def _sorted(found: dict[str, Typical], name: str) -> list[float]:
    values = (getattr(typical, name) for typical in found.values())
    return sorted(value for value in values if value is not None)


def _median_without(ordered: list[float], own: float | None) -> float | None:
    """Median of values in order less one that is among them; None where none is left."""
    size = len(ordered) - (own is not None)
    if size == 0:
        return None
    gap = len(ordered) if own is None else bisect_left(ordered, own)
    low, high = (ordered[at + (at >= gap)] for at in ((size - 1) // 2, size // 2))
    return (low + high) / 2


def _medians(values: list[tuple[float, float | None]]) -> Typical:
    variations = [variation for _, variation in values if variation is not None]
    return Typical(median(sd for sd, _ in values), median(variations) if variations else None)
