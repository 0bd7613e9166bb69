"""An effect size turned into things: units, percent, chances, people, weeks."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, sqrt

import numpy as np
from scipy.special import ndtr, ndtri

from steelyard.errors import DesignError
from steelyard.show import Shown, number
from steelyard.show import interval as shown_interval


@dataclass(frozen=True, slots=True)
class Size(Shown):
    """One size with its interval, and how it was reached.

    Attributes
    ----------
    name : str
    value, low, high : float
        In `unit`; ordered, NaN where there is none. A number of people runs through infinity
        where the effect's interval takes in zero: the ends are then those of the two sides.
    level : float
        Of the interval; it carries the uncertainty of the effect alone.
    unit : str
    formula : str
        In words.
    source : str
        Of the formula and of what went into it.
    """

    name: str
    value: float
    low: float
    high: float
    level: float
    unit: str
    formula: str
    source: str

    def _title(self) -> str:
        return self.name

    def _rows(self) -> list[tuple[str, str]]:
        percent = f"{100 * self.level:g} %"
        span = shown_interval(self.low, self.high, sign=False)
        return [
            ("size", f"{number(self.value)} {self.unit}, {percent} interval {span}"),
            ("formula", self.formula),
            ("source", self.source),
        ]

    def as_json(self) -> dict:
        """Plain values; what is not finite becomes null."""
        ends = {name: getattr(self, name) for name in ("value", "low", "high")}
        return {
            "name": self.name,
            **{name: value if isfinite(value) else None for name, value in ends.items()},
            "level": self.level,
            "unit": self.unit,
            "formula": self.formula,
            "source": self.source,
        }


@dataclass(frozen=True, slots=True)
class Spanned:
    """A number with the two ends of its interval, on one scale."""

    value: float
    low: float
    high: float
    level: float = 0.95

    def through(self, function) -> Spanned:
        """Value and ends taken through a function that never turns back; ends ordered."""
        value, *ends = (float(function(part)) for part in (self.value, self.low, self.high))
        return Spanned(value, *sorted(ends), self.level)


def sized(name: str, spanned: Spanned, unit: str, formula: str, source: str) -> Size:
    """A size from a spanned number, its name, unit, formula and source."""
    return Size(
        name, spanned.value, spanned.low, spanned.high, spanned.level, unit, formula, source
    )


def in_unit(effect: Spanned, *, reference_sd: float, unit: str, source: str) -> Size:
    """A standardised difference in the unit of a measure: effect × reference SD.

    Parameters
    ----------
    effect : Spanned
        Standard deviations.
    reference_sd : float
        Typical SD between people, above 0; `unit`.
    unit, source : str
        The unit, and where the SD comes from.

    References
    ----------
    .. [1] Thorlund, K. et al. (2011). Pooling health-related quality of life outcomes in
           meta-analysis. Research Synthesis Methods 2, 188-203. From memory.
    """
    sd = _above_zero(reference_sd, name="reference_sd")
    return sized(
        "difference", effect.through(lambda d: d * sd), unit, "effect in SD × reference SD", source
    )


def standardised(difference: Spanned, *, reference_sd: float, source: str) -> Size:
    """A difference in a unit as standard deviations: the way back from `in_unit`."""
    sd = _above_zero(reference_sd, name="reference_sd")
    return sized(
        "standardised difference",
        difference.through(lambda x: x / sd),
        "SD",
        "difference ÷ reference SD",
        source,
    )


def percent_of_start(difference: Spanned, *, baseline: float, source: str) -> Size:
    """A difference in a unit as percent of where a person starts."""
    start = _above_zero(baseline, name="baseline")
    return sized(
        "percent of the start",
        difference.through(lambda x: 100 * x / start),
        "%",
        "100 × difference ÷ start",
        source,
    )


def from_log_ratio(log_ratio: Spanned, *, baseline: float, unit: str, source: str) -> Size:
    """A log ratio of means in the unit: start × (exp(log ratio) − 1).

    Exact where the comparator leaves a person at the start, and low by the comparator's own
    growth otherwise (8 % of the size where the comparator grows 8 %).
    """
    start = _above_zero(baseline, name="baseline")
    return sized(
        "difference",
        log_ratio.through(lambda x: start * np.expm1(x)),
        unit,
        "start × (ratio − 1)",
        source,
    )


def on_change_scale(effect: float, *, r: float) -> float:
    """Pre-SD units to change-SD units: d / sqrt(2(1 − r)).

    References
    ----------
    .. [1] Morris, S. B., & DeShon, R. P. (2002). Combining effect size estimates in
           meta-analysis. Psychological Methods 7, 105-125, equation 11. From memory.
    """
    if not -1 < r < 1:
        raise DesignError(f"r must lie above −1 and below 1; it is {r!r}")
    return effect / sqrt(2 * (1 - r))


def chance_of_superiority(effect: Spanned, *, r: float | None = None, source: str = "") -> Size:
    """Of 100 people with the one, how many do better than a like person with the other.

    Φ(d/√2) [1]_. With `r`, d is first put on the scale of changes, which answers who gains
    more; without, it answers who is ahead at the end.

    Parameters
    ----------
    effect : Spanned
        Standard deviations between people.
    r : float, optional
        Correlation of the measure before and after.

    References
    ----------
    .. [1] McGraw, K. O., & Wong, S. P. (1992). A common language effect size statistic.
           Psychological Bulletin 111, 361-365.
    """
    scale, words = 1.0, "on the scale of the spread between people"
    if r is not None:
        scale, words = on_change_scale(1.0, r=r), f"on the scale of changes, r {r:.2f}"
    return sized(
        "chance of doing better",
        effect.through(lambda d: 100 * ndtr(d * scale / sqrt(2))),
        "of 100",
        f"100 × normal probability of effect ÷ √2, {words}",
        source or "McGraw & Wong 1992",
    )


def overlap(effect: Spanned, *, source: str = "normal spreads of equal width") -> Size:
    """How much of two hills of people lies over one another: 200 Φ(−|d|/2)."""
    value = 200 * float(ndtr(-abs(effect.value) / 2))
    ends = [200 * float(ndtr(-abs(end) / 2)) for end in (effect.low, effect.high)]
    if effect.low < 0 < effect.high:
        ends.append(100.0)
    spanned = Spanned(value, min(ends), max(ends), effect.level)
    return sized("overlap", spanned, "%", "200 × normal probability of −|effect| ÷ 2", source)


def reaching(
    effect: Spanned, *, usual_gain: float, worthwhile: float, r: float, source: str
) -> Size:
    """Of 100 people, how many gain at least a worthwhile amount with the intervention.

    Gains are taken as normal with SD √(2(1 − r)) about usual gain + effect.

    Parameters
    ----------
    effect : Spanned
    usual_gain : float
        Mean gain with the comparator.
    worthwhile : float
        Gain that is worth having. All three in standard deviations between people.
    r : float
        Correlation of the measure before and after.
    """
    spread = 1 / on_change_scale(1.0, r=r)
    return sized(
        "people who gain a worthwhile amount",
        effect.through(lambda d: 100 * ndtr((usual_gain + d - worthwhile) / spread)),
        "of 100",
        "100 × normal probability of (usual gain + effect − worthwhile) ÷ SD of gains",
        source,
    )


def people_for_one_more(effect: Spanned, *, share_anyway: float, source: str = "") -> Size:
    """How many must do it for one more to gain a worthwhile amount.

    1 / (Φ(d + Φ⁻¹(p)) − p), p being the share who gain it with the comparator [1]_.

    Parameters
    ----------
    effect : Spanned
        On the scale of gains: in standard deviations of gains.
    share_anyway : float
        Between 0 and 1.

    References
    ----------
    .. [1] Furukawa, T. A., & Leucht, S. (2011). How to obtain NNT from Cohen's d: comparison
           of two methods. PLoS ONE 6, e19070.
    """
    if not 0 < share_anyway < 1:
        raise DesignError(f"share_anyway must lie between 0 and 1; it is {share_anyway!r}")
    cut = float(ndtri(share_anyway))

    def people(d: float) -> float:
        more = float(ndtr(d + cut)) - share_anyway
        return float("inf") if more == 0 else 1 / more

    return sized(
        "people for one more",
        effect.through(people),
        "people",
        "1 ÷ (share with the intervention − share anyway)",
        source or "Furukawa & Leucht 2011",
    )


def people_for_one_better(effect: Spanned, *, source: str = "") -> Size:
    """How many must do it for one more win than loss: 1 / (2Φ(d/√2) − 1).

    References
    ----------
    .. [1] Kraemer, H. C., & Kupfer, D. J. (2006). Size of treatment effects and their
           importance to clinical research and practice. Biological Psychiatry 59, 990-996.
    """

    def people(d: float) -> float:
        return float("inf") if d == 0 else 1 / (2 * float(ndtr(d / sqrt(2))) - 1)

    return sized(
        "people for one more to do better than worse",
        effect.through(people),
        "people",
        "1 ÷ (2 × normal probability of effect ÷ √2 − 1)",
        source or "Kraemer & Kupfer 2006",
    )


def weeks_of_usual_training(effect: Spanned, *, gain_per_week: float, source: str) -> Size:
    """How many weeks of ordinary training give as much: effect ÷ usual gain per week.

    Holds within the weeks studied only: gains slow down.

    Parameters
    ----------
    effect : Spanned
    gain_per_week : float
        Above 0; in the unit of `effect` per week.
    """
    rate = _above_zero(gain_per_week, name="gain_per_week")
    return sized(
        "weeks of ordinary training",
        effect.through(lambda x: x / rate),
        "weeks",
        "effect ÷ usual gain per week",
        source,
    )


def with_risk(effect: Spanned, *, metric: str, baseline: float, source: str) -> Size:
    """Of 100 people, how many have the event with the intervention.

    Parameters
    ----------
    effect : Spanned
        The event's log risk ratio, log odds ratio or risk difference (a fraction), signed as
        the event runs: below 0 for fewer.
    metric : str
        ``risk-ratio``, ``odds-ratio`` or ``risk-difference``.
    baseline : float
        Share with the event without it, between 0 and 1.
    """
    if not 0 < baseline < 1:
        raise DesignError(f"baseline must be a share between 0 and 1; it is {baseline!r}")
    odds = baseline / (1 - baseline)
    ways = {
        "risk-ratio": (lambda x: min(baseline * np.exp(x), 1.0), "share without × risk ratio"),
        "odds-ratio": (
            lambda x: odds * np.exp(x) / (1 + odds * np.exp(x)),
            "odds without × odds ratio, as a share",
        ),
        "risk-difference": (
            lambda x: min(max(baseline + x, 0.0), 1.0),
            "share without + risk difference",
        ),
    }
    if metric not in ways:
        raise DesignError(f"metric must be one of {', '.join(ways)}; it is {metric!r}")
    function, words = ways[metric]
    return sized(
        "people with the event",
        effect.through(lambda x: 100 * function(x)),
        "of 100",
        words,
        source,
    )


def _above_zero(value: float, *, name: str) -> float:
    value = float(value)
    if not (isfinite(value) and value > 0):
        raise DesignError(f"{name} must be a number above 0; it is {value!r}")
    return value
