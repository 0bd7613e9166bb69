"""How much each study bends the pool."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.pooling.checking import numbers
from steelyard.pooling.leave_one_out import leave_one_out
from steelyard.show import Shown, count, number


@dataclass(frozen=True, slots=True, eq=False)
class StudyInfluence(Shown):
    """Diagnostics of one pool; arrays have a place per effect present.

    Attributes
    ----------
    place : ndarray of int, shape (k,)
        Index of the effect among those given.
    hat : ndarray, shape (k,)
        Its weight in the pool, a fraction; on average 1/k.
    residual : ndarray, shape (k,)
        Externally studentised: the effect less the pool of all others, over the standard
        deviation that this difference would have by the others' between-study variance.
    cook : ndarray, shape (k,)
        Cook's distance: the squared shift of the estimate without the effect, in units of the
        estimate's variance.
    shift : ndarray, shape (k,)
        Estimate without the effect less the estimate with all.
    tau2_change : ndarray, shape (k,)
        Between-study variance without the effect less that with all.
    tau2 : float
        With all.
    k : int
    """

    place: np.ndarray
    hat: np.ndarray
    residual: np.ndarray
    cook: np.ndarray
    shift: np.ndarray
    tau2_change: np.ndarray
    tau2: float
    k: int

    def _title(self) -> str:
        return f"Influence of each of {count(self.k, 'effect')}"

    def _rows(self) -> list[tuple[str, str]]:
        far, bends = int(np.abs(self.residual).argmax()), int(self.cook.argmax())
        heavy = int(self.hat.argmax())
        return [
            (
                "furthest",
                f"effect {int(self.place[far])}, "
                f"{number(self.residual[far], sign=True)} from the pool of the others",
            ),
            (
                "bends most",
                f"effect {int(self.place[bends])}, Cook's distance {number(self.cook[bends])}",
            ),
            (
                "heaviest",
                f"effect {int(self.place[heavy])}, "
                f"{number(100 * self.hat[heavy], decimals=0)} % of the weight",
            ),
        ]


def study_influence(effect, variance, *, between: str = "reml") -> StudyInfluence:
    """Diagnostics from the k pools that each leave one effect out.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        Effects and sampling variances; NaN is absent. At least two present.
    between : str
        As in `pool`.

    Returns
    -------
    StudyInfluence

    Raises
    ------
    DesignError
        With fewer than two effects, and as in `pool`.

    Notes
    -----
    With ``(i)`` for quantities without effect i and ``W = sum(1/(v + tau2))``: the residual is
    ``(y - mean(i)) / sqrt(v + tau2(i) + 1/W(i))`` and Cook's distance
    ``W (mean - mean(i))**2`` [1]_. Of k residuals about k/20 lie beyond ±2 with nothing amiss.

    References
    ----------
    .. [1] Viechtbauer, W., & Cheung, M. W.-L. (2010). Outlier and influence diagnostics for
           meta-analysis. Res Synth Methods 1, 112-125.
    """
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    left = leave_one_out(y, v, between=between, interval="normal")
    place = left.left_out
    spread = v[place] + left.pooled.tau2 + left.pooled.standard_error**2
    return StudyInfluence(
        place=place,
        hat=left.whole.weights[place],
        residual=(y[place] - left.pooled.estimate) / np.sqrt(spread),
        cook=(left.shift / left.whole.standard_error) ** 2,
        shift=left.shift,
        tau2_change=left.pooled.tau2 - left.whole.tau2,
        tau2=left.whole.tau2,
        k=place.size,
    )
