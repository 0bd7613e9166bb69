"""A group's log change from the mean and spread of people's own percent changes."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

from steelyard.errors import DesignError
from steelyard.reporting.interval import sd_from_interval
from steelyard.reporting.number import Number, printed, weakest_tier
from steelyard.reporting.refusals import above
from steelyard.reporting.standard_error import sd_from_se

_LEVELS = {"ci90": 0.90, "ci95": 0.95, "ci99": 0.99}


@dataclass(frozen=True, slots=True)
class LogChange:
    """Mean and SD of change on the natural-log scale; unitless."""

    mean: Number
    sd: Number


def log_change_from_percent(percent: Number, *, sd: Number) -> LogChange:
    """Percent change p with SD s to the log scale.

    Mean ln(1 + p/100), SD (s/100)/(1 + p/100). By the delta method the SD of a log is SD over
    mean, as in the log ratio of means [1]_; here it is that of people's own ratios of after to
    before, own derivation. The log of the mean ratio stands in for the mean of log ratios, from
    which it differs by about half the SD squared.

    Parameters
    ----------
    percent, sd : Number
        Mean and SD of people's own percent changes; percent above −100, SD > 0.

    Returns
    -------
    LogChange
        As firm as the weaker of the two numbers, and at best derived.

    Raises
    ------
    DesignError
        If the change is a loss of everything or more, or the SD is not positive.

    References
    ----------
    .. [1] Hedges, L. V., Gurevitch, J. & Curtis, P. S. (1999). The meta-analysis of response
           ratios in experimental ecology. Ecology 80, 1150-1156; from memory.
    """
    ratio = 1 + float(above(percent.value, -100, "percent change")) / 100
    spread = float(above(sd.value, 0, "SD of percent changes")) / 100 / ratio
    mean_step = f"{printed(percent.value)} % → log change {printed(log(ratio))}"
    sd_step = f"SD {printed(sd.value)} % → SD of log change {printed(spread)} (delta method)"
    return LogChange(
        Number(log(ratio), weakest_tier("derived", percent.tier), (*percent.chain, mean_step)),
        Number(spread, weakest_tier("derived", sd.tier), (*sd.chain, sd_step)),
    )


def percent_to_log_change(change_percent, *, n) -> LogChange:
    """The same from a recorded percent change with any one printed measure of spread.

    An SE or interval becomes an SD = SE·√n first [1]_, as for any mean.

    Parameters
    ----------
    change_percent : PercentChange
        Has `mean` and one of `sd`, `se`, `ci90`, `ci95`, `ci99`; percent.
    n : float
        People, ≥ 2.

    Returns
    -------
    LogChange

    Raises
    ------
    DesignError
        If no spread is printed, or a number breaks its rule.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.2.
    """
    if change_percent.of == "means":
        raise DesignError("a percent change of means has no spread between people")
    percent = Number.printed(change_percent.mean)
    if change_percent.sd is not None:
        return log_change_from_percent(percent, sd=Number.printed(change_percent.sd))
    if change_percent.se is not None:
        return log_change_from_percent(percent, sd=sd_from_se(float(change_percent.se), n=n))
    for name, level in _LEVELS.items():
        limits = getattr(change_percent, name)
        if limits is not None:
            low, high = (float(limit) for limit in limits)
            by = change_percent.ci_by or "t"
            sd = sd_from_interval(low, high, n=n, level=level, by=by)
            return log_change_from_percent(percent, sd=sd)
    raise DesignError(
        f"percent change must come with an SD, SE or interval; got {change_percent.mean} alone"
    )
