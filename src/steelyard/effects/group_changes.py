"""What each group gained by itself, where a study has no second group; no effect of training."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import pandas as pd

from steelyard.effects import formed as words
from steelyard.effects.arm_changes import log_change_in_group, pre_post_group
from steelyard.effects.correlations_used import origin
from steelyard.effects.every_effect import (
    NO_RESULT,
    ONLY_BEFORE,
    ONLY_CORRELATION,
    NotFormed,
)
from steelyard.effects.formed import told_route
from steelyard.effects.from_arms import source_flags
from steelyard.effects.groups import Estimate, PrePost
from steelyard.effects.selection import asks_about, has_end
from steelyard.effects.whole_study import reading_question
from steelyard.effects.within_group import change_in_group, standardised_change_in_group
from steelyard.errors import DesignError
from steelyard.records.question import Question
from steelyard.records.study import Outcome, Result, Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.reporting.log_change import percent_to_log_change
from steelyard.reporting.summary import ArmSummary, Moments, people, summarise

COLUMNS = (
    *("study", "outcome", "construct", "week", "arm", "metric", "change", "variance", "df", "n"),
    *("unit", "better", "r_used", "r_from", "flags", "assumed", "where", "own_unit"),
    *("own_unit_error", "route"),
)


@dataclass(frozen=True, slots=True, eq=False)
class GroupChanges:
    """The changes inside the groups of a study without a comparison.

    Attributes
    ----------
    rows : DataFrame
        `COLUMNS`: ``change`` positive where the outcome got better, in the first of
        ``standardised`` (over the group's own SD before training), ``percent`` (log ratio) and
        ``raw`` that can be had; ``own_unit`` the mean change in the unit measured, signed alike,
        with its standard error, NaN where no spread tells it; ``route`` how it was reached.
    not_formed : tuple of NotFormed
        Every outcome and week of the record that is in no row.
    """

    rows: pd.DataFrame
    not_formed: tuple[NotFormed, ...]


def has_no_comparison(study: Study) -> bool:
    """Whether a study holds no two groups to compare."""
    return study.design.kind == "single-group" or len(study.arms) < 2


def group_changes(
    study: Study, *, questions: Iterable[Question] = (), vocabulary: Vocabulary | None = None
) -> GroupChanges:
    """The change inside every group, for each outcome and week after the start.

    Parameters
    ----------
    study : Study
        Without a comparison.
    questions : iterable of Question
        The first that is about the outcome and looks for the group's tags gives what is assumed
        where the paper is silent.
    vocabulary : Vocabulary, optional
        Tells which constructs are surrogates.

    Returns
    -------
    GroupChanges
        In the paper's order of outcomes, then by week.
    """
    questions = list(questions)
    surrogates = {c.id for c in vocabulary.constructs if c.surrogate} if vocabulary else set()
    rows: list[dict] = []
    not_formed: list[NotFormed] = []
    for outcome in study.outcomes:
        mine = [result for result in study.results if result.outcome == outcome.id]
        after = [result for result in mine if result.week > 0 and has_end(result)]
        if not after:
            reason = ONLY_BEFORE if mine else NO_RESULT
            not_formed.append(NotFormed(outcome.id, float("nan"), "", outcome.name, reason))
        for result in sorted(after, key=lambda each: each.week):
            try:
                row = _row(study, outcome, result, _asked(questions, study, outcome, result))
            except DesignError as refused:
                what = f"{outcome.name}, week {result.week:g}, {study.arm(result.arm).name}"
                week = float(result.week)
                not_formed.append(NotFormed(outcome.id, week, "", what, str(refused)))
                continue
            flags = [words.RETRACTED] if study.retracted else []
            flags += row["flags"]
            flags += [words.SURROGATE] if outcome.construct_id in surrogates else []
            rows.append(row | {"flags": "; ".join(flags)})
    return GroupChanges(pd.DataFrame(rows, columns=list(COLUMNS)), tuple(not_formed))


def _asked(questions, study: Study, outcome: Outcome, result: Result) -> Question | None:
    tags = set(study.arm(result.arm).tags)
    about = (each for each in questions if asks_about(each, outcome))
    return next((each for each in about if tags & set(each.intervention or ())), None)


def _row(study: Study, outcome: Outcome, result: Result, asked: Question | None) -> dict:
    if result.events is not None:
        n = people(study, result)
        raise DesignError(f"{result.events} of {n} people, a count with no other group beside it")
    summary = summarise(study, result)
    question = reading_question(study, metric="standardised", asked=asked)
    group = pre_post_group(summary, study.arm(result.arm), outcome.construct_id, question)
    metric, estimate = _change(result, summary, group)
    uses_r = group is not None and metric != "raw"
    r_from = "" if not uses_r else "assumed" if summary.r is None else origin((summary.r,))
    turn = -1.0 if outcome.better == "lower" else 1.0
    change = summary.change
    return {
        "study": study.id,
        "outcome": outcome.id,
        "construct": outcome.construct_id,
        "week": float(result.week),
        "arm": result.arm,
        "metric": metric,
        "change": turn * float(estimate.effect),
        "variance": float(estimate.variance),
        "df": float("nan") if estimate.df is None else float(estimate.df),
        "n": summary.n,
        "unit": outcome.unit,
        "better": outcome.better,
        "r_used": group.r if uses_r else float("nan"),
        "r_from": r_from,
        "flags": _flags(summary, r_from),
        "assumed": "; ".join(_assumed(summary, group, r_from, asked)),
        "where": result.where or "",
        "own_unit": float("nan") if change is None else turn * change.mean.value,
        "own_unit_error": _raw_error(summary, group),
        "route": told_route(_steps(summary, uses_r=uses_r), estimate.method),
    }


def _raw_error(summary: ArmSummary, group: PrePost | None) -> float:
    """Standard error of the mean change in the unit measured."""
    try:
        return float(_raw(summary, group).variance) ** 0.5
    except DesignError:
        return float("nan")


def _raw(summary: ArmSummary, group: PrePost | None) -> Estimate:
    change = summary.change
    if change is not None and change.sd is not None:
        variance = change.sd.value**2 / summary.n + change.reading.mean**2
        return Estimate(change.mean.value, variance, summary.n - 1, "mean change in one group")
    if group is None:
        raise DesignError("no change from before to after training with a spread between people")
    return _widened(change_in_group(group), summary, group, "raw")


def _steps(summary: ArmSummary, *, uses_r: bool) -> tuple[str, ...]:
    """What was done to the printed numbers of the arm, in order."""
    numbers = [number for m in _moments(summary) for number in (m.mean, m.sd) if number]
    numbers += [summary.r] if uses_r and summary.r is not None else []
    return tuple(step for number in numbers for step in number.chain)


def _change(result: Result, summary: ArmSummary, group: PrePost | None) -> tuple[str, Estimate]:
    """The first metric that can be had, with its estimate as the paper's unit runs."""
    n, problems = summary.n, list(summary.troubles)
    if group is not None:
        for metric, function in _OF_GROUP.items():
            try:
                return metric, _widened(function(group), summary, group, metric)
            except DesignError as refused:
                problems.append(str(refused))
    percent = result.change_percent
    if percent is not None and percent.of != "means":
        try:
            log = percent_to_log_change(percent, n=n)
            variance = log.sd.value**2 / n
            return "percent", Estimate(log.mean.value, variance, n - 1, "mean of own percents")
        except DesignError as refused:
            problems.append(str(refused))
    if summary.change is not None and summary.change.sd is not None:
        return "raw", _raw(summary, None)
    if result.correlation is not None and not problems:
        raise DesignError(ONLY_CORRELATION)
    problems.append("no change from before to after training with a spread between people")
    raise DesignError("; ".join(dict.fromkeys(problems)))


_OF_GROUP = {
    "standardised": standardised_change_in_group,
    "percent": log_change_in_group,
    "raw": change_in_group,
}


def _widened(estimate: Estimate, summary: ArmSummary, group: PrePost, metric: str) -> Estimate:
    """With the error of reading means, and the SD that divides, off a figure (delta method)."""
    pre, post = summary.pre, summary.post
    errors = [pre.reading.mean, post.reading.mean]
    if metric == "standardised":
        sd = pre if pre.sd is not None else post
        extra = sum((error / group.pre_sd) ** 2 for error in errors)
        extra += (float(estimate.effect) * sd.reading.sd / group.pre_sd) ** 2
    elif metric == "percent":
        means = (group.pre_mean, group.post_mean)
        extra = sum((error / mean) ** 2 for error, mean in zip(errors, means, strict=True))
    else:
        extra = sum(error**2 for error in errors)
    return replace(estimate, variance=estimate.variance + extra)


def _flags(summary: ArmSummary, r_from: str) -> list[str]:
    numbers = [m.mean for m in _moments(summary)]
    numbers += [m.sd for m in _moments(summary) if m.sd is not None]
    assumed = [words.ASSUMED_R] if r_from == "assumed" else []
    return assumed + list(source_flags([summary], tuple(numbers)))


def _moments(summary: ArmSummary) -> list[Moments]:
    return [each for each in (summary.pre, summary.post, summary.change) if each is not None]


def _assumed(
    summary: ArmSummary, group: PrePost | None, r_from: str, asked: Question | None
) -> list[str]:
    found = []
    if r_from == "assumed":
        default = asked is None or asked.assume.r_pre_post is None
        source = "by default" if default else "by the question"
        found.append(f"pre-post r {group.r:.2f} assumed {source}")
    if group is not None and summary.pre.sd is None:
        found.append("SD before training taken equal to that after")
    found += [each.reading.words for each in _moments(summary) if each.reading.words]
    return list(dict.fromkeys(found))
