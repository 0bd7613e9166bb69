"""Effects of two arms from what is not a mean: counts, spreads, percents, correlations."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.effects import formed as words
from steelyard.effects.comparator_part import part_of_scores
from steelyard.effects.correlation import fisher_z
from steelyard.effects.correlations_used import between_arms, origin
from steelyard.effects.counts import (
    comparator_part,
    half_added,
    log_odds_ratio,
    log_risk_ratio,
    risk_difference,
)
from steelyard.effects.formed import PAIRED_DESIGNS, Formed
from steelyard.effects.groups import Counts, Estimate, Group
from steelyard.effects.independent import mean_difference
from steelyard.effects.paired import paired_difference
from steelyard.effects.reading_off import NOT_ALLOWED_FOR, widened_spreads
from steelyard.effects.selection import Pairing
from steelyard.effects.variability import log_cv_ratio, log_sd_ratio
from steelyard.errors import DesignError
from steelyard.records.question import Question
from steelyard.reporting.log_change import percent_to_log_change
from steelyard.reporting.number import weakest_tier
from steelyard.reporting.summary import find_result, people, summarise

_COUNTS = {
    "risk-ratio": log_risk_ratio,
    "odds-ratio": log_odds_ratio,
    "risk-difference": risk_difference,
}
_PAIRS = (
    "the same people were in both arms, but how they pair off is not printed: variance as for "
    "independent groups, which is too wide where pairs agree"
)
_HALF = "one half added to each of the four cells, as one is empty (common practice)"


def correlation_in_arm(pairing: Pairing) -> Formed:
    """Fisher's z of a correlation that one arm reports."""
    arm = pairing.intervention
    result = find_result(pairing.study, outcome=pairing.outcome.id, arm=arm.id, week=pairing.week)
    if result is None or result.correlation is None:
        raise DesignError("no correlation reported")
    n = people(pairing.study, result)
    return Formed(fisher_z(float(result.correlation), n=n), "as reported", n, None)


def from_counts(pairing: Pairing, question: Question, results) -> Formed:
    """A ratio or difference of risks."""
    if any(result.events is None for result in results):
        raise DesignError("no counts of people with an event in both arms")
    sizes = [people(pairing.study, result) for result in results]
    one, other = (
        Counts(float(result.events), float(n)) for result, n in zip(results, sizes, strict=True)
    )
    paired = pairing.study.design.kind in PAIRED_DESIGNS
    pairs, halved = _pairs_ignored(pairing), bool(half_added(one, other, metric=question.metric))
    return Formed(
        _COUNTS[question.metric](one, other),
        "counts",
        *sizes,
        comparator_variance=float("nan")
        if paired
        else float(comparator_part(one, other, metric=question.metric)),
        steps=(_half_in_words(one, other, question.metric),) if halved else (),
        flags=(*((words.HALF_ADDED,) if halved else ()), *pairs.flags),
        assumptions=(*((_HALF,) if halved else ()), *pairs.assumptions),
    )


def _half_in_words(one: Counts, other: Counts, metric: str) -> str:
    counts = f"{one.events:g} of {one.n:g} against {other.events:g} of {other.n:g}"
    only = ", for the variance only" if metric == "risk-difference" else ""
    return f"{counts}: one half added to each of the four cells{only}"


@dataclass(frozen=True, slots=True)
class _Said:
    flags: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()


def _pairs_ignored(pairing: Pairing) -> _Said:
    """What to say of a paired design whose pairs no formula here can use."""
    if pairing.study.design.kind not in PAIRED_DESIGNS:
        return _Said()
    return _Said((words.PAIRS_IGNORED,), (_PAIRS,))


def from_spreads(pairing: Pairing, question: Question, results) -> Formed:
    """Log ratio of the SDs of change, else of those after training; or of the latter's CVs.

    A change has no CV to speak of: its mean may be near zero or below.
    """
    relative = question.metric == "relative-variability-ratio"
    if relative and question.contrast in ("change", "adjusted"):
        raise DesignError(
            "a spread relative to the mean is formed from scores after training, not from changes"
        )
    summaries = [summarise(pairing.study, result) for result in results]
    paired = pairing.study.design.kind in PAIRED_DESIGNS
    for name in ("post",) if relative else ("change", "post"):
        moments = [getattr(summary, name) for summary in summaries]
        if all(moment is not None and moment.sd is not None for moment in moments):
            groups = [
                Group(summary.n, moment.mean.value, moment.sd.value)
                for summary, moment in zip(summaries, moments, strict=True)
            ]
            ratio = (log_cv_ratio if relative else log_sd_ratio)(*groups)
            read, pairs = widened_spreads(ratio, moments), _pairs_ignored(pairing)
            own = 1 / (2 * (groups[1].n - 1))
            if relative:
                own += (groups[1].sd / groups[1].mean) ** 2 / groups[1].n
            figure = any(summary.from_figure for summary in summaries)
            return Formed(
                read.estimate,
                name,
                *(summary.n for summary in summaries),
                steps=tuple(step for moment in moments for step in moment.sd.chain),
                tier=weakest_tier(*(moment.sd.tier for moment in moments)),
                comparator_variance=float("nan") if paired else own + read.comparator,
                flags=(*((words.FROM_FIGURE,) if figure else ()), *pairs.flags),
                assumptions=(*pairs.assumptions, *read.assumptions),
            )
    where = "mean and SD after training" if relative else "SD of change or after training"
    raise DesignError(f"no {where} in both arms")


def from_percent_changes(pairing: Pairing, question: Question, results) -> Formed:
    """Difference in log change from the means of people's own percent changes."""
    sizes = [people(pairing.study, result) for result in results]
    logs = [
        percent_to_log_change(result.change_percent, n=n)
        for result, n in zip(results, sizes, strict=True)
    ]
    groups = [Group(n, g.mean.value, g.sd.value) for n, g in zip(sizes, logs, strict=True)]
    method = "difference in log change, from people's own percents (delta method)"
    rs, part = (), float("nan")
    if pairing.study.design.kind in PAIRED_DESIGNS:
        rs = (between_arms(pairing, question),)
        n = min(sizes)
        same = [Group(n, group.mean, group.sd) for group in groups]
        estimate = paired_difference(*same, r=rs[0].value)
        method += ", within people"
    else:
        estimate = mean_difference(*groups)
        part = part_of_scores(groups[1], metric="raw", people=sum(sizes))
    steps = [step for log in logs for step in (*log.mean.chain, *log.sd.chain)]
    assumed = [r for r in rs if r.tier == "imputed"]
    figure = any(result.read_off == "figure" for result in results)
    tiers = [number.tier for log in logs for number in (log.mean, log.sd)]
    return Formed(
        Estimate(estimate.effect, estimate.variance, estimate.df, method),
        "change",
        *sizes,
        r_used=rs[0].value if rs else float("nan"),
        r_from=origin(rs) if rs else "",
        steps=(*steps, *(step for r in rs for step in r.chain)),
        flags=(
            *((words.ASSUMED_R,) if assumed else ()),
            *((words.FROM_FIGURE,) if figure else ()),
        ),
        assumptions=(
            *(step for r in assumed for step in r.chain),
            *((f"percent changes {NOT_ALLOWED_FOR}",) if figure else ()),
        ),
        tier=weakest_tier(*tiers, *(r.tier for r in rs), *(["read-off-figure"] if figure else [])),
        comparator_variance=float(part),
    )
