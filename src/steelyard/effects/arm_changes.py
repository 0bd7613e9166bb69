"""What each arm gained by itself: no effect of training, but the ground a dose curve stands on."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from steelyard.effects.correlations_used import assumable
from steelyard.effects.formed import PAIRED_DESIGNS
from steelyard.effects.groups import Estimate, PrePost
from steelyard.effects.prepost import change_variance, checked_pre_post
from steelyard.effects.within_group import (
    change_in_group,
    change_over_shared_sd,
    standardised_change_in_group,
)
from steelyard.errors import DesignError
from steelyard.records.question import Question
from steelyard.records.study import Arm, Study
from steelyard.reporting.refusals import above
from steelyard.reporting.summary import ArmSummary, find_result, summarise

COLUMNS = (
    *("study", "outcome", "arm", "week", "dose", "change", "variance", "n", "r_assumed"),
    *("per_squared_effect", "comparison"),
)


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


def arm_changes(
    rows: pd.DataFrame, studies: Iterable[Study], question: Question, *, by_comparison: bool = False
) -> pd.DataFrame:
    """The change inside every arm that an effect table touches.

    Parameters
    ----------
    rows : DataFrame
        An effect table of a continuous metric.
    studies : iterable of Study
    question : Question
        Names the metric, the dose and the correlation to assume.
    by_comparison : bool
        Whether to give both arms of every comparison anew, standardised changes over the SD
        before training pooled over the two, so that their difference is the effect. Else each
        arm comes once, over its own SD, as papers print it.

    Returns
    -------
    DataFrame
        `COLUMNS`: a row per study, outcome, arm, week and, where asked, ``comparison``, named as
        in `rows`, else empty; ``change`` is positive where the outcome got better, ``variance``
        its sampling variance, ``per_squared_effect`` as in `Estimate`. Arms whose paper does not
        give what it takes are absent.

    Raises
    ------
    DesignError
        For a metric that has no change inside a group.
    """
    if question.metric not in _CHANGES:
        raise DesignError(f"the metric {question.metric} has no change inside one group")
    known = {study.id: study for study in studies}
    arms: dict[tuple, list[str]] = {}
    for row in rows.itertuples():
        comparison = row.comparison if by_comparison else ""
        arms.setdefault((row.study, row.outcome, row.week, comparison), []).extend(
            (row.comparator, row.intervention)
        )
    found = []
    for (study_id, outcome, week, comparison), touched in arms.items():
        study = known[study_id]
        groups = _groups(study, outcome, dict.fromkeys(touched), week, question)
        scale = _pooled(study, groups) if comparison and question.metric == "standardised" else {}
        changed = _changes(study, outcome, week, groups, question=question, scale=scale)
        found += [row | {"comparison": comparison} for row in changed]
    return pd.DataFrame(found, columns=list(COLUMNS))


def _groups(study: Study, outcome: str, arms: Iterable[str], week: float, question: Question):
    """Arm, its group, and whether its r is assumed, for the arms that print enough."""
    weeks = {float(result.week): result.week for result in study.results}
    construct = study.outcome(outcome).construct_id
    found = []
    for arm in arms:
        result = find_result(study, outcome=outcome, arm=arm, week=weeks.get(week))
        if result is not None:
            summary = summarise(study, result)
            group = pre_post_group(summary, study.arm(arm), construct, question)
            found += [] if group is None else [(arm, group, summary.r is None)]
    return found


def _pooled(study: Study, groups) -> dict[str, float]:
    """Pooled pre-training SD and its degrees of freedom; none where it cannot be told."""
    sizes = np.array([group.n for _, group, _ in groups], dtype=float) - 1
    if not len(sizes):
        return {}
    squares = np.array([group.pre_sd for _, group, _ in groups]) ** 2
    df = sizes.min() if study.design.kind in PAIRED_DESIGNS else sizes.sum()
    if df <= 2:
        return {}
    return {"scale_sd": float(np.sqrt(sizes @ squares / sizes.sum())), "scale_df": float(df)}


def _changes(study: Study, outcome_id: str, week: float, groups, *, question, scale) -> list[dict]:
    outcome, found = study.outcome(outcome_id), []
    turn = -1.0 if outcome.better == "lower" else 1.0
    for arm, group, assumed in groups:
        try:
            estimate = (
                change_over_shared_sd(group, **scale) if scale else _CHANGES[question.metric](group)
            )
        except DesignError:
            continue
        dose = getattr(study.arm(arm).dose, question.dose) if question.dose else None
        found.append(
            {
                "study": study.id,
                "outcome": outcome_id,
                "arm": arm,
                "week": week,
                "dose": np.nan if dose is None else float(dose),
                "change": turn * float(estimate.effect),
                "variance": float(estimate.variance),
                "n": group.n,
                "r_assumed": assumed,
                "per_squared_effect": float(estimate.per_squared_effect),
            }
        )
    return found


def pre_post_group(
    summary: ArmSummary, arm: Arm, construct: str, question: Question
) -> PrePost | None:
    """One arm before and after; None where a mean, or both SDs, are not known.

    The SD at one time stands in for that at the other, and an assumed r where the paper is silent.
    """
    pre, post = summary.pre, summary.post
    if pre is None or post is None or (pre.sd is None and post.sd is None):
        return None
    pre_sd = (pre.sd or post.sd).value
    post_sd = (post.sd or pre.sd).value
    r = summary.r.value if summary.r is not None else None
    if r is None:
        r = assumable(question, construct, arm).value
    return PrePost(summary.n, pre.mean.value, pre_sd, post.mean.value, post_sd, r)
