"""From one result as printed to n, means, SDs and correlation, each with its chain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import hypot

from steelyard.errors import DesignError
from steelyard.records.study import INTERVAL_KEYS, Result, Spread, Study, Subgroup
from steelyard.reporting import (
    Combined,
    Lopsidedness,
    combine_groups,
    lopsided_quartiles,
    lopsided_range,
    mean_from_five_numbers,
    mean_from_quartiles,
    mean_from_range,
    post_mean_from_percent,
    r_from_sds,
    sd_from_five_numbers,
    sd_from_interval,
    sd_from_quartiles,
    sd_from_range,
    sd_from_se,
    sd_of_change_from_p,
    sd_of_change_from_t,
)
from steelyard.reporting.number import Number, weakest_tier
from steelyard.reporting.reading_error import (
    NOT_READ,
    ReadingError,
    default_reading_error,
    error_of_sd,
)

MEDIANS_BY = "luo"
"""How a mean comes from a median: by the weights of Luo et al. (2018).

Of all weighted means of the printed quantiles they have the smallest mean squared error for
normal scores; those of Wan et al. (2014) do not depend on n, and lean too much on the extremes
of large groups. SDs come by Wan et al., to which Luo et al. add nothing.
"""


@dataclass(frozen=True, slots=True)
class Moments:
    """Mean and SD of one arm at one time (or of its change); SD None where nothing gives it.

    `reading` is how far off mean and SD may be where they were read off a figure.
    """

    mean: Number
    sd: Number | None
    reading: ReadingError = NOT_READ


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
    skewed : tuple of str
        Medians that lie too far off the middle for a mean and SD to follow safely, in words.
    """

    n: int
    pre: Moments | None
    post: Moments | None
    change: Moments | None
    r: Number | None
    troubles: tuple[str, ...]
    from_figure: bool
    skewed: tuple[str, ...] = ()


def find_result(study: Study, *, outcome: str, arm: str, week: Decimal) -> Result | None:
    """The result of one arm for one outcome at one week, if the study has it."""
    for result in study.results:
        if result.outcome == outcome and result.arm == arm and result.week == week:
            return result
    return None


def people(study: Study, result: Result) -> int:
    """People analysed: the result's n, else the arm's.

    Raises
    ------
    DesignError
        If neither is there, as while a study is typed.
    """
    arm = study.arm(result.arm)
    n = result.n or arm.n
    if n is None:
        raise DesignError(f"n of {arm.name} is missing")
    return n


def summarise(study: Study, result: Result) -> ArmSummary:
    """Every route from a printed result to n, mean, SD and r, with its chain.

    A result without pre of its own takes it from the same arm's other weeks, since papers
    print the starting values once.

    Raises
    ------
    DesignError
        If neither the result nor its arm has n.
    """
    n = people(study, result)
    troubles: list[str] = []
    start = _start(study, result)
    printed = {"pre": (start.pre, start), "post": (result.post, result)}
    printed["change"] = (result.change, result)
    pre, post, change = (
        _moments(spread, n, troubles, name, figure=where.read_off == "figure")
        for name, (spread, where) in printed.items()
    )
    if post is None and change is None:
        post = _from_percent_of_means(result, pre, troubles)
    r = _correlation(result, pre, post, change, troubles)
    if change is None and pre is not None and post is not None:
        apart = hypot(pre.reading.mean, post.reading.mean)
        change = Moments(_minus(post.mean, pre.mean), None, ReadingError(apart))
    if post is None and pre is not None and change is not None:
        post = Moments(_plus(pre.mean, change.mean), None, ReadingError(change.reading.mean))
    used = [where for spread, where in printed.values() if spread is not None]
    from_figure = any(where.read_off == "figure" for where in (*used, result))
    skewed = tuple(
        f"{name}: {found.message}"
        for name, (spread, _) in printed.items()
        if spread is not None and (found := lopsided(spread, n=n)) is not None
    )
    return ArmSummary(n, pre, post, change, r, tuple(troubles), from_figure, skewed)


def lopsided(spread: Spread, *, n: int) -> Lopsidedness | None:
    """Why a median with its quartiles or range is not safely turned into a mean, if it is not.

    By the tests of Shi et al. (2023), which `lopsided_quartiles` names; None below five people.
    """
    if spread.median is None or spread.mean is not None or n < 5:
        return None
    checks = ((spread.iqr, lopsided_quartiles), (spread.range, lopsided_range))
    for pair, check in checks:
        if pair is not None:
            found = check(float(pair[0]), float(spread.median), float(pair[1]), n=n)
            if found.skewed:
                return found
    return None


def _start(study: Study, result: Result) -> Result:
    """The result that prints the arm's starting values: this one, or one at another week."""
    if result.pre is not None:
        return result
    for other in study.results:
        if (other.outcome, other.arm) == (result.outcome, result.arm) and other.pre is not None:
            return other
    return result


def _moments(
    spread: Spread | None, n: int, troubles: list[str], name: str, *, figure: bool
) -> Moments | None:
    if spread is None:
        return None
    try:
        mean, sd = _mean_and_sd(spread, n)
    except DesignError as refused:
        troubles.append(f"{name}: {refused}")
        if spread.mean is None:
            return None
        mean, sd = Number.printed(spread.mean), None
    reading = _reading(spread, n, mean, sd, figure=figure)
    if not figure:
        return Moments(mean, sd, reading)
    return Moments(_off_figure(mean), None if sd is None else _off_figure(sd), reading)


def _reading(
    spread: Spread, n: int, mean: Number, sd: Number | None, *, figure: bool
) -> ReadingError:
    """The stated reading error, else the default where a number was read off a figure."""
    stated = spread.reading_error
    if stated is None and not figure:
        return NOT_READ
    error = float(stated) if stated is not None else 0.0
    if stated is None:
        error = default_reading_error(mean.value, None if sd is None else sd.value)
    return ReadingError(error, _reading_of_sd(spread, n, sd, error), assumed=stated is None)


def _reading_of_sd(spread: Spread, n: int, sd: Number | None, error: float) -> float:
    """What a reading error of the printed measure of spread is in the SD."""
    names = [
        name
        for name in ("sd", "se", *INTERVAL_KEYS, "iqr", "range")
        if getattr(spread, name) is not None
    ]
    if sd is None or not names or not error or spread.groups:
        return 0.0
    if names[0] not in ("iqr", "range"):
        names = names[:1]
    lengths = [1 if name in ("sd", "se") else 2 for name in names]
    read: list[float] = []
    for name, length in zip(names, lengths, strict=True):
        value = getattr(spread, name)
        read += [float(value)] if length == 1 else map(float, value)

    def to_sd(numbers) -> float:
        left, moved = list(numbers), {}
        for name, length in zip(names, lengths, strict=True):
            taken, left = left[:length], left[length:]
            moved[name] = taken[0] if length == 1 else tuple(taken)
        return _sd(spread.model_copy(update=moved), n).value

    return error_of_sd(read, error, to_sd=to_sd)


def _off_figure(number: Number) -> Number:
    return replace(number, tier=weakest_tier("read-off-figure", number.tier))


def _mean_and_sd(spread: Spread, n: int) -> tuple[Number, Number | None]:
    if spread.groups:
        combined = combine_subgroups(spread.groups)
        return combined.mean, combined.sd
    return _mean(spread, n), _sd(spread, n)


def combine_subgroups(groups: Sequence[Subgroup]) -> Combined:
    """People printed apart as one group; an SE or interval of a part first becomes its SD.

    Parameters
    ----------
    groups : sequence of Subgroup
        At least two.

    Returns
    -------
    Combined
        As by `combine_groups`; the steps to each part's SD come before those of the SD.

    Raises
    ------
    DesignError
        If there are fewer than two.
    """
    spreads = [
        Spread(**{name: getattr(group, name) for name in ("mean", "sd", "se", *INTERVAL_KEYS)})
        for group in groups
    ]
    sds = [_sd(spread, group.n) for spread, group in zip(spreads, groups, strict=True)]
    combined = combine_groups(
        [(group.n, float(group.mean), sd.value) for group, sd in zip(groups, sds, strict=True)]
    )
    steps = (step for sd in sds if sd.tier != "reported" for step in sd.chain)
    chain = (*dict.fromkeys(steps), *combined.sd.chain)
    return replace(combined, sd=replace(combined.sd, chain=chain))


def _mean(spread: Spread, n: int) -> Number:
    if spread.mean is not None:
        return Number.printed(spread.mean)
    median = float(spread.median)
    if spread.iqr is not None and spread.range is not None:
        low, high = map(float, spread.range)
        q1, q3 = map(float, spread.iqr)
        return mean_from_five_numbers(low, q1, median, q3, high, n=n, method=MEDIANS_BY)
    if spread.iqr is not None:
        q1, q3 = map(float, spread.iqr)
        return mean_from_quartiles(q1, median, q3, n=n, method=MEDIANS_BY)
    if spread.range is not None:
        low, high = map(float, spread.range)
        return mean_from_range(low, median, high, n=n, method=MEDIANS_BY)
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
            low, high = map(float, pair)
            return sd_from_interval(low, high, n=n, level=level, by=spread.ci_by or "t")
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


def _from_percent_of_means(
    result: Result, pre: Moments | None, troubles: list[str]
) -> Moments | None:
    """The mean after training from a percent change that the paper says is one of means."""
    percent = result.change_percent
    if percent is None or percent.of != "means" or pre is None or pre.mean.value <= 0:
        return None
    try:
        after = post_mean_from_percent(pre.mean.value, percent=float(percent.mean))
    except DesignError as refused:
        troubles.append(f"{refused}; not used")
        return None
    tier = weakest_tier(after.tier, pre.mean.tier)
    return Moments(Number(after.value, tier, (*pre.mean.chain, *after.chain)), None)


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
    return _from_three_sds(pre, post, change, troubles)


def implied_correlation(summary: ArmSummary) -> Number | None:
    """The pre-post correlation that the SDs of level and change imply, whatever r is printed.

    An SD before or after training stands in for the other. None where no SD of change is
    known, or it cannot belong to the others.
    """
    return _from_three_sds(summary.pre, summary.post, summary.change, [])


def _from_three_sds(
    pre: Moments | None, post: Moments | None, change: Moments | None, troubles: list[str]
) -> Number | None:
    if change is None or change.sd is None or change.sd.tier == "bounded":
        return None
    before, after = (None if moments is None else moments.sd for moments in (pre, post))
    if before is None and after is None:
        return None
    assumption = ""
    if after is None:
        after, assumption = before, "post SD taken equal to pre SD"
    elif before is None:
        before, assumption = after, "pre SD taken equal to post SD"
    try:
        found = r_from_sds(before.value, after.value, change.sd.value)
    except DesignError as refused:
        troubles.append(str(refused))
        return None
    sds = (before, after, change.sd)
    chain = (*(step for sd in sds for step in sd.chain), *found.chain)
    tier = weakest_tier(found.tier, *(sd.tier for sd in sds))
    return Number(found.value, tier, (*chain, assumption) if assumption else chain)


def _minus(post: Number, pre: Number) -> Number:
    tier = weakest_tier("derived", post.tier, pre.tier)
    return Number(post.value - pre.value, tier, (f"change {post.value:g} − {pre.value:g}",))


def _plus(pre: Number, change: Number) -> Number:
    tier = weakest_tier("derived", pre.tier, change.tier)
    return Number(pre.value + change.value, tier, (f"post {pre.value:g} + {change.value:g}",))
