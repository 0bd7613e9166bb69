"""An effect from a comparison that the paper itself reports."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.special import stdtrit

from steelyard.effects import formed as words
from steelyard.effects.adjusted_test import from_adjusted_test, tested_arms
from steelyard.effects.as_reported import (
    difference_from_f,
    difference_from_p,
    difference_from_t,
    from_interval,
    from_standard_error,
    standardised_from_f,
    standardised_from_p,
    standardised_from_t,
    standardised_from_value,
)
from steelyard.effects.formed import PAIRED_DESIGNS, Formed
from steelyard.effects.groups import Estimate
from steelyard.effects.reading_off import NOT_ALLOWED_FOR
from steelyard.effects.selection import Pairing
from steelyard.effects.standardising import in_sd_units, pooled_sd
from steelyard.effects.tested_scale import (
    TAKEN_AS_CHANGE,
    Told,
    in_pre_training_units,
    on_its_scale,
)
from steelyard.errors import DesignError
from steelyard.records.question import Question
from steelyard.records.study import INTERVAL_KEYS, Comparison, ReportedEffect
from steelyard.reporting import bounded_p
from steelyard.reporting.number import weakest_tier
from steelyard.reporting.summary import find_result, summarise

_PRINTED_IN = {
    "raw": "difference",
    "standardised": "standardised",
    "percent": "log_ratio_of_means",
    "risk-ratio": "log_risk_ratio",
    "odds-ratio": "log_odds_ratio",
    "risk-difference": "risk_difference",
    "variability-ratio": "log_sd_ratio",
}


def find_comparison(pairing: Pairing) -> Comparison | None:
    """The paper's own comparison of the two arms, either way round."""
    for comparison in pairing.study.comparisons:
        arms = {comparison.intervention, comparison.comparator}
        if (
            comparison.outcome == pairing.outcome.id
            and comparison.week == pairing.week
            and arms == {pairing.intervention.id, pairing.comparator.id}
        ):
            return comparison
    return None


def from_comparison(pairing: Pairing, question: Question) -> Formed:
    """The effect of one pairing from the paper's own comparison, in the question's metric.

    Raises
    ------
    DesignError
        If there is none, or what is printed does not lead to the metric; says what is missing.
    """
    comparison = find_comparison(pairing)
    if comparison is None:
        raise DesignError("the paper reports no comparison of the two arms")
    _refuse_other_contrast(question, comparison)
    sizes = _sizes(pairing, comparison)
    printed = getattr(comparison, _PRINTED_IN.get(question.metric, ""), None)
    told, estimate = Told(), None
    usable = printed is not None and _has_uncertainty(printed, pairing)
    if question.metric == "standardised" and not (usable and printed.over):
        estimate = _over_the_pre_training_sd(pairing, question, comparison, sizes, told)
    if estimate is not None:
        printed = None
    elif usable:
        told = Told()
        df = _df(pairing, sizes, comparison) if question.metric == "raw" else None
        estimate = _as_printed(printed, sizes, df)
        if question.metric == "standardised":
            estimate = on_its_scale(pairing, question, comparison, estimate, told)
    elif question.metric == "standardised":
        estimate = _standardised(pairing, question, comparison, sizes, told)
    elif question.metric == "raw":
        estimate = _raw(pairing, question, comparison, sizes, told)
    else:
        raise DesignError(f"the comparison holds nothing from which {question.metric} follows")
    if comparison.intervention == pairing.comparator.id:
        method = estimate.method + ", turned round"
        estimate = replace(estimate, effect=-estimate.effect, method=method)
    if comparison.read_off == "figure":
        told.flags.append(words.FROM_FIGURE)
        told.assumptions.append(f"the paper's own comparison {NOT_ALLOWED_FOR}")
    return Formed(
        estimate,
        "adjusted" if comparison.adjusted else "as reported",
        *(sizes if comparison.intervention == pairing.intervention.id else sizes[::-1]),
        r_used=told.r_used,
        r_from=told.r_from,
        steps=tuple(told.steps),
        flags=tuple(told.flags),
        assumptions=tuple(told.assumptions),
        tier=_tier(printed, told.flags),
        clusters_allowed_for=comparison.clusters_allowed_for,
    )


def _refuse_other_contrast(question: Question, comparison: Comparison) -> None:
    """An explicit contrast takes no printed effect of another kind; ``auto`` takes any."""
    if question.contrast not in ("change", "post"):
        return
    printed = "adjusted" if comparison.adjusted else comparison.of
    if printed not in (None, question.contrast):
        told = {"adjusted": "adjusted for the start", "post": "of scores after training"}
        raise DesignError(
            f"the paper's own comparison is {told.get(printed, 'of changes')}, the question asks "
            f'for contrast = "{question.contrast}"'
        )


def _tier(printed: ReportedEffect | None, flags: list[str]) -> str:
    as_printed = printed is not None and printed.se is not None
    marks = {
        words.FROM_FIGURE: "read-off-figure",
        words.BOUNDED_P: "bounded",
        words.ASSUMED_R: "imputed",
    }
    tiers = [tier for flag, tier in marks.items() if flag in flags]
    return weakest_tier("reported" if as_printed else "derived", *tiers)


def _sizes(pairing: Pairing, comparison: Comparison) -> tuple[int | None, int | None]:
    def size(stated: int | None, arm_id: str) -> int | None:
        if stated is not None:
            return stated
        result = find_result(
            pairing.study, outcome=comparison.outcome, arm=arm_id, week=comparison.week
        )
        return (result.n if result else None) or pairing.study.arm(arm_id).n

    return (
        size(comparison.n_intervention, comparison.intervention),
        size(comparison.n_comparator, comparison.comparator),
    )


def _df(pairing: Pairing, sizes, comparison: Comparison) -> float | None:
    if None in sizes:
        return None
    if pairing.study.design.kind in PAIRED_DESIGNS:
        return min(sizes) - 1
    return sum(sizes) - (3 if comparison.adjusted else 2)


def _has_uncertainty(printed: ReportedEffect, pairing: Pairing) -> bool:
    names = ["se", *INTERVAL_KEYS]
    if pairing.study.design.kind in PAIRED_DESIGNS:
        names.append("sd")
    return any(getattr(printed, name) is not None for name in names)


def _as_printed(printed: ReportedEffect, sizes, df: float | None) -> Estimate:
    """The printed effect; an SD counts as that of people's own differences."""
    value = float(printed.value)
    if printed.se is not None:
        return from_standard_error(value, standard_error=float(printed.se), df=df)
    for key, level in INTERVAL_KEYS.items():
        pair = getattr(printed, key)
        if pair is not None:
            return from_interval(value, low=float(pair[0]), high=float(pair[1]), level=level, df=df)
    if None in sizes:
        raise DesignError("an SD of differences leads to no standard error without n")
    n = min(sizes)
    estimate = from_standard_error(value, standard_error=float(printed.sd) / n**0.5, df=n - 1)
    method = f"as printed; SD of differences {printed.sd} ÷ √{n} = SE"
    return Estimate(estimate.effect, estimate.variance, estimate.df, method)


def _raw(pairing, question, comparison, sizes, told) -> Estimate:
    """The raw difference with its SE, from an interval, an SE, or a test."""
    df = _df(pairing, sizes, comparison)
    printed = comparison.difference
    if printed is not None and _has_uncertainty(printed, pairing):
        return _as_printed(printed, sizes, df)
    if printed is not None:
        value = float(printed.value)
    elif comparison.adjusted and pairing.study.design.kind not in PAIRED_DESIGNS:
        df = _needed(df)
        t = _size_of_t(comparison, df, told)
        exact = words.BOUNDED_P not in told.flags
        return from_adjusted_test(pairing, question, comparison, told, t=t, df=df, exact=exact)
    else:
        value = _difference_of_arms(pairing, comparison, told)
    if comparison.t is not None:
        return difference_from_t(value, t=float(comparison.t), df=_needed(df))
    if comparison.f is not None:
        return difference_from_f(value, f=float(comparison.f), df=_needed(df))
    if comparison.p is not None:
        p = _usable_p(comparison, told)
        return difference_from_p(value, p=p, df=df, exact=words.BOUNDED_P not in told.flags)
    raise DesignError("the difference is printed without SE, interval or test")


def _usable_p(comparison: Comparison, told: Told) -> float:
    """The printed p, or its bound, which is noted."""
    if not isinstance(comparison.p, str):
        return float(comparison.p)
    bound = bounded_p(comparison.p)
    told.steps.extend(bound.chain)
    if bound.tier == "bounded":
        told.flags.append(words.BOUNDED_P)
    return bound.value


def _size_of_t(comparison: Comparison, df: float, told: Told) -> float:
    """The size of t behind a printed t, F on one degree of freedom, or p."""
    if comparison.t is not None:
        return abs(float(comparison.t))
    if comparison.f is not None:
        return float(comparison.f) ** 0.5
    if comparison.p is not None:
        return float(-stdtrit(df, _usable_p(comparison, told) / 2))
    raise DesignError("the difference is printed without SE, interval or test")


def _needed(df: float | None) -> float:
    if df is None:
        raise DesignError("a test without the numbers of people leads to no standard error")
    return df


def _difference_of_arms(pairing: Pairing, comparison: Comparison, told: Told) -> float:
    """Intervention less comparator in what was tested, in the printed unit.

    Where the paper does not say what that was: in mean change, else in post mean.
    """
    found = [
        find_result(pairing.study, outcome=comparison.outcome, arm=arm, week=comparison.week)
        for arm in (comparison.intervention, comparison.comparator)
    ]
    if None in found:
        raise DesignError("a test alone, without the size of the difference, gives no raw effect")
    one, other = (summarise(pairing.study, result) for result in found)
    for name in (comparison.of,) if comparison.of else ("change", "post"):
        pair = [getattr(summary, name) for summary in (one, other)]
        if None not in pair:
            if name == "change" and comparison.of is None and not comparison.adjusted:
                told.assumptions.append(TAKEN_AS_CHANGE)
            return pair[0].mean.value - pair[1].mean.value
    raise DesignError("a test alone, without the size of the difference, gives no raw effect")


def _over_the_pre_training_sd(pairing, question, comparison, sizes, told) -> Estimate | None:
    """The raw difference over the pooled pre-training SD; None where either is not printed."""
    scale = _pre_training_sd(pairing, comparison)
    if scale is None:
        return None
    try:
        raw = _raw(pairing, question, comparison, sizes, told)
    except DesignError:
        # An adjusted test at odds with its own arms says nothing in residual SDs either.
        if comparison.adjusted and tested_arms(pairing, comparison) is not None:
            raise
        return None
    sd, df = scale
    return in_sd_units(
        raw.effect,
        relative_variance=raw.variance / sd**2,
        scale_sd=sd,
        scale_df=df,
        correction="approximate",
        method=f"{raw.method}; over the pooled pre-training SD {sd:.4g}",
    )


def _standardised(pairing, question, comparison, sizes, told) -> Estimate:
    """From what is printed in SDs alone, else from the test itself."""
    printed = comparison.standardised
    if None in sizes:
        raise DesignError("no standardised effect follows without the numbers of people")
    n_intervention, n_comparator = sizes
    both = {
        "n_intervention": n_intervention,
        "n_comparator": n_comparator,
        "covariates": int(comparison.adjusted),
    }
    if pairing.study.design.kind in PAIRED_DESIGNS:
        raise DesignError(
            "a test within people standardises by the SD of their differences, another scale"
        )
    if printed is not None:
        found = standardised_from_value(
            float(printed.value), n_intervention=n_intervention, n_comparator=n_comparator
        )
        return on_its_scale(pairing, question, comparison, found, told)
    tested = _from_test(pairing, comparison, sizes, told, both)
    return in_pre_training_units(pairing, question, comparison, tested, told)


def _from_test(pairing, comparison, sizes, told, both) -> Estimate:
    """Standardised by the SD of the scores that were tested."""
    if comparison.t is not None:
        return standardised_from_t(float(comparison.t), **both)
    difference = comparison.difference
    if difference is not None and _has_uncertainty(difference, pairing):
        raw = _as_printed(difference, sizes, _df(pairing, sizes, comparison))
        told.steps.append(raw.method)
        return standardised_from_t(float(raw.effect / np.sqrt(raw.variance)), **both)
    if comparison.f is None and comparison.p is None:
        raise DesignError("the comparison holds nothing from which a standardised effect follows")
    sign = np.sign(
        float(difference.value)
        if difference is not None
        else _difference_of_arms(pairing, comparison, told)
    )
    if comparison.f is not None:
        return standardised_from_f(float(comparison.f), sign=sign, **both)
    return standardised_from_p(_usable_p(comparison, told), sign=sign, **both)


def _pre_training_sd(pairing: Pairing, comparison: Comparison) -> tuple[float, float] | None:
    """Pooled pre-training SD and its degrees of freedom, if both arms print one."""
    moments = []
    for arm in (comparison.intervention, comparison.comparator):
        result = next(
            (
                r
                for r in pairing.study.results
                if (r.outcome, r.arm) == (comparison.outcome, arm) and r.pre is not None
            ),
            None,
        )
        if result is None:
            return None
        summary = summarise(pairing.study, result)
        if summary.pre is None or summary.pre.sd is None:
            return None
        moments.append((summary.n, summary.pre.sd.value))
    (n_one, sd_one), (n_other, sd_other) = moments
    df = n_one + n_other - 2
    if pairing.study.design.kind in PAIRED_DESIGNS:
        df = min(n_one, n_other) - 1
    return float(pooled_sd(n_one, sd_one, n_other, sd_other)), df
