"""How the pool would read if studies without a significant result were harder to find."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc, chdtri

from steelyard.errors import DesignError
from steelyard.pooling.checking import (
    choice,
    level_between_zero_and_one,
    numbers,
    present_effects,
)
from steelyard.pooling.checking_settings import strictly_between
from steelyard.pooling.selection_likelihood import FARTHEST_LOG_WEIGHT, SelectionLikelihood
from steelyard.show import Shown, count, number, p_text
from steelyard.show import interval as shown_interval

FEWEST, FEW = 5, 10


@dataclass(frozen=True, slots=True)
class SelectionModel(Shown):
    """A step-function selection model with one cut.

    Attributes
    ----------
    estimate, low, high : float
        Mean effect over all studies, found and not found; profile-likelihood interval, NaN at
        an end that the data do not bound.
    tau2 : float
        Between-study variance.
    weight, weight_low, weight_high : float
        How likely a study on the far side of the cut is to be found, as a multiple of one on
        the near side; 1 is no selection. An end of 0 or infinity is not bounded by the data.
    plain_estimate, plain_tau2 : float
        Maximum likelihood without selection (weight 1).
    statistic, p : float
        Likelihood ratio against weight 1; chi-square on 1 degree of freedom.
    log_likelihood : float
        At the maximum.
    level : float
    cut : float
        One-sided p.
    found_easily, others : int
        Effects on either side of the cut.
    k : int
    notes : tuple of str
    """

    estimate: float
    low: float
    high: float
    tau2: float
    weight: float
    weight_low: float
    weight_high: float
    plain_estimate: float
    plain_tau2: float
    statistic: float
    p: float
    log_likelihood: float
    level: float
    cut: float
    found_easily: int
    others: int
    k: int
    notes: tuple[str, ...]

    def _title(self) -> str:
        return f"If studies were selected by their p: {count(self.k, 'effect')}"

    def _rows(self) -> list[tuple[str, str]]:
        percent = f"{100 * self.level:g} %"
        rows = [
            (
                "estimate",
                f"{number(self.estimate, decimals=3, sign=True)}, {percent} interval "
                f"{shown_interval(self.low, self.high, decimals=3)}",
            ),
            ("without selection", number(self.plain_estimate, decimals=3, sign=True)),
            (
                "found",
                f"a study with p above {self.cut:g} {number(self.weight)} times as often as one "
                f"below, {percent} interval "
                f"{shown_interval(self.weight_low, self.weight_high, sign=False)}",
            ),
            (
                "selection",
                f"likelihood ratio {number(self.statistic)}, {p_text(self.p)}",
            ),
            ("effects", f"{self.found_easily} with p below {self.cut:g}, {self.others} above"),
        ]
        return rows + [("note", note) for note in self.notes]


def selection_model(
    effect, variance, *, favoured: str = "higher", cut: float = 0.025, level: float = 0.95
) -> SelectionModel:
    """Fit mean, between-study variance and relative publication weight together.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        Effects and sampling variances; NaN effects are left out. At least five present, with
        at least one on each side of the cut.
    favoured : str
        Direction in which a significant effect is found easily: ``higher`` or ``lower``.
    cut : float
        One-sided p below which it is; between 0 and 1.
    level : float
        Of all intervals; between 0 and 1.

    Returns
    -------
    SelectionModel

    Raises
    ------
    DesignError
        With fewer than five effects, with none on one side of the cut, and as in `pool`.

    Notes
    -----
    A study found has density ``w(y) N(y; mean, v + tau2)/A`` with w 1 beyond ``z sqrt(v)`` and
    `weight` short of it, and ``A = P + weight (1 - P)`` with P the probability of the former
    [1]_, [2]_. Maximum likelihood from several starts; intervals from the profile likelihood.
    It asks "what if", and is easily misled: with few studies its interval is wide for that
    reason, and other things than selection make small studies differ.

    References
    ----------
    .. [1] Hedges, L. V. (1992). Modeling publication selection effects in meta-analysis.
           Statistical Science 7, 246-255.
    .. [2] Vevea, J. L., & Hedges, L. V. (1995). A general linear model for estimating effect
           size in the presence of publication bias. Psychometrika 60, 419-435.
    """
    choice(favoured, name="favoured", among=("higher", "lower"))
    cut = strictly_between(cut, name="cut", low=0, high=1)
    level = level_between_zero_and_one(level)
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    present = present_effects(y, v)
    y, v = y[present], v[present]
    if y.size < FEWEST:
        raise DesignError(
            f"a selection model needs at least {FEWEST} effects; there are {y.size}, too few to "
            "tell selection from scatter"
        )
    sign = 1.0 if favoured == "higher" else -1.0
    fit = SelectionLikelihood(sign * y, v, cut)
    if not 0 < fit.easy < y.size:
        side = "above" if fit.easy == 0 else "below"
        raise DesignError(
            f"a selection model needs effects on both sides of its cut; all {y.size} have a "
            f"one-sided p {side} {cut:g}, so how often the others are found cannot be estimated"
        )
    plain = fit.highest(fixed={2: 0.0})
    best = fit.highest(fixed={})
    drop = float(chdtri(1, 1 - level)) / 2
    low, high = (fit.bound(best, 0, side, drop, reach=60 * fit.error) for side in (-1, 1))
    if sign < 0:
        low, high = -high, -low
    weights = [
        fit.bound(best, 2, side, drop, reach=FARTHEST_LOG_WEIGHT - side * best.at[2])
        for side in (-1, 1)
    ]
    statistic = max(2 * (best.height - plain.height), 0.0)
    notes = _notes(y.size, present.size, best.at[2], np.isnan([low, high]).any())
    return SelectionModel(
        estimate=float(sign * best.at[0] * fit.unit),
        low=float(low * fit.unit),
        high=float(high * fit.unit),
        tau2=float(best.at[1] * fit.unit**2),
        weight=float(np.exp(best.at[2])),
        weight_low=0.0 if np.isnan(weights[0]) else float(np.exp(weights[0])),
        weight_high=np.inf if np.isnan(weights[1]) else float(np.exp(weights[1])),
        plain_estimate=float(sign * plain.at[0] * fit.unit),
        plain_tau2=float(plain.at[1] * fit.unit**2),
        statistic=statistic,
        p=float(chdtrc(1, statistic)),
        log_likelihood=float(best.height - y.size * np.log(fit.unit)),
        level=level,
        cut=cut,
        found_easily=fit.easy,
        others=y.size - fit.easy,
        k=y.size,
        notes=notes,
    )


def _notes(k: int, given: int, log_weight: float, unbounded: bool) -> tuple[str, ...]:
    notes = []
    if k < given:
        notes.append(f"{count(given - k, 'effect')} absent and left out")
    if k < FEW:
        notes.append(
            f"{k} effects: with fewer than {FEW} the model can be far off in either direction; "
            "it is shown as a question, not as an answer"
        )
    if abs(log_weight) >= FARTHEST_LOG_WEIGHT * (1 - 1e-9):
        notes.append("the relative publication weight ran to the end of its range")
    if unbounded:
        notes.append("the data do not bound the estimate on one side")
    return tuple(notes)
