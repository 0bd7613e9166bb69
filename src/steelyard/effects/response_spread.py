"""Who responds: the spread of individual responses in one study, from its records."""

from __future__ import annotations

import pandas as pd

from steelyard.effects.from_arms import PAIRED_DESIGNS
from steelyard.effects.groups import Group
from steelyard.effects.individual_response import IndividualResponse, individual_response
from steelyard.records.study import Study
from steelyard.reporting.summary import ArmSummary, find_result, summarise


def response_spreads(
    study: Study, rows: pd.DataFrame
) -> dict[tuple[str, str, float], IndividualResponse]:
    """SD of individual responses for each row whose arms' spreads of change are known.

    Only for separate groups, and never from an assumed correlation: the answer would be the
    assumption.

    Parameters
    ----------
    study : Study
    rows : DataFrame
        Effect rows of the study.

    Returns
    -------
    dict
        By (outcome, comparison, week); raw units of the outcome.
    """
    found: dict[tuple[str, str, float], IndividualResponse] = {}
    if study.design.kind in PAIRED_DESIGNS:
        return found
    weeks = {float(result.week): result.week for result in study.results}
    for row in rows.itertuples():
        if row.week not in weeks:
            continue
        groups = []
        for arm in (row.intervention, row.comparator):
            result = find_result(study, outcome=row.outcome, arm=arm, week=weeks[row.week])
            sd = None if result is None else _change_sd(summary := summarise(study, result))
            if sd is not None:
                groups.append(Group(summary.n, 0.0, sd))
        if len(groups) == 2:
            found[row.outcome, row.comparison, row.week] = individual_response(*groups)
    return found


def _change_sd(summary: ArmSummary) -> float | None:
    if summary.change is not None and summary.change.sd is not None:
        sd = summary.change.sd
        return None if sd.tier in ("bounded", "imputed") else sd.value
    if summary.r is None or summary.pre is None or summary.post is None:
        return None
    if summary.pre.sd is None or summary.post.sd is None:
        return None
    before, after, r = summary.pre.sd.value, summary.post.sd.value, summary.r.value
    return (before**2 + after**2 - 2 * r * before * after) ** 0.5
