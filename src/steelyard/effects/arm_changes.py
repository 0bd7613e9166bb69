"""What each arm gained by itself: no effect of training, but the ground a dose curve stands on."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from steelyard.effects.groups import Estimate, PrePost
from steelyard.effects.prepost import change_variance, checked_pre_post
from steelyard.effects.within_group import change_in_group, standardised_change_in_group
from steelyard.errors import DesignError
from steelyard.records.question import Question
from steelyard.records.study import Study
from steelyard.reporting.default_correlation import default_correlation
from steelyard.reporting.refusals import above
from steelyard.reporting.summary import ArmSummary, find_result, summarise

COLUMNS = ("study", "outcome", "arm", "week", "dose", "change", "variance", "n", "r_assumed")


def log_change_in_group(group: PrePost) -> Estimate:
    """Log of the post-to-pre ratio of one group's means.

    ln(post/pre), variance (CV_pre² + CV_post² − 2·r·CV_pre·CV_post)/n by the delta method, as
    one side of `log_ratio_of_changes`.

    Parameters
    ----------
    group : PrePost
        Means and SDs > 0, n ≥ 2, |r| < 1; raw units.

    Returns
    -------
    Estimate
        Log ratio, unitless.

    Raises
    ------
    DesignError
        If a field breaks its rule.
    """
    group = checked_pre_post(group, "group")
    pre = above(group.pre_mean, 0, "pre mean of the group")
    post = above(group.post_mean, 0, "post mean of the group")
    relative = PrePost(group.n, 1.0, group.pre_sd / pre, 1.0, group.post_sd / post, group.r)
    return Estimate(
        np.log(post / pre), change_variance(relative) / group.n, None, "log of post over pre mean"
    )


_CHANGES = {
    "percent": log_change_in_group,
    "standardised": standardised_change_in_group,
    "raw": change_in_group,
}


def arm_changes(rows: pd.DataFrame, studies: Iterable[Study], question: Question) -> pd.DataFrame:
    """The change inside every arm that an effect table touches.

    Parameters
    ----------
    rows : DataFrame
        An effect table of a continuous metric.
    studies : iterable of Study
    question : Question
        Names the metric, the dose and the correlation to assume.

    Returns
    -------
    DataFrame
        `COLUMNS`: a row per study, outcome, arm and week; ``change`` is positive where the
        outcome got better, ``variance`` its sampling variance. Arms whose paper does not give
        what it takes are absent.

    Raises
    ------
    DesignError
        For a metric that has no change inside a group.
    """
    if question.metric not in _CHANGES:
        raise DesignError(f"the metric {question.metric} has no change inside one group")
    known = {study.id: study for study in studies}
    found, seen = [], set()
    for row in rows.itertuples():
        for arm in (row.comparator, row.intervention):
            key = (row.study, row.outcome, arm, row.week)
            if key in seen:
                continue
            seen.add(key)
            made = _change(known[row.study], *key[1:], question)
            if made is not None:
                found.append(made)
    return pd.DataFrame(found, columns=list(COLUMNS))


def _change(study: Study, outcome_id: str, arm_id: str, week: float, question: Question):
    weeks = {float(result.week): result.week for result in study.results}
    if week not in weeks:
        return None
    result = find_result(study, outcome=outcome_id, arm=arm_id, week=weeks[week])
    if result is None:
        return None
    outcome, summary = study.outcome(outcome_id), summarise(study, result)
    group, assumed = _group(summary, outcome.construct_id, question)
    if group is None:
        return None
    try:
        estimate = _CHANGES[question.metric](group)
    except DesignError:
        return None
    turn = -1.0 if outcome.better == "lower" else 1.0
    dose = getattr(study.arm(arm_id).dose, question.dose) if question.dose else None
    return {
        "study": study.id,
        "outcome": outcome_id,
        "arm": arm_id,
        "week": week,
        "dose": np.nan if dose is None else float(dose),
        "change": turn * float(estimate.effect),
        "variance": float(estimate.variance),
        "n": summary.n,
        "r_assumed": assumed,
    }


def _group(summary: ArmSummary, construct: str, question: Question):
    pre, post = summary.pre, summary.post
    if pre is None or post is None or (pre.sd is None and post.sd is None):
        return None, False
    pre_sd = (pre.sd or post.sd).value
    post_sd = (post.sd or pre.sd).value
    r = summary.r.value if summary.r is not None else None
    if r is None:
        asked = question.assume.r_pre_post
        r = default_correlation(construct).value if asked is None else float(asked)
    group = PrePost(summary.n, pre.mean.value, pre_sd, post.mean.value, post_sd, r)
    return group, summary.r is None
