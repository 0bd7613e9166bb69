"""Pool effects that are nested in studies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.errors import DesignError
from steelyard.pooling.checking import (
    choice,
    level_between_zero_and_one,
    numbers,
    present_effects,
)
from steelyard.pooling.covariance_blocks import (
    as_covariance,
    stacked_covariance,
    variances_of,
)
from steelyard.pooling.nested_fit import turned_blocks
from steelyard.pooling.nested_profile import profile_interval
from steelyard.pooling.pool_nested_many import METHODS, pool_stacks
from steelyard.pooling.robust_variance import CORRECTIONS
from steelyard.pooling.study_layout import studies_in_order, study_layout
from steelyard.show import Shown, count, number
from steelyard.show import interval as shown_interval


@dataclass(frozen=True, slots=True, eq=False)
class NestedPoolResult(Shown):
    """A pooled effect over studies that gave several effects each.

    Attributes
    ----------
    estimate, standard_error, df : float
        ``estimate ± t(df) * standard_error`` is the interval; infinite `df` is the normal one.
    level : float
        Of all intervals.
    low, high : float
        Interval for the mean of true effects.
    prediction_low, prediction_high : float
        Interval for one true effect in a further study; NaN with fewer than three studies.
    variance_between_studies, variance_within_studies : float
        Of study means about the overall mean, and of effects about their study's mean.
    tau2 : float
        The sum of these two.
    tau2_low, tau2_high : float
        Profile-likelihood interval for the sum; NaN with one study.
    i2 : float
        ``max(0, (Q - df) / Q)``, a fraction from 0 to 1.
    q, q_df, q_p : float, int, float
        Q about the common-effect mean under the sampling covariance, k - 1, and its p.
    k, studies : int
        Effects and studies pooled.
    weights : ndarray, shape of the effects given
        Sum to 1; 0 for an effect left out. One that repeats another closely can be negative.
    between, interval : str
        Estimation method (``reml`` or ``ml``); ``cluster-robust`` (CR2), ``cluster-robust-cr1``
        or ``normal``.
    log_likelihood : float
        At the estimates, for comparing models of the same effects.
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
    variance_between_studies: float
    variance_within_studies: float
    tau2: float
    tau2_low: float
    tau2_high: float
    i2: float
    q: float
    q_df: int
    q_p: float
    k: int
    studies: int
    weights: np.ndarray
    between: str
    interval: str
    log_likelihood: float
    notes: tuple[str, ...]

    def _title(self) -> str:
        return f"Pool of {count(self.k, 'effect')} in {count(self.studies, 'study', 'studies')}"

    def _rows(self) -> list[tuple[str, str]]:
        robust = self.interval != "normal"
        rows = [
            (
                "estimate",
                f"{number(self.estimate, decimals=3, sign=True)}, {100 * self.level:g} % interval "
                f"{shown_interval(self.low, self.high, decimals=3)}",
            ),
            (
                "next study",
                "no prediction interval"
                if self.prediction_low != self.prediction_low
                else shown_interval(self.prediction_low, self.prediction_high, decimals=3),
            ),
            (
                "between studies",
                f"SD {number(self.variance_between_studies**0.5, decimals=3)}; within studies "
                f"SD {number(self.variance_within_studies**0.5, decimals=3)}{self._together()}",
            ),
            ("scatter", f"Q {number(self.q)} on {self.q_df} df"),
            (
                "method",
                f"effects within studies, {self.between.upper()}; "
                + (f"study as cluster, {number(self.df, decimals=1)} df" if robust else "normal"),
            ),
        ]
        return rows + [("note", note) for note in self.notes]

    def _together(self) -> str:
        if self.tau2_high != self.tau2_high:
            return ""
        ends = (self.tau2_low**0.5, self.tau2_high**0.5)
        span = shown_interval(*ends, decimals=3, sign=False)
        return f"; both together SD {number(self.tau2**0.5, decimals=3)} ({span})"


def pool_nested(
    effect,
    covariance,
    *,
    study,
    method: str = "reml",
    robust: bool = True,
    correction: str = "CR2",
    level: float = 0.95,
) -> NestedPoolResult:
    """Pool effects of which several come from one study.

    Parameters
    ----------
    effect : array_like of float, shape (k,)
        Effects; NaN is absent and left out with a note.
    covariance : array_like of float, shape (k,) or (k, k), or CovarianceBlocks
        Sampling variances, or the sampling covariance with zeros between studies, whole or as
        its blocks. Positive definite within each study.
    study : sequence, length k
        Which study each effect is from; any labels.
    method : str
        ``reml`` or ``ml``.
    robust : bool
        Give the cluster-robust standard error (study as cluster) with t; otherwise the model's
        standard error with the normal interval.
    correction : {"CR2", "CR1"}
        Of the cluster-robust standard error: CR2 with Satterthwaite degrees of freedom, or the
        simple one on studies less one, which does not see that one study outweighs all others.
    level : float
        Of all intervals; between 0 and 1.

    Returns
    -------
    NestedPoolResult

    Raises
    ------
    DesignError
        Without any effect, for an unknown method or correction, impossible variances, covariance
        between studies, or labels that do not match the effects.

    Notes
    -----
    The model is ``y = mean + study + effect + error`` with normal deviations; `study` and
    `effect` have the two variances estimated, `error` the covariance given. Everything is
    worked out study by study, so that time and memory grow in proportion to the studies.

    One arm against two halves of a comparator, given as two effects with their covariance, weighs
    as it does against the whole where the variance within studies comes out as 0; where it does
    not, the model takes the halves for two things compared and the answer moves. `weigh` makes
    them one effect beforehand.

    As in `pool`, the interval is never narrower than the normal common-effect interval, and the
    prediction interval is ``estimate ± t sqrt(tau2 + SE**2)`` with the model's standard error
    and t on ``studies - 2`` degrees of freedom.
    """
    method = choice(method, name="method", among=METHODS)
    correction = choice(correction, name="correction", among=CORRECTIONS)
    level = level_between_zero_and_one(level)
    effect = numbers(effect, name="effect", ndim=1)
    given = as_covariance(covariance, size=effect.size)
    present = present_effects(effect, variances_of(given), names=("effect", "covariance"))
    if not present.any():
        raise DesignError(
            f"effect must have at least one value to pool; {effect.size} given, none present"
        )
    layout = study_layout(studies_in_order(study, present))
    y = effect[layout.order][None]
    everything = np.ones(y.shape, dtype=bool)
    stacks = [blocks[None] for blocks in stacked_covariance(given, layout)]
    independent = isinstance(given, np.ndarray) and given.ndim == 1
    found = pool_stacks(
        y,
        everything,
        stacks,
        layout,
        independent=independent,
        method=method,
        robust=robust,
        level=level,
        correction=correction,
    )
    weights = np.zeros(effect.size)
    weights[layout.order] = found.pop("weights")[0]
    one = {name: values[0].item() for name, values in found.items()}
    clustered, floored, outweighed = (one.pop(n) for n in ("robust", "floored", "outweighed"))
    scatter = profile_interval(
        turned_blocks(y, everything, stacks, layout, independent=independent),
        between=one["variance_between_studies"],
        within=one["variance_within_studies"],
        restricted=method == "reml",
        level=level,
    )
    notes = _notes(present, k=one["k"], studies=one["studies"], robust=robust)
    if outweighed:
        notes.append(
            "one study outweighs all others: a cluster-robust interval cannot be formed, and "
            "the model's normal interval is given"
        )
    elif floored:
        notes.append(
            "the cluster-robust interval was narrower than the common-effect interval, so "
            "the width of the common-effect interval is given"
        )
    elif clustered and one["df"] < 4:
        notes.append(
            f"{number(one['df'], decimals=1)} degrees of freedom: with fewer than 4 a "
            "cluster-robust interval is not to be relied on (Tipton 2015)"
        )
    return NestedPoolResult(
        **one,
        level=level,
        tau2_low=scatter.low,
        tau2_high=scatter.high,
        weights=weights,
        between=method,
        interval=_interval(correction) if clustered else "normal",
        notes=tuple(notes),
    )


def _interval(correction: str) -> str:
    return "cluster-robust" if correction == "CR2" else "cluster-robust-cr1"


def _notes(present: np.ndarray, *, k: int, studies: int, robust: bool) -> list[str]:
    notes = []
    absent = np.flatnonzero(~present)
    if absent.size:
        places = ", ".join(str(int(place)) for place in absent)
        notes.append(
            f"{count(absent.size, 'effect')} of {present.size} absent and left out (index {places})"
        )
    if studies == 1:
        notes.append(
            "one study: no variance between studies can be estimated"
            + ("; the model's normal interval is given" if robust else "")
        )
    elif k == studies:
        notes.append(
            "every study has one effect: variance within studies cannot be told from variance "
            "between them and is taken as zero"
        )
    if studies == 2:
        notes.append("two studies: no prediction interval can be formed")
    return notes
