"""From one result as printed to n, means, SDs and correlation, each with its chain."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from steelyard.errors import DesignError
from steelyard.records.study import INTERVAL_KEYS, Result, Spread, Study
from steelyard.reporting import (
    mean_from_five_numbers,
    mean_from_quartiles,
    mean_from_range,
    r_from_sds,
    sd_from_five_numbers,
    sd_from_interval,
    sd_from_quartiles,
    sd_from_range,
    sd_from_se,
    sd_of_change_from_p,
    sd_of_change_from_t,
)
from steelyard.reporting.number import Number


@dataclass(frozen=True, slots=True)
class Moments:
    """Mean and SD of one arm at one time (or of its change); SD None where nothing gives it."""

    mean: Number
    sd: Number | None
    reading_error: float = 0.0


@dataclass(frozen=True, slots=True)
class ArmSummary:
    """What one result says in n, means, SDs and correlation.

    Attributes
    ----------
    n : int
        People analysed.
    pre, post, change : Moments or None
        In the outcome's unit.
    r : Number or None
        Correlation between pre and post, reported or derived; None where the paper is silent.
    troubles : tuple of str
        What could not be used, in words.
    from_figure : bool
        Whether any of it was read off a figure.
    """

    n: int
    pre: Moments | None
    post: Moments | None
    change: Moments | None
    r: Number | None
    troubles: tuple[str, ...]
    from_figure: bool


def find_result(study: Study, *, outcome: str, arm: str, week: Decimal) -> Result | None:
    """The result of one arm for one outcome at one week, if the study has it."""
    for result in study.results:
        if result.outcome == outcome and result.arm == arm and result.week == week:
            return result
    return None


def people(study: Study, result: Result) -> int:
    """People analysed: the result's n, else the arm's."""
    return result.n or study.arm(result.arm).n


def summarise(study: Study, result: Result) -> ArmSummary:
    """Every route from a printed result to n, mean, SD and r, with its chain.

    A result without pre of its own takes it from the same arm's other weeks, since papers
    print the starting values once.
    """
    n = people(study, result)
    troubles: list[str] = []
    pre = _moments(_starting_values(study, result), n, troubles, "pre")
    post = _moments(result.post, n, troubles, "post")
    change = _moments(result.change, n, troubles, "change")
    r = _correlation(result, pre, post, change, troubles)
    if change is None and pre is not None and post is not None:
        change = Moments(_minus(post.mean, pre.mean), None)
    if post is None and pre is not None and change is not None:
        post = Moments(_plus(pre.mean, change.mean), None, change.reading_error)
    return ArmSummary(n, pre, post, change, r, tuple(troubles), result.read_off == "figure")


def _starting_values(study: Study, result: Result) -> Spread | None:
    if result.pre is not None:
        return result.pre
    for other in study.results:
        if (other.outcome, other.arm) == (result.outcome, result.arm) and other.pre is not None:
            return other.pre
    return None


def _moments(spread: Spread | None, n: int, troubles: list[str], name: str) -> Moments | None:
    if spread is None:
        return None
    error = float(spread.reading_error or 0)
    try:
        mean = _mean(spread, n)
        return Moments(mean, _sd(spread, n), error)
    except DesignError as refused:
        troubles.append(f"{name}: {refused}")
        return None if spread.mean is None else Moments(Number.printed(spread.mean), None, error)


def _mean(spread: Spread, n: int) -> Number:
    if spread.mean is not None:
        return Number.printed(spread.mean)
    median = float(spread.median)
    if spread.iqr is not None and spread.range is not None:
        low, high = map(float, spread.range)
        q1, q3 = map(float, spread.iqr)
        return mean_from_five_numbers(low, q1, median, q3, high, n=n)
    if spread.iqr is not None:
        return mean_from_quartiles(float(spread.iqr[0]), median, float(spread.iqr[1]), n=n)
    if spread.range is not None:
        return mean_from_range(float(spread.range[0]), median, float(spread.range[1]), n=n)
    raise DesignError(
        f"a median {spread.median} alone gives no mean: expected iqr or range beside it"
    )


def _sd(spread: Spread, n: int) -> Number | None:
    if spread.sd is not None:
        return Number.printed(spread.sd)
    if spread.se is not None:
        return sd_from_se(float(spread.se), n=n)
    for key, level in INTERVAL_KEYS.items():
        pair = getattr(spread, key)
        if pair is not None:
            return sd_from_interval(float(pair[0]), float(pair[1]), n=n, level=level)
    if spread.iqr is not None and spread.range is not None:
        low, high = map(float, spread.range)
        return sd_from_five_numbers(low, *map(float, spread.iqr), high, n=n)
    if spread.iqr is not None:
        return sd_from_quartiles(*map(float, spread.iqr), n=n)
    if spread.range is not None:
        return sd_from_range(*map(float, spread.range), n=n)
    if spread.mean is not None and spread.t is not None:
        return sd_of_change_from_t(float(spread.mean), t=float(spread.t), n=n)
    if spread.mean is not None and spread.p is not None:
        return sd_of_change_from_p(float(spread.mean), p=spread.p, n=n)
    return None


def _correlation(
    result: Result,
    pre: Moments | None,
    post: Moments | None,
    change: Moments | None,
    troubles: list[str],
) -> Number | None:
    if result.r is not None:
        if abs(result.r) < 1:
            return Number.printed(result.r)
        troubles.append(f"r = {result.r} leaves no variation in the change; not used")
        return None
    if pre is None or change is None or not pre.sd or not change.sd:
        return None
    if change.sd.tier == "bounded":
        return None
    assumption = ""
    post_sd = post.sd if post is not None else None
    if post_sd is None:
        post_sd, assumption = pre.sd, "post SD taken equal to pre SD"
    try:
        found = r_from_sds(pre.sd.value, post_sd.value, change.sd.value)
    except DesignError as refused:
        troubles.append(str(refused))
        return None
    chain = (*pre.sd.chain, *post_sd.chain, *change.sd.chain, *found.chain)
    return Number(found.value, found.tier, (*chain, assumption) if assumption else chain)


def _minus(post: Number, pre: Number) -> Number:
    return Number(post.value - pre.value, "derived", (f"change {post.value:g} − {pre.value:g}",))


def _plus(pre: Number, change: Number) -> Number:
    return Number(pre.value + change.value, "derived", (f"post {pre.value:g} + {change.value:g}",))
