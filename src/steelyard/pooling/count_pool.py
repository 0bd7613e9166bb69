"""Counts of a question pooled as counts, beside the pool of their ratios."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from steelyard.errors import DesignError
from steelyard.pooling.mantel_haenszel import MantelHaenszel, mantel_haenszel
from steelyard.pooling.weighing import Weighing
from steelyard.records.question import COUNT_METRICS
from steelyard.records.study import Study
from steelyard.reporting.summary import find_result, people
from steelyard.show import Shown, count


@dataclass(frozen=True, slots=True)
class CountPool(Shown):
    """The Mantel–Haenszel pool of a question's counts.

    Attributes
    ----------
    pooled : MantelHaenszel
        In the direction of the counts: a ratio below 1 is fewer events with the intervention.
    left_out : tuple of str
        Studies that print no counts.
    widened : tuple of str
        Studies allotted in clusters, whose design effect this pool does not know.
    """

    pooled: MantelHaenszel
    left_out: tuple[str, ...]
    widened: tuple[str, ...]

    def _title(self) -> str:
        return self.pooled._title()

    def _rows(self) -> list[tuple[str, str]]:
        rows = self.pooled._rows()
        if self.left_out:
            rows.append(("no counts", f"left out: {', '.join(self.left_out)}"))
        if self.widened:
            rows.append(("clusters", f"not allowed for: {', '.join(self.widened)}"))
        few = self.pooled.one_sided + self.pooled.without_events
        if few:
            told = count(few, "study", "studies")
            rows.append(("few events", f"{told} with no event in a group, taken as they are"))
        return rows


def count_pool(weighing: Weighing, studies: Mapping[str, Study]) -> CountPool:
    """Pool a question's counts without forming any study's own ratio.

    Of several outcomes or weeks of one pair of arms, the first counts.

    Parameters
    ----------
    weighing : Weighing
        Of a count metric.
    studies : mapping of str to Study

    Returns
    -------
    CountPool

    Raises
    ------
    DesignError
        If the question's metric is none of counts, no study prints counts, or the counts hold
        no ratio.
    """
    metric = weighing.question.metric
    if metric not in COUNT_METRICS:
        raise DesignError(f"the metric {metric} is none of counts")
    rows = weighing.effects[weighing.effects["used"]]
    cells, left_out = [], []
    for row in rows.drop_duplicates(["study", "intervention", "comparator"]).itertuples():
        study = studies[row.study]
        found = [_counted(study, row, arm) for arm in (row.intervention, row.comparator)]
        if None in found:
            left_out.append(row.study)
        else:
            cells.append((*found[0], *found[1]))
    if not cells:
        raise DesignError("no study under this question prints counts")
    pooled = mantel_haenszel(*zip(*cells, strict=True), measure=metric, level=float(weighing.level))
    clusters = dict.fromkeys(row.study for row in rows.itertuples() if row.design == "cluster")
    return CountPool(pooled, tuple(dict.fromkeys(left_out)), tuple(clusters))


def _counted(study: Study, row, arm: str) -> tuple[float, float] | None:
    weeks = {float(result.week): result.week for result in study.results}
    result = find_result(study, outcome=row.outcome, arm=arm, week=weeks.get(row.week))
    if result is None or result.events is None:
        return None
    return float(result.events), float(people(study, result))
