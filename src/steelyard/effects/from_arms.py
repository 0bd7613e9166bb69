"""An effect from what two arms report."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.effects import formed as words
from steelyard.effects.adjusted import adjusted_difference, standardised_adjusted_difference
from steelyard.effects.correlation import fisher_z
from steelyard.effects.counts import log_odds_ratio, log_risk_ratio, risk_difference
from steelyard.effects.formed import Formed
from steelyard.effects.groups import Counts, Estimate, Group, PrePost
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
from steelyard.effects.selection import Pairing
from steelyard.effects.variability import log_sd_ratio
from steelyard.errors import DesignError
from steelyard.records.question import COUNT_METRICS, Question
from steelyard.reporting.default_correlation import BETWEEN_ARMS, default_correlation
from steelyard.reporting.log_change import percent_to_log_change
from steelyard.reporting.number import Number
from steelyard.reporting.summary import ArmSummary, find_result, people, summarise

PAIRED_DESIGNS = ("within-person", "crossover")

_COUNTS = {
    "risk-ratio": log_risk_ratio,
    "odds-ratio": log_odds_ratio,
    "risk-difference": risk_difference,
}
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
        return _from_counts(pairing, question, results)
    if question.metric == "variability-ratio":
        return _from_spreads(pairing, results)
    if question.metric == "percent" and all(
        result.change_percent and not result.post and not result.change for result in results
    ):
        return _from_percent_changes(pairing, results)
    return _from_means(pairing, question, [summarise(study, result) for result in results])


def correlation_in_arm(pairing: Pairing) -> Formed:
    """Fisher's z of a correlation that one arm reports."""
    arm = pairing.intervention
    result = find_result(pairing.study, outcome=pairing.outcome.id, arm=arm.id, week=pairing.week)
    if result is None or result.correlation is None:
        raise DesignError("no correlation reported")
    n = people(pairing.study, result)
    return Formed(fisher_z(float(result.correlation), n=n), "as reported", n, None)


def _from_counts(pairing: Pairing, question: Question, results) -> Formed:
    if any(result.events is None for result in results):
        raise DesignError("no counts of people with an event in both arms")
    sizes = [people(pairing.study, result) for result in results]
    one, other = (
        Counts(float(result.events), float(n)) for result, n in zip(results, sizes, strict=True)
    )
    return Formed(_COUNTS[question.metric](one, other), "counts", *sizes)


def _from_spreads(pairing: Pairing, results) -> Formed:
    summaries = [summarise(pairing.study, result) for result in results]
    for name in ("change", "post"):
        moments = [getattr(summary, name) for summary in summaries]
        if all(moment is not None and moment.sd is not None for moment in moments):
            groups = [
                Group(summary.n, moment.mean.value, moment.sd.value)
                for summary, moment in zip(summaries, moments, strict=True)
            ]
            steps = tuple(step for moment in moments for step in moment.sd.chain)
            sizes = [summary.n for summary in summaries]
            return Formed(log_sd_ratio(*groups), name, *sizes, steps=steps)
    raise DesignError("no SD of change or after training in both arms")


def _from_percent_changes(pairing: Pairing, results) -> Formed:
    logs = [
        percent_to_log_change(result.change_percent, n=people(pairing.study, result))
        for result in results
    ]
    sizes = [people(pairing.study, result) for result in results]
    estimate = mean_difference(
        *(Group(n, log.mean.value, log.sd.value) for n, log in zip(sizes, logs, strict=True))
    )
    steps = tuple(step for log in logs for step in (*log.mean.chain, *log.sd.chain))
    method = "difference in log change, from people's own percents (delta method)"
    estimate = Estimate(estimate.effect, estimate.variance, estimate.df, method)
    return Formed(estimate, "change", *sizes, steps=steps)


@dataclass(frozen=True, slots=True)
class _Correlations:
    pre_post: tuple[Number, Number]
    between_arms: Number | None

    @property
    def used(self) -> float:
        if self.between_arms is not None:
            return self.between_arms.value
        return sum(r.value for r in self.pre_post) / 2


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
    sizes = [s.n for s in summaries]
    steps = tuple(step for s in summaries for step in (*s.post.mean.chain, *s.post.sd.chain))
    flags = () if question.contrast == "post" else (words.POST_ONLY,)
    if pairing.study.design.kind in PAIRED_DESIGNS:
        r = _between_arms(pairing, question)
        function = {
            "standardised": standardised_paired_difference,
            "raw": paired_difference,
            "percent": paired_log_ratio_of_means,
        }[question.metric]
        estimate = function(*_same_people(groups), r=r.value)
        return _tell(pairing, question, summaries, estimate, "post", steps, flags, (r,))
    estimate = _POST[question.metric](*groups)
    return Formed(
        _widen(estimate, question, summaries, ("post",)),
        "post",
        *sizes,
        steps=steps,
        flags=(*flags, *_source_flags(summaries, ("post",))),
    )


def _change(pairing: Pairing, question: Question, summaries: list[ArmSummary]) -> Formed:
    rs = tuple(_pre_post(pairing, question, summary) for summary in summaries)
    arms = [_pre_post_group(s, r) for s, r in zip(summaries, rs, strict=True)]
    groups = [arm.group for arm in arms]
    steps = tuple(step for arm in arms for step in arm.steps)
    if pairing.study.design.kind not in PAIRED_DESIGNS:
        spread = {"change_spread": question.model.change_spread}
        options = spread if question.metric == "standardised" else {}
        estimate = _CHANGE[question.metric](*groups, **options)
        return _tell(pairing, question, summaries, estimate, "change", steps, (), rs)
    between = _between_arms(pairing, question)
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
    return _tell(pairing, question, summaries, estimate, "change", steps, (), (*rs, between))


def _adjusted(pairing: Pairing, question: Question, summaries: list[ArmSummary]) -> Formed:
    if question.metric not in _ADJUSTED:
        raise DesignError(f"no covariance-adjusted form for the metric {question.metric}")
    if pairing.study.design.kind in PAIRED_DESIGNS:
        raise DesignError(f"no covariance-adjusted form for a {pairing.study.design.kind} design")
    rs = tuple(_pre_post(pairing, question, summary) for summary in summaries)
    arms = [_pre_post_group(s, r) for s, r in zip(summaries, rs, strict=True)]
    if any(s.post is None or s.post.sd is None for s in summaries):
        raise DesignError("no SD after training in both arms, which the adjustment needs")
    steps = tuple(step for arm in arms for step in arm.steps)
    estimate = _ADJUSTED[question.metric](*(arm.group for arm in arms))
    return _tell(pairing, question, summaries, estimate, "adjusted", steps, (), rs)


_CONTRASTS = {"change": _change, "post": _post, "adjusted": _adjusted}


@dataclass(frozen=True, slots=True)
class _Arm:
    group: PrePost
    steps: tuple[str, ...]


def _pre_post_group(summary: ArmSummary, r: Number) -> _Arm:
    """Means and SDs of one arm, with what had to stand in for a missing SD."""
    if summary.change is None:
        raise DesignError("no change from before to after training in both arms")
    steps = list(summary.change.mean.chain)
    pre_mean = summary.pre.mean.value if summary.pre is not None else 0.0
    pre_sd = summary.pre.sd if summary.pre is not None else None
    post_sd = summary.post.sd if summary.post is not None else None
    change_sd = summary.change.sd
    if pre_sd is None and post_sd is not None:
        pre_sd = Number(post_sd.value, "imputed", (*post_sd.chain, "pre SD taken equal to post SD"))
    if pre_sd is None and change_sd is not None:
        value = change_sd.value / (2 * (1 - r.value)) ** 0.5
        step = f"pre SD = change SD {change_sd.value:.4g} ÷ √(2(1 − {r.value:.2f})) = {value:.4g}"
        pre_sd = Number(value, "imputed", (*change_sd.chain, step))
    if pre_sd is None:
        raise DesignError("no SD before, after or of the change in both arms")
    if post_sd is None:
        post_sd = Number(pre_sd.value, "imputed", ("post SD taken equal to pre SD",))
    steps += [*pre_sd.chain, *post_sd.chain, *r.chain]
    group = PrePost(
        n=summary.n,
        pre_mean=pre_mean,
        pre_sd=pre_sd.value,
        post_mean=pre_mean + summary.change.mean.value,
        post_sd=post_sd.value,
        r=r.value,
    )
    return _Arm(group, tuple(steps))


def _same_people(groups):
    """Both conditions with the number of people measured in both."""
    n = min(group.n for group in groups)
    return [
        type(group)(n, *(getattr(group, name) for name in group.__slots__[1:])) for group in groups
    ]


def _pre_post(pairing: Pairing, question: Question, summary: ArmSummary) -> Number:
    if summary.r is not None:
        return summary.r
    if question.assume.r_pre_post is not None:
        value = float(question.assume.r_pre_post)
        return Number(value, "imputed", (f"pre-post r {value:.2f} assumed by the question",))
    value = default_correlation(pairing.outcome.construct_id).value
    return Number(value, "imputed", (f"pre-post r {value:.2f} assumed by default",))


def _between_arms(pairing: Pairing, question: Question) -> Number:
    reported = pairing.outcome.r_between_arms
    if reported is not None:
        value = float(reported)
        return Number(value, "reported", (f"r between the two conditions {value:.2f} reported",))
    if question.assume.r_between_arms is not None:
        value = float(question.assume.r_between_arms)
        step = f"r between the two conditions {value:.2f} assumed by the question"
        return Number(value, "imputed", (step,))
    step = f"r between the two conditions {BETWEEN_ARMS:.2f} assumed by default"
    return Number(BETWEEN_ARMS, "imputed", (step,))


def _tell(pairing, question, summaries, estimate, contrast, steps, flags, rs) -> Formed:
    assumed = [r for r in rs if r.tier == "imputed"]
    main = rs[-1] if pairing.study.design.kind in PAIRED_DESIGNS else None
    origin = (
        "assumed"
        if assumed
        else next(
            (tier for tier in ("derived", "reported") if any(r.tier == tier for r in rs)), "derived"
        )
    )
    names = ("pre", "post") if contrast == "adjusted" else ("post", "change", "pre")
    return Formed(
        _widen(estimate, question, summaries, ("pre", "post") if contrast != "post" else ("post",)),
        contrast,
        summaries[0].n,
        summaries[1].n,
        r_used=main.value if main else sum(r.value for r in rs) / len(rs),
        r_from=origin,
        steps=(*steps, *(step for r in rs for step in r.chain)),
        flags=(
            *flags,
            *((words.ASSUMED_R,) if assumed else ()),
            *_source_flags(summaries, names),
        ),
        assumptions=tuple(dict.fromkeys(step for r in assumed for step in r.chain)),
    )


def _source_flags(summaries: list[ArmSummary], names: tuple[str, ...]) -> tuple[str, ...]:
    flags = []
    moments = [getattr(s, name) for s in summaries for name in names]
    numbers = [
        number
        for moment in moments
        if moment is not None
        for number in (moment.mean, moment.sd)
        if number is not None
    ]
    if any(summary.from_figure for summary in summaries):
        flags.append(words.FROM_FIGURE)
    if any("median" in step for number in numbers for step in number.chain):
        flags.append(words.FROM_MEDIAN)
    if any(number.tier == "bounded" for number in numbers):
        flags.append(words.BOUNDED_P)
    return tuple(flags)


def _widen(
    estimate: Estimate, question: Question, summaries: list[ArmSummary], names: tuple[str, ...]
) -> Estimate:
    """Add the error of reading means off a figure, on the metric's own scale."""
    extra = 0.0
    for summary in summaries:
        for name in names:
            moment = getattr(summary, name)
            if moment is None or not moment.reading_error:
                continue
            scale = {
                "raw": 1.0,
                "percent": abs(moment.mean.value) or 1.0,
                "standardised": (moment.sd.value if moment.sd else 1.0),
            }[question.metric]
            extra += (moment.reading_error / scale) ** 2
    if not extra:
        return estimate
    method = estimate.method + ", variance widened by the reading error"
    return Estimate(estimate.effect, estimate.variance + extra, estimate.df, method)
