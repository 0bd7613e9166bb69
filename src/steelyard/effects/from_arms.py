"""An effect from what two arms report."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.effects import formed as words
from steelyard.effects.adjusted import adjusted_difference, standardised_adjusted_difference
from steelyard.effects.beyond_means import from_counts, from_percent_changes, from_spreads
from steelyard.effects.change_spread import change_form, r_of_printed_change
from steelyard.effects.comparator_part import part_of_adjusted, part_of_changes, part_of_scores
from steelyard.effects.correlations_used import between_arms, origin, pre_post
from steelyard.effects.formed import PAIRED_DESIGNS, Formed
from steelyard.effects.groups import Estimate, Group, PrePost
from steelyard.effects.independent import mean_difference, standardised_difference
from steelyard.effects.paired import (
    paired_difference,
    standardised_limb_changes,
    standardised_paired_difference,
)
from steelyard.effects.prepost import change_difference, changes, standardised_change_difference
from steelyard.effects.ratio_of_means import (
    log_ratio_of_changes,
    log_ratio_of_means,
    paired_log_ratio_of_changes,
    paired_log_ratio_of_means,
)
from steelyard.effects.reading_off import widened_means
from steelyard.effects.selection import Pairing
from steelyard.effects.standardising import pooled_sd
from steelyard.errors import DesignError
from steelyard.records.question import COUNT_METRICS, SPREAD_METRICS, Question
from steelyard.reporting.number import Number, weakest_tier
from steelyard.reporting.summary import ArmSummary, find_result, summarise

_CHANGE = {
    "standardised": standardised_change_difference,
    "raw": change_difference,
    "percent": log_ratio_of_changes,
}
_POST = {
    "standardised": standardised_difference,
    "raw": mean_difference,
    "percent": log_ratio_of_means,
}
_ADJUSTED = {
    "standardised": standardised_adjusted_difference,
    "raw": adjusted_difference,
}


def from_arms(pairing: Pairing, question: Question) -> Formed:
    """The effect of one pairing from its two arms' own results.

    Raises
    ------
    DesignError
        If the results do not hold what the question's metric and contrast need; says what is
        missing.
    """
    study, outcome = pairing.study, pairing.outcome
    found = {
        arm.id: find_result(study, outcome=outcome.id, arm=arm.id, week=pairing.week)
        for arm in (pairing.intervention, pairing.comparator)
    }
    results = [found[pairing.intervention.id], found[pairing.comparator.id]]
    if None in results:
        raise DesignError("no result of both arms at this week")
    if question.metric in COUNT_METRICS:
        return from_counts(pairing, question, results)
    if question.metric in SPREAD_METRICS:
        return from_spreads(pairing, question, results)
    if question.metric == "percent" and all(
        result.change_percent
        and result.change_percent.of != "means"
        and not result.post
        and not result.change
        for result in results
    ):
        return from_percent_changes(pairing, question, results)
    return _from_means(pairing, question, [summarise(study, result) for result in results])


def _from_means(pairing: Pairing, question: Question, summaries: list[ArmSummary]) -> Formed:
    problems: list[str] = []
    wanted = ("change", "post") if question.contrast == "auto" else (question.contrast,)
    for contrast in wanted:
        if contrast == "post" and question.contrast == "auto":
            barred = _why_not_post(pairing)
            if barred:
                problems.append(barred)
                continue
        try:
            return _CONTRASTS[contrast](pairing, question, summaries)
        except DesignError as refused:
            problems.append(str(refused))
    troubles = [trouble for summary in summaries for trouble in summary.troubles]
    raise DesignError("; ".join(dict.fromkeys([*problems, *troubles])))


def _why_not_post(pairing: Pairing) -> str:
    if pairing.study.design.randomised is False:
        return "only post-training scores and no randomisation: groups may have started apart"
    return ""


def _post(pairing: Pairing, question: Question, summaries: list[ArmSummary]) -> Formed:
    if any(s.post is None or s.post.sd is None for s in summaries):
        raise DesignError("no mean and SD after training in both arms")
    groups = [Group(s.n, s.post.mean.value, s.post.sd.value) for s in summaries]
    numbers = tuple(number for s in summaries for number in (s.post.mean, s.post.sd))
    flags: tuple[str, ...] = ()
    if question.contrast != "post":
        unstated = pairing.study.design.randomised is None
        flags = (words.POST_ONLY, *((words.RANDOMISATION_UNSTATED,) if unstated else ()))
    rs: tuple[Number, ...] = ()
    part = float("nan")
    if pairing.study.design.kind in PAIRED_DESIGNS:
        rs = (between_arms(pairing, question),)
        function = {
            "standardised": standardised_paired_difference,
            "raw": paired_difference,
            "percent": paired_log_ratio_of_means,
        }[question.metric]
        estimate = function(*_same_people(groups), r=rs[0].value)
    else:
        estimate = _POST[question.metric](*groups)
        people = groups[0].n + groups[1].n
        part = part_of_scores(groups[1], metric=question.metric, people=people)
    more = {"scale": _common_sd(groups[0].sd, groups[1].sd, summaries), "part": part}
    return _tell(pairing, question, summaries, estimate, "post", numbers, flags, rs, **more)


def _change(pairing: Pairing, question: Question, summaries: list[ArmSummary]) -> Formed:
    printed = _printed_changes(pairing, question, summaries)
    if printed is not None:
        return printed
    rs, arms = _arms(pairing, question, summaries, change_sd_first=True)
    groups = [arm.group for arm in arms]
    scale = _common_sd(groups[0].pre_sd, groups[1].pre_sd, summaries)
    told = {"numbers": tuple(n for arm in arms for n in arm.numbers), "scale": scale}
    told |= _size_by_r(question, summaries, rs)
    if pairing.study.design.kind not in PAIRED_DESIGNS:
        spread = {"change_spread": change_form(question, summaries)}
        options = spread if question.metric == "standardised" else {}
        estimate = _CHANGE[question.metric](*groups, **options)
        people = groups[0].n + groups[1].n
        told["part"] = part_of_changes(
            groups[1], metric=question.metric, people=people, scale_sd=scale, **spread
        )
        return _tell(pairing, question, summaries, estimate, "change", rs=rs, **told)
    between = between_arms(pairing, question)
    one, other = _same_people([changes(group) for group in groups])
    if question.metric == "standardised":
        estimate = standardised_limb_changes(
            one,
            other,
            r_changes=between.value,
            pre_sd_intervention=groups[0].pre_sd,
            pre_sd_comparator=groups[1].pre_sd,
        )
    elif question.metric == "raw":
        estimate = paired_difference(one, other, r=between.value)
    else:
        estimate = paired_log_ratio_of_changes(*_same_people(groups), r_changes=between.value)
    rs = (*rs, between)
    return _tell(pairing, question, summaries, estimate, "change", rs=rs, **told)


def _size_by_r(question: Question, summaries: list[ArmSummary], rs: tuple[Number, ...]) -> dict:
    """What to say where an assumed r turns a change SD into the SD that is divided by."""
    leans = any(
        r.tier == "imputed" and not _has_level_sd(summary)
        for r, summary in zip(rs, summaries, strict=True)
    )
    if question.metric != "standardised" or not leans:
        return {"flags": ()}
    said = "only SDs of change are printed: the assumed r also sets the size of the effect"
    return {"flags": (words.R_SETS_SIZE,), "assumptions": (said,)}


def _printed_changes(
    pairing: Pairing, question: Question, summaries: list[ArmSummary]
) -> Formed | None:
    """Raw changes with SDs of their own, where no SD before or after could tell r: none needed."""
    changed = [summary.change for summary in summaries]
    if question.metric != "raw" or any(c is None or c.sd is None for c in changed):
        return None
    if all(_has_level_sd(s) and s.change.sd.tier == "bounded" for s in summaries):
        return None
    if all(s.r is not None for s in summaries):
        return None
    groups = [Group(s.n, s.change.mean.value, s.change.sd.value) for s in summaries]
    more = {"scale": 1.0}
    rs: tuple[Number, ...] = ()
    if pairing.study.design.kind in PAIRED_DESIGNS:
        rs = (between_arms(pairing, question),)
        estimate = paired_difference(*_same_people(groups), r=rs[0].value)
    else:
        estimate = mean_difference(*groups)
        more["part"] = part_of_scores(groups[1], metric="raw", people=groups[0].n + groups[1].n)
    method = f"{estimate.method}, of changes"
    estimate = Estimate(estimate.effect, estimate.variance, estimate.df, method)
    numbers = tuple(number for c in changed for number in (c.mean, c.sd))
    return _tell(pairing, question, summaries, estimate, "change", numbers, (), rs, **more)


def _has_level_sd(summary: ArmSummary) -> bool:
    return any(m is not None and m.sd is not None for m in (summary.pre, summary.post))


def _adjusted(pairing: Pairing, question: Question, summaries: list[ArmSummary]) -> Formed:
    if question.metric not in _ADJUSTED:
        raise DesignError(f"no covariance-adjusted form for the metric {question.metric}")
    if pairing.study.design.kind in PAIRED_DESIGNS:
        raise DesignError(f"no covariance-adjusted form for a {pairing.study.design.kind} design")
    if any(s.post is None or s.post.sd is None for s in summaries):
        raise DesignError("no SD after training in both arms, which the adjustment needs")
    rs, arms = _arms(pairing, question, summaries)
    groups = [arm.group for arm in arms]
    numbers = tuple(number for arm in arms for number in arm.numbers)
    estimate = _ADJUSTED[question.metric](*groups)
    scale = _common_sd(groups[0].pre_sd, groups[1].pre_sd, summaries)
    part = part_of_adjusted(*groups, metric=question.metric, scale_sd=scale)
    more = {"scale": scale, "part": part}
    return _tell(pairing, question, summaries, estimate, "adjusted", numbers, (), rs, **more)


_CONTRASTS = {"change": _change, "post": _post, "adjusted": _adjusted}


def _common_sd(one: float, other: float, summaries: list[ArmSummary]) -> float:
    return float(pooled_sd(summaries[0].n, one, summaries[1].n, other))


@dataclass(frozen=True, slots=True)
class _Arm:
    group: PrePost
    numbers: tuple[Number, ...]


def _arms(
    pairing: Pairing,
    question: Question,
    summaries: list[ArmSummary],
    *,
    change_sd_first: bool = False,
) -> tuple[tuple[Number, ...], list[_Arm]]:
    pair = list(zip(summaries, (pairing.intervention, pairing.comparator), strict=True))
    printed = [r_of_printed_change(s) if change_sd_first else None for s in summaries]
    rs = tuple(
        pre_post(pairing, question, summary, arm) if r is None else r
        for r, (summary, arm) in zip(printed, pair, strict=True)
    )
    return rs, [_pre_post_group(s, r) for s, r in zip(summaries, rs, strict=True)]


def _pre_post_group(summary: ArmSummary, r: Number) -> _Arm:
    """Means and SDs of one arm, with what had to stand in for a missing SD."""
    if summary.change is None:
        raise DesignError("no change from before to after training in both arms")
    used = [summary.change.mean]
    pre_mean = summary.pre.mean.value if summary.pre is not None else 0.0
    pre_sd = summary.pre.sd if summary.pre is not None else None
    post_sd = summary.post.sd if summary.post is not None else None
    change_sd = summary.change.sd
    if pre_sd is None and post_sd is not None:
        pre_sd = Number(post_sd.value, "imputed", (*post_sd.chain, "pre SD taken equal to post SD"))
    if pre_sd is None and change_sd is not None:
        value = change_sd.value / (2 * (1 - r.value)) ** 0.5
        step = f"pre SD = change SD {change_sd.value:.4g} ÷ √(2(1 − {r.value:.2f})) = {value:.4g}"
        used.append(change_sd)
        pre_sd = Number(value, "imputed", (step,))
    if pre_sd is None:
        raise DesignError("no SD before, after or of the change in both arms")
    if post_sd is None:
        # Where the SD of change is known, r was derived with this stand-in, and it cancels.
        tier = "imputed" if change_sd is None or summary.r is None else "derived"
        post_sd = Number(pre_sd.value, tier, ("post SD taken equal to pre SD",))
    group = PrePost(
        n=summary.n,
        pre_mean=pre_mean,
        pre_sd=pre_sd.value,
        post_mean=pre_mean + summary.change.mean.value,
        post_sd=post_sd.value,
        r=r.value,
    )
    return _Arm(group, (*used, *_behind_the_change(summary), pre_sd, post_sd))


def _behind_the_change(summary: ArmSummary) -> tuple[Number, ...]:
    """The means that a change was taken between, whose own steps the reader should see."""
    moments = (summary.pre, summary.post)
    return tuple(moment.mean for moment in moments if moment is not None)


def _same_people(groups):
    """Both conditions with the number of people measured in both."""
    n = min(group.n for group in groups)
    return [
        type(group)(n, *(getattr(group, name) for name in group.__slots__[1:])) for group in groups
    ]


def _tell(
    pairing,
    question,
    summaries,
    estimate,
    contrast,
    numbers,
    flags,
    rs,
    *,
    scale,
    part=float("nan"),
    assumptions=(),
) -> Formed:
    assumed = [r for r in rs if r.tier == "imputed"]
    between = rs[-1] if pairing.study.design.kind in PAIRED_DESIGNS else None
    if not rs:
        r_used = float("nan")
    else:
        r_used = between.value if between else sum(r.value for r in rs) / len(rs)
    steps = (step for number in (*numbers, *rs) for step in number.chain)
    read = widened_means(
        estimate, summaries, metric=question.metric, contrast=contrast, scale=scale
    )
    return Formed(
        read.estimate,
        contrast,
        summaries[0].n,
        summaries[1].n,
        r_used=r_used,
        r_from=origin(rs) if rs else "",
        steps=tuple(steps),
        flags=(
            *flags,
            *((words.ASSUMED_R,) if assumed else ()),
            *source_flags(summaries, numbers),
        ),
        assumptions=tuple(
            dict.fromkeys(
                (*(step for r in assumed for step in r.chain), *assumptions, *read.assumptions)
            )
        ),
        tier=weakest_tier(*(number.tier for number in (*numbers, *rs))),
        comparator_variance=float(part) + read.comparator,
    )


def source_flags(summaries: list[ArmSummary], numbers: tuple[Number, ...]) -> tuple[str, ...]:
    """What a reader must know of where the numbers of arms come from."""
    flags = []
    steps = [step for number in numbers for step in number.chain]
    if any(summary.from_figure for summary in summaries):
        flags.append(words.FROM_FIGURE)
    if any("median" in step or "quartiles" in step for step in steps):
        flags.append(words.FROM_MEDIAN)
        if any(summary.skewed for summary in summaries):
            flags.append(words.SKEWED)
    if any(number.tier == "bounded" for number in numbers):
        flags.append(words.BOUNDED_P)
    return tuple(flags)
