"""What each picture shows, in the units a person reads: charts do no arithmetic.

Every table is a DataFrame in drawing order; every value is in display units (a ratio as a ratio,
a percent as a percent); NaN is what is not known; words are ready to be read.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from steelyard.pooling.lay_pictures import (
    HillsData,
    HundredData,
    PlainForestData,
    StripData,
)
from steelyard.pooling.line_pictures import BendingData, GatheringData, PriorsData
from steelyard.pooling.picture_parts import EffectAxis, Worded

__all__ = [
    "BeliefData",
    "BendingData",
    "Chances",
    "Choice",
    "ChoicesData",
    "ConcernData",
    "DoseData",
    "DoseForm",
    "EffectAxis",
    "FunnelData",
    "GatheringData",
    "HillsData",
    "HistoryData",
    "HundredData",
    "OverviewData",
    "PlainForestData",
    "PriorsData",
    "StripData",
    "TurnsData",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class FunnelData(Worded):
    """Whether small studies tell another story than large ones.

    Attributes
    ----------
    studies : DataFrame
        ``study, label, estimate, standard_error`` (on the scale the pooling used), ``weight``
        (percent), ``flags`` (words separated by ``"; "``), ``pooled`` (bool).
    filled : DataFrame
        ``estimate, standard_error`` of the studies that trim and fill adds; may be empty.
    contours : DataFrame
        From standard error 0 up, two rows or more: ``standard_error, low_90, high_90, low_95,
        high_95, low_99, high_99``: within these bounds of no effect, p is above 0.10, 0.05, 0.01.
    funnel : DataFrame
        ``standard_error, low, high``: where 95 % of studies would lie around the pooled estimate
        if chance alone scattered them; may be empty.
    estimate, estimate_filled : float
        Pooled; and pooled with the filled-in studies, NaN if not done.
    error_title : str
        What the standard error is in, in words.
    """

    axis: EffectAxis
    studies: pd.DataFrame
    filled: pd.DataFrame
    contours: pd.DataFrame
    funnel: pd.DataFrame
    estimate: float
    estimate_filled: float = float("nan")
    error_title: str = "standard error"


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseForm:
    """One form of the dose–response curve.

    Attributes
    ----------
    name, words : str
        ``"linear"``, ``"log"``, ``"spline"``; and a few words, e.g. ``"levels off"``.
    curve : DataFrame
        ``dose, estimate, low, high``, from the least dose drawn to the largest.
    """

    name: str
    words: str
    curve: pd.DataFrame


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseData(Worded):
    """How the effect grows with the dose.

    Attributes
    ----------
    points : DataFrame
        ``study, label, dose, estimate, low, high, weight`` (percent), ``flags``; the points of
        one study are joined.
    forms : tuple of DoseForm
    form : str
        Name of the form the answer rests on.
    evidence_low, evidence_high : float
        Doses between which there are data.
    dose_title : str
        E.g. ``"weekly sets"``.
    level : float
        Of the bands.
    """

    axis: EffectAxis
    points: pd.DataFrame
    forms: tuple[DoseForm, ...]
    form: str
    evidence_low: float
    evidence_high: float
    dose_title: str
    level: float = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One thing that could be chosen otherwise.

    Attributes
    ----------
    column : str
        Column of `ChoicesData.ways` that holds the option taken.
    words : str
        What is chosen, e.g. ``"correlation before–after"``.
    options : tuple of str
        In drawing order; the column holds these very texts.
    """

    column: str
    words: str
    options: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoicesData(Worded):
    """The answer under every defensible way to weigh, from the smallest to the largest.

    Attributes
    ----------
    ways : DataFrame, a row per way, sorted by estimate
        ``estimate, low, high`` and a column per choice; up to some thousands of rows.
    choices : tuple of Choice
    shipped : int
        Position in `ways` of the way that is used.
    level : float
        Of the intervals.
    """

    axis: EffectAxis
    ways: pd.DataFrame
    choices: tuple[Choice, ...]
    shipped: int
    level: float = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnsData(Worded):
    """What the answer turns on: the answer without each study, most telling first.

    Attributes
    ----------
    without : DataFrame
        ``study, label, estimate, low, high`` (the answer without it), ``turns`` (what changes,
        in words; empty if nothing a reader would act on), ``flags``.
    estimate, low, high : float
        The answer with all.
    level : float
    """

    axis: EffectAxis
    without: pd.DataFrame
    estimate: float
    low: float
    high: float
    level: float = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryData(Worded):
    """How the answer moved as studies came in.

    Attributes
    ----------
    years : DataFrame
        ``year`` (int), ``estimate, low, high`` (of all studies to the end of that year),
        ``studies`` (how many so far), ``added`` (short names, in words), ``certainty`` (a word,
        or empty).
    told : DataFrame
        ``year`` (float; mid-year is .5), ``estimate, words`` (e.g. ``"told: about +0.3"``); may
        be empty.
    level : float
    """

    axis: EffectAxis
    years: pd.DataFrame
    told: pd.DataFrame
    level: float = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """Chances of lying below, within and above the zone, in words (``"2 in 100"``)."""

    below: str
    within: str
    above: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BeliefData(Worded):
    """What to believe after the evidence, about the average and about the next study.

    Attributes
    ----------
    curves : DataFrame
        ``value, average, following``: densities of the average effect and of the next study's,
        in any one unit.
    average, following : Chances
    average_interval, following_interval : tuple of float
        Credible intervals.
    priors : DataFrame
        ``words`` (what was believed before), ``estimate, low, high, above`` (the chance to lie
        above the zone, in words), ``used`` (bool); may be empty.
    level : float
    """

    axis: EffectAxis
    curves: pd.DataFrame
    average: Chances
    following: Chances
    average_interval: tuple[float, float]
    following_interval: tuple[float, float]
    priors: pd.DataFrame
    level: float = 0.95


CERTAINTY_WORDS = ("very low", "low", "moderate", "high")


@dataclass(frozen=True, slots=True, kw_only=True)
class OverviewData(Worded):
    """All recommendations at a glance.

    Attributes
    ----------
    recommendations : DataFrame
        ``recommendation`` (id), ``statement`` (short), ``about`` (for which outcome, in words),
        ``estimate, low, high, prediction_low, prediction_high`` (in multiples of the smallest
        effect worth having, better to the right), ``certainty`` (of `CERTAINTY_WORDS`),
        ``verdict`` (in brief; ``"not settled"`` is drawn hollow),
        ``reviewed`` (e.g. ``"March 2024"``), ``changed`` (what moved since told, in words, or
        empty).
    level : float
    """

    recommendations: pd.DataFrame
    level: float = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class ConcernData(Worded):
    """How much of the weight rests on studies with concerns, per domain.

    Attributes
    ----------
    domains : DataFrame
        ``domain`` (in words), ``low, some, high`` (percent of the weight; together 100).
    """

    domains: pd.DataFrame


@dataclass(frozen=True, slots=True, kw_only=True)
class NearnessData(Worded):
    """How much of the weight comes from people, doses and measures like those asked about.

    Attributes
    ----------
    respects : DataFrame
        ``respect``, ``asked`` (in words), ``near`` (percent of the weight that matches).
    """

    respects: pd.DataFrame


@dataclass(frozen=True, slots=True, kw_only=True)
class TestedDoseData(Worded):
    """A recommended dose beside what the studies tested, part by part.

    Attributes
    ----------
    parts : DataFrame
        ``part``, ``low, high`` (recommended), ``tested_low, tested_high`` (NaN where no study
        says), ``recommended, tested, mark`` (in words). Each part is in a unit of its own.
    """

    __test__ = False  # a test runner would take it for tests by its name

    parts: pd.DataFrame
