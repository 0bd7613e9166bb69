"""A weighing in a client's unit: the average, the next group, one person, and chances."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan, sqrt

import numpy as np
from scipy.special import ndtri

from steelyard.effects.magnitude import (
    ANY_FIELD,
    BETWEEN_PROGRAMMES,
    CORRELATION,
    CORRELATIONS,
    DIFFERENCE,
)
from steelyard.explaining import sizes
from steelyard.explaining.evidence import Evidence
from steelyard.explaining.sizes import Size, Spanned
from steelyard.explaining.usual_gain import (
    PrePostCorrelation,
    UsualGain,
    pre_post_correlation,
    usual_gain,
)
from steelyard.records.question import COUNT_METRICS

GAIN_METRICS = ("standardised", "raw", "percent")


@dataclass(frozen=True, slots=True)
class Missing:
    """Something that cannot be said: what, and why, as keys of the message catalogue."""

    what: str
    why: str


@dataclass(frozen=True, slots=True)
class Band:
    """Low and high of one of the three bands, in the unit; positive favours the intervention."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class ClientSizes:
    """Everything an explanation counts; positive favours the intervention throughout.

    Attributes
    ----------
    kind : str
        ``gain`` (more is better), ``lower`` (less is better), ``event`` (people counted, fewer
        is better), ``goal`` (people counted, more is better) or ``other`` (no unit of a
        client's).
    unit : str
    average : Size or None
        Difference in the unit; for counts, of 100 people with the intervention.
    without : float or None
        For counts: of 100 people with the comparator.
    percent : Size or None
        Of the start.
    next_group, one_person : Band or None
    zone : float or None
        Smallest worthwhile difference in the unit.
    baseline : float or None
    baseline_source : str
    own_baseline : bool
        Whether the start is the client's.
    in_sd : Spanned or None
        The standardised difference.
    chance, chance_at_end, overlap, reach, reach_anyway, people_for_one_more, weeks : Size or None
        `chance` is who gains more, on the scale of changes; `chance_at_end` who is ahead.
    word : str
        Threshold word with its table, of programmes or correlations; empty without a
        standardised difference or a correlation.
    word_any_field : str
        For a standardised difference, the word of a scale for any field; never a headline.
    r : PrePostCorrelation or None
    usual : UsualGain or None
    missing : tuple of Missing
    """

    kind: str
    unit: str = ""
    average: Size | None = None
    without: float | None = None
    percent: Size | None = None
    next_group: Band | None = None
    one_person: Band | None = None
    zone: float | None = None
    baseline: float | None = None
    baseline_source: str = ""
    own_baseline: bool = False
    in_sd: Spanned | None = None
    chance: Size | None = None
    chance_at_end: Size | None = None
    overlap: Size | None = None
    reach: Size | None = None
    reach_anyway: Size | None = None
    people_for_one_more: Size | None = None
    weeks: Size | None = None
    word: str = ""
    word_any_field: str = ""
    r: PrePostCorrelation | None = None
    usual: UsualGain | None = None
    missing: tuple[Missing, ...] = ()

    def sizes(self) -> tuple[Size, ...]:
        """Every size there is, for a table or a trace."""
        named = (
            *(self.average, self.percent, self.chance, self.chance_at_end, self.overlap),
            *(self.reach, self.reach_anyway, self.people_for_one_more, self.weeks),
        )
        return tuple(size for size in named if size is not None)


def client_sizes(evidence: Evidence, *, baseline: float | None = None) -> ClientSizes:
    """Turn a weighing into a client's unit, as far as the records allow.

    Parameters
    ----------
    evidence : Evidence
        With a weighing.
    baseline : float, optional
        Where the client starts, in the question's client unit; the question's own if none.
    """
    if evidence.question.metric in COUNT_METRICS:
        return _counted(evidence)
    if evidence.question.metric in GAIN_METRICS:
        return _gained(evidence, baseline)
    word = ""
    if evidence.question.metric == "correlation":
        weighing = evidence.weighing
        shown = float(weighing.scale.shown(weighing.estimate))
        word = CORRELATIONS.named(shown, of=CORRELATION)
    return ClientSizes("other", word=word, missing=(Missing("unit", evidence.question.metric),))


def _spanned(evidence: Evidence) -> Spanned:
    pooled = evidence.weighing.pooled
    return Spanned(pooled.estimate, pooled.low, pooled.high, pooled.level)


def _gained(evidence: Evidence, own_baseline: float | None) -> ClientSizes:
    question, weighing = evidence.question, evidence.weighing
    client, lower = question.client, evidence.lower_is_better
    missing: list[Missing] = []
    sd = None if client.reference_sd is None else float(client.reference_sd)
    given = None if client.baseline is None else float(client.baseline)
    baseline = own_baseline if own_baseline is not None else given
    unit = client.unit or ""
    to_unit = _way(question.metric, sd=sd, baseline=baseline, lower=lower)
    if question.metric == "raw":
        measured = weighing.scale.unit.strip()
        if unit and measured and unit != measured:
            missing.append(Missing("unit", "other-unit"))
            to_unit = None
        unit = unit or measured
    if not unit:
        missing.append(Missing("unit", "no-unit"))
        to_unit = None
    elif to_unit is None and not missing:
        missing.append(
            Missing("unit", "no-sd" if question.metric == "standardised" else "no-baseline")
        )
    effect, source = _spanned(evidence), _source(question)
    average = percent = next_group = one_person = zone = None
    if to_unit is not None:
        average = sizes.sized(
            "difference", effect.through(to_unit), unit, _formula(question), source
        )
        next_group = _band(weighing, to_unit)
        if weighing.worthwhile is not None:
            zone = abs(to_unit(weighing.worthwhile))
    if question.metric == "percent":
        percent = sizes.sized(
            "percent of the start",
            effect.through(lambda x: -100 * np.expm1(-x) if lower else 100 * np.expm1(x)),
            "%",
            "100 × (ratio − 1)",
            "the weighing",
        )
    elif average is not None and baseline is not None and baseline > 0:
        spanned = Spanned(average.value, average.low, average.high, average.level)
        percent = sizes.percent_of_start(
            spanned, baseline=baseline, source=client.baseline_source or "the client"
        )
    else:
        missing.append(Missing("percent", "no-baseline"))
    words = {
        "unit": unit,
        "average": average,
        "percent": percent,
        "zone": zone,
        "baseline": baseline,
        "baseline_source": client.baseline_source or "",
        "own_baseline": own_baseline is not None,
    }
    in_sd = _in_sd(question.metric, effect, average, sd)
    if in_sd is None:
        missing.append(Missing("chance", "no-sd"))
    else:
        words |= _chances(evidence, in_sd, to_unit=to_unit, sd=sd)
        if next_group is not None and sd is not None:
            one_person = _one_person(next_group, average, spread=sd, r=words["r"].value)
    if next_group is None and average is not None:
        missing.append(Missing("next_group", "few-studies"))
    return ClientSizes(
        "lower" if lower else "gain",
        next_group=next_group,
        one_person=one_person,
        in_sd=in_sd,
        missing=tuple(missing),
        **words,
    )


def way_to_unit(evidence: Evidence, sizes: ClientSizes):
    """From the scale of the weighing to the client's unit, of an answer with a size in it."""
    sd, metric = evidence.question.client.reference_sd, evidence.question.metric
    known = {"sd": None if sd is None else float(sd), "baseline": sizes.baseline}
    return _way(metric, lower=evidence.lower_is_better, **known)


def _way(metric: str, *, sd, baseline, lower: bool):
    if metric == "raw":
        return float
    if metric == "standardised":
        return None if sd is None else lambda d: d * sd
    if baseline is None:
        return None
    if lower:
        return lambda x: -baseline * float(np.expm1(-x))
    return lambda x: baseline * float(np.expm1(x))


def _formula(question) -> str:
    return {
        "raw": "as pooled",
        "standardised": "effect in SD × reference SD",
        "percent": "start × (ratio − 1)",
    }[question.metric]


def _source(question) -> str:
    client = question.client
    if question.metric == "standardised":
        return client.reference_sd_source or "no source is given for the reference SD"
    if question.metric == "percent":
        return client.baseline_source or "no source is given for the start"
    return "the weighing"


def _in_sd(metric: str, effect: Spanned, average: Size | None, sd: float | None) -> Spanned | None:
    if metric == "standardised":
        return effect
    if average is None or sd is None:
        return None
    return Spanned(average.value / sd, average.low / sd, average.high / sd, average.level)


def _band(weighing, to_unit) -> Band | None:
    low, high = weighing.pooled.prediction_low, weighing.pooled.prediction_high
    if isnan(low) or isnan(high):
        return None
    return Band(*sorted((float(to_unit(low)), float(to_unit(high)))))


def _one_person(group: Band, average: Size, *, spread: float, r: float) -> Band:
    """The next group's band widened by the spread of gains between people.

    Gains of people on one programme have SD reference SD × √(2(1 − r)), error of measurement
    included. Each side: sqrt(side² + (z × SD of gains)²).
    """
    reach = float(ndtri((1 + average.level) / 2)) * spread * sqrt(2 * (1 - r))
    below, above = average.value - group.low, group.high - average.value
    return Band(
        average.value - float(np.hypot(below, reach)), average.value + float(np.hypot(above, reach))
    )


def _chances(evidence: Evidence, in_sd: Spanned, *, to_unit, sd: float | None) -> dict:
    r, usual = pre_post_correlation(evidence), usual_gain(evidence)
    found = {
        "r": r,
        "usual": usual,
        "chance": sizes.chance_of_superiority(
            in_sd, r=r.value, source=f"McGraw & Wong 1992; r: {r.source}"
        ),
        "chance_at_end": sizes.chance_of_superiority(in_sd),
        "overlap": sizes.overlap(in_sd),
        "word": BETWEEN_PROGRAMMES.named(in_sd.value, of=DIFFERENCE),
        "word_any_field": ANY_FIELD.named(in_sd.value, of=DIFFERENCE),
    }
    worthwhile = evidence.weighing.worthwhile
    if usual is None or evidence.question.dose is not None or worthwhile is None:
        return found
    least = worthwhile
    if evidence.question.metric != "standardised":
        if to_unit is None or sd is None:
            return found
        least = abs(to_unit(worthwhile)) / sd
    same = {"usual_gain": usual.in_sd, "worthwhile": least, "r": r.value, "source": usual.source}
    flat = Spanned(0.0, 0.0, 0.0, in_sd.level)
    anyway = sizes.reaching(flat, **same)
    found |= {"reach": sizes.reaching(in_sd, **same), "reach_anyway": anyway}
    if 0 < anyway.value < 100:
        gains = in_sd.through(lambda d: sizes.on_change_scale(d, r=r.value))
        found["people_for_one_more"] = sizes.people_for_one_more(
            gains, share_anyway=anyway.value / 100
        )
    if usual.in_sd > 0 and usual.weeks > 0:
        found["weeks"] = sizes.weeks_of_usual_training(
            in_sd, gain_per_week=usual.in_sd / usual.weeks, source=usual.source
        )
    return found


def _counted(evidence: Evidence) -> ClientSizes:
    question, lower = evidence.question, evidence.lower_is_better
    kind = "event" if lower else "goal"
    given = question.client.baseline
    if given is None or not 0 < given < 1:
        return ClientSizes(kind, missing=(Missing("unit", "no-risk"),))
    baseline, metric = float(given), question.metric
    source = question.client.baseline_source or "no source is given"
    turn = -1.0 if lower else 1.0

    def of_100(spanned: Spanned) -> Size:
        turned = spanned.through(lambda x: turn * x)
        return sizes.with_risk(turned, metric=metric, baseline=baseline, source=source)

    average = of_100(_spanned(evidence))
    pooled, next_group = evidence.weighing.pooled, None
    if not isnan(pooled.prediction_low):
        ends = of_100(Spanned(pooled.estimate, pooled.prediction_low, pooled.prediction_high))
        next_group = Band(ends.low, ends.high)
    zone = evidence.weighing.worthwhile
    if zone is not None:
        with_least = of_100(Spanned(zone, zone, zone)).value
        zone = abs(100 * baseline - with_least)
    return ClientSizes(
        kind,
        unit="of 100",
        average=average,
        without=100 * baseline,
        next_group=next_group,
        zone=zone,
        baseline=100 * baseline,
        baseline_source=source,
        missing=() if next_group is not None else (Missing("next_group", "few-studies"),),
    )
