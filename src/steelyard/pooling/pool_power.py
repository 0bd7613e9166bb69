"""How many more people or studies would settle the question."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.errors import DesignError
from steelyard.pooling.checking import numbers, present_effects
from steelyard.pooling.checking_settings import above_zero, strictly_between
from steelyard.pooling.detectable import (
    EQUIVALENCE_LEVEL,
    chance_beyond,
    chance_inside,
    critical,
)
from steelyard.pooling.pool import pool
from steelyard.pooling.verdict import BETTER, EQUIVALENT, NOT_SETTLED, WORSE, verdict
from steelyard.show import Shown, about, count, number

MOST_STUDIES = 1_000_000


@dataclass(frozen=True, slots=True)
class MoreToSettle(Shown):
    """What it would take to settle a question.

    Attributes
    ----------
    now : str
        The verdict as things stand.
    towards : str
        The verdict to which the present estimate leads: ``better``, ``worse`` or
        ``equivalent``; empty where it lies on the border.
    studies : int or None
        Further studies of the usual size; 0 if settled, None where a million would not do.
    people : int or None
        People in them; None where sizes are not given or `studies` is None.
    one_study_variance : float
        Sampling variance that a single further study would need; infinite where any would do,
        NaN where none, however large, could.
    one_study_people : int or None
        People in that study.
    standard_error_now, standard_error_needed : float
        Of the pooled effect by the model; the latter at the number of `studies`.
    usual_variance, tau2 : float
        Median sampling variance, and present between-study variance.
    power : float or None
    notes : tuple of str
    """

    now: str
    towards: str
    studies: int | None
    people: int | None
    one_study_variance: float
    one_study_people: int | None
    standard_error_now: float
    standard_error_needed: float
    usual_variance: float
    tau2: float
    power: float | None
    notes: tuple[str, ...]

    def _title(self) -> str:
        return "What would settle it"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [("now", self.now)]
        if self.now == NOT_SETTLED:
            rows.append(("leads to", self.towards or "the border between two answers"))
            if self.studies is None:
                rows.append(("studies", "no number of further studies"))
            else:
                people = "" if self.people is None else f", about {about(self.people)} people"
                rows.append(
                    ("studies", f"{count(self.studies, 'more study', 'more studies')}{people}")
                )
            if self.one_study_people is not None:
                rows.append(("or one study", f"of about {about(self.one_study_people)} people"))
            elif np.isfinite(self.one_study_variance):
                error = number(self.one_study_variance**0.5, decimals=3)
                rows.append(("or one study", f"with a standard error of {error}"))
        return rows + [("note", note) for note in self.notes]


def more_to_settle(
    effect,
    variance,
    *,
    worthwhile,
    people=None,
    power: float | None = None,
    between: str = "reml",
    interval: str = "knapp-hartung",
    level: float = 0.95,
) -> MoreToSettle:
    """Studies of the usual size that would carry the interval clear of the worthwhile bounds.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        As in `pool`.
    worthwhile : float
        Smallest worthwhile effect, above 0; same unit.
    people : array_like of float, shape (k,), optional
        People in each study, above 0.
    power : float, optional
        Without it, the interval is only asked to be narrow enough were the estimate to stay
        where it is, which about half of all such futures would meet where the estimate leads
        to better or worse. With it, the chance that a pool of that size settles it if the
        truth is the present estimate, all studies drawn afresh; from 0.5 to below 1.
    between, interval, level
        As in `pool`.

    Returns
    -------
    MoreToSettle

    Raises
    ------
    DesignError
        For a number outside its range, and as in `pool`.

    Notes
    -----
    m further studies with the median variance v add ``m/(v + tau2)`` to ``sum(w)``; the
    interval's half-width is then ``t(k + m - 1)/sqrt(sum(w))`` (or z), which must not exceed
    ``|estimate| - worthwhile``, or, for an estimate inside the bounds, at 90 %, stay below
    ``worthwhile - |estimate|``. A single study can add no more than ``1/tau2``, however
    large.
    """
    worthwhile = above_zero(worthwhile, name="worthwhile")
    if power is not None and power != 0.5:
        power = strictly_between(power, name="power", low=0.5, high=1)
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    present = present_effects(y, v)
    options = {"between": between, "interval": interval}
    pooled = pool(y, v, level=level, **options)
    inner = pool(y, v, level=EQUIVALENCE_LEVEL, **options)
    now = verdict(
        low=pooled.low,
        high=pooled.high,
        low_90=inner.low,
        high_90=inner.high,
        worthwhile=worthwhile,
    ).word
    size = abs(pooled.estimate)
    towards = _towards(pooled.estimate, worthwhile)
    precision = float((1 / (v[present] + pooled.tau2)).sum())
    usual = float(np.median(v[present]))
    adjusted = interval == "knapp-hartung" and between != "common"
    inside = towards == EQUIVALENT

    def enough(error: float, m: int) -> bool:
        df = pooled.k + m - 1.0 if adjusted and pooled.k + m > 1 else np.inf
        multiplier = critical(df, EQUIVALENCE_LEVEL if inside else pooled.level)
        if power is None:
            return multiplier * error <= abs(size - worthwhile)
        if inside:
            ends = (worthwhile + size) / error, (worthwhile - size) / error
            return chance_inside(*ends, multiplier=multiplier, df=df) >= power
        away = (size - worthwhile) / error
        return chance_beyond(away, multiplier=multiplier, df=df) >= power

    def error_after(m: int) -> float:
        return float(1 / np.sqrt(precision + m / (usual + pooled.tau2)))

    studies, single = 0, np.nan
    if now == NOT_SETTLED:
        studies = _fewest(lambda m: enough(error_after(m), m)) if towards else None
        single = _one_study(lambda e: enough(e, 1), precision, pooled.tau2) if towards else np.nan
    sizes = _sizes(people, present)
    return MoreToSettle(
        now=now,
        towards=towards,
        studies=studies,
        people=None
        if sizes is None or studies is None
        else round(studies * float(np.median(sizes))),
        one_study_variance=single,
        one_study_people=None
        if sizes is None or not np.isfinite(single)
        else int(np.ceil(np.median(sizes * v[present]) / single)),
        standard_error_now=error_after(0),
        standard_error_needed=np.nan if studies is None else error_after(studies),
        usual_variance=usual,
        tau2=pooled.tau2,
        power=power,
        notes=_notes(now, towards, studies, single, power),
    )


def _towards(estimate: float, worthwhile: float) -> str:
    if abs(abs(estimate) - worthwhile) <= 1e-12 * worthwhile:
        return ""
    if abs(estimate) < worthwhile:
        return EQUIVALENT
    return BETTER if estimate > 0 else WORSE


def _fewest(enough) -> int | None:
    """Smallest number from 1 that is enough, given that all larger ones are."""
    low, high = 0, 1
    while not enough(high):
        if high >= MOST_STUDIES:
            return None
        low, high = high, min(2 * high, MOST_STUDIES)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _one_study(enough, precision: float, tau2: float) -> float:
    """Largest sampling variance with which one further study is enough."""
    if enough(1 / np.sqrt(precision)):
        return np.inf
    low, high = 0.0, 1 / np.sqrt(precision)
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if enough(middle) else (low, middle)
    if low == 0:
        return np.nan
    variance = 1 / (1 / low**2 - precision) - tau2
    return float(variance) if variance > 0 else np.nan


def _sizes(people, present: np.ndarray):
    if people is None:
        return None
    sizes = numbers(people, name="people", ndim=1)
    if sizes.shape != present.shape:
        raise DesignError(f"people must have shape {present.shape}; it has {sizes.shape}")
    sizes = sizes[present]
    if not ((sizes > 0) & np.isfinite(sizes)).all():
        raise DesignError(f"every number of people must be above 0; they are {sizes.tolist()}")
    return sizes


def _notes(now, towards, studies, single, power) -> tuple[str, ...]:
    if now != NOT_SETTLED:
        return (f"the interval already says {now!r}: it takes no further studies like these",)
    if not towards:
        return (
            "the estimate lies on the border of what is worth having: more of the same "
            "cannot say on which side the truth is",
        )
    notes = ["supposes that further studies are like those there are, and of the median variance"]
    if power is None and towards != EQUIVALENT:
        notes.append(
            "supposes that the estimate stays where it is: as likely as not it will take more"
        )
    if power is None and towards == EQUIVALENT:
        notes.append("supposes that the estimate stays where it is; it may take more")
    if studies is None:
        notes.append(f"not even {MOST_STUDIES:,} further studies would settle it")
    if np.isnan(single):
        notes.append(
            "no single further study could settle it, however large: studies differ too much "
            "among themselves"
        )
    return tuple(notes)
