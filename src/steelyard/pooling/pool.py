"""Pool the effects of one analysis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.errors import DesignError
from steelyard.pooling.between_study_variance import METHODS
from steelyard.pooling.checking import (
    choice,
    level_between_zero_and_one,
    numbers,
    present_effects,
)
from steelyard.pooling.pool_many import INTERVALS, pool_checked
from steelyard.show import Shown, count, number, p_text
from steelyard.show import interval as shown_interval

BETWEEN_IN_WORDS = {
    "reml": "random effects, REML",
    "dl": "random effects, DerSimonian–Laird",
    "pm": "random effects, Paule–Mandel",
    "ml": "random effects, maximum likelihood",
    "common": "one common effect",
}
INTERVAL_IN_WORDS = {
    "knapp-hartung": "Knapp–Hartung interval",
    "normal": "normal interval",
    "cluster-robust": "cluster-robust interval (CR2, Satterthwaite)",
    "cluster-robust-cr1": "cluster-robust interval (CR1, t on studies less one)",
}


@dataclass(frozen=True, slots=True, eq=False)
class PoolResult(Shown):
    """A pooled effect with everything that qualifies it.

    Attributes
    ----------
    estimate, standard_error, df : float
        ``estimate ± t(df) * standard_error`` is the interval; infinite `df` is the normal one.
    level : float
        Of all intervals.
    low, high : float
        Interval for the mean of true effects.
    prediction_low, prediction_high : float
        Interval for the true effect of a further study; NaN with fewer than three studies and
        with ``between="common"``.
    tau2, tau2_low, tau2_high : float
        Between-study variance (squared unit of the effect) and its Q-profile interval.
    i2 : float
        ``max(0, (Q - df) / Q)``, a fraction from 0 to 1.
    q, q_df, q_p : float, int, float
        Cochran's Q, its degrees of freedom and p.
    k : int
        Effects pooled.
    weights : ndarray, shape of the effects given
        Fractions that sum to 1; 0 for an effect left out.
    between, interval : str
        Estimator of the between-study variance, and interval used for the mean.
    notes : tuple of str
        What could not be estimated, and what was used instead.
    """

    estimate: float
    standard_error: float
    df: float
    level: float
    low: float
    high: float
    prediction_low: float
    prediction_high: float
    tau2: float
    tau2_low: float
    tau2_high: float
    i2: float
    q: float
    q_df: int
    q_p: float
    k: int
    weights: np.ndarray
    between: str
    interval: str
    notes: tuple[str, ...]

    def _title(self) -> str:
        return f"Pool of {count(self.k, 'effect')}"

    def _rows(self) -> list[tuple[str, str]]:
        percent = f"{100 * self.level:g} %"
        between_sd = number(self.tau2**0.5, decimals=3)
        if self.tau2_high == self.tau2_high:
            low, high = self.tau2_low**0.5, self.tau2_high**0.5
            bounds = shown_interval(low, high, decimals=3, sign=False)
            between_sd += f", {percent} interval {bounds}"
        rows = [
            (
                "estimate",
                f"{number(self.estimate, decimals=3, sign=True)}, {percent} interval "
                f"{shown_interval(self.low, self.high, decimals=3)}",
            ),
            (
                "next study",
                "no prediction interval"
                if self.prediction_low != self.prediction_low
                else shown_interval(self.prediction_low, self.prediction_high, decimals=3),
            ),
            ("between studies", f"SD {between_sd}"),
            (
                "scatter",
                f"Q {number(self.q)} on {self.q_df} df, {p_text(self.q_p)}; "
                f"I² {number(100 * self.i2, decimals=0)} %",
            ),
            (
                "method",
                f"{BETWEEN_IN_WORDS[self.between]}; {INTERVAL_IN_WORDS[self.interval]}",
            ),
        ]
        return rows + [("note", note) for note in self.notes]


def pool(
    effect,
    variance,
    *,
    between: str = "reml",
    interval: str = "knapp-hartung",
    level: float = 0.95,
    allow_narrower: bool = False,
) -> PoolResult:
    """Pool the effects of one analysis.

    Parameters
    ----------
    effect : array_like of float, shape (k,)
        Effects; NaN is absent and left out with a note. Any unit, logarithms for ratios.
    variance : array_like of float, shape (k,)
        Sampling variances; finite and above 0 for every effect present. Squared unit.
    between : str
        Between-study variance: ``reml``, ``dl``, ``pm``, ``ml``, or ``common`` (none).
    interval : str
        ``knapp-hartung`` or ``normal``.
    level : float
        Of all intervals; between 0 and 1.
    allow_narrower : bool
        Let the Knapp-Hartung interval be narrower than the common-effect one.

    Returns
    -------
    PoolResult

    Raises
    ------
    DesignError
        Without any effect, for an unknown option, an infinite effect, or a variance that is
        not above zero, with its place and value.

    Notes
    -----
    Formulas and references are those of `pool_many`, which does the work. One study is given
    its own normal interval, ``tau2 = 0`` and no interval for it. The common-effect model
    (``between="common"``) takes the normal interval, since Knapp and Hartung's allows for an
    estimated between-study variance, of which it has none.
    """
    between = choice(between, name="between", among=METHODS)
    interval = choice(interval, name="interval", among=INTERVALS)
    level = level_between_zero_and_one(level)
    effect = numbers(effect, name="effect", ndim=1)
    variance = numbers(variance, name="variance", ndim=1)
    present = present_effects(effect, variance)
    if not present.any():
        raise DesignError(
            f"effect must have at least one value to pool; {effect.size} given, none present"
        )
    pooled = pool_checked(
        effect[None],
        variance[None],
        present[None],
        between=between,
        interval=interval,
        level=level,
        allow_narrower=allow_narrower,
    )
    single = {
        name: float(getattr(pooled, name)[0])
        for name in (
            "estimate standard_error df low high prediction_low prediction_high tau2 tau2_low "
            "tau2_high i2 q q_p"
        ).split()
    }
    return PoolResult(
        **single,
        level=level,
        q_df=int(pooled.q_df[0]),
        k=int(pooled.k[0]),
        weights=pooled.weights[0],
        between=between,
        interval=str(pooled.interval[0]),
        notes=_notes(pooled, present, asked=interval),
    )


def _notes(pooled, present: np.ndarray, *, asked: str) -> tuple[str, ...]:
    notes = []
    absent = np.flatnonzero(~present)
    k = int(pooled.k[0])
    if absent.size:
        places = ", ".join(str(int(place)) for place in absent)
        notes.append(
            f"{count(absent.size, 'effect')} of {present.size} absent and left out (index {places})"
        )
    if pooled.between == "common":
        if asked != "normal" and k > 1:
            notes.append("one common effect is assumed, so its normal interval is given")
        notes.append("one common effect is assumed: no prediction interval")
    elif k == 1:
        notes.append(
            "one study: no between-study variance can be estimated; the interval is the "
            "study's own normal interval"
        )
    elif k == 2:
        notes.append("two studies: no prediction interval can be formed")
    if pooled.floored[0]:
        notes.append(
            "the Knapp–Hartung interval was narrower than the common-effect interval, so the "
            "width of the common-effect interval is given"
        )
    if k > 1 and pooled.tau2_high[0] == 0:
        notes.append(
            "the effects agree more closely than their variances allow for: the interval for "
            "the between-study variance is zero alone"
        )
    return tuple(notes)
