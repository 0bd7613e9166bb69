"""What change of a risk one study, with its people, could tell from none."""

from __future__ import annotations

import numpy as np
from scipy.special import gammaln, ndtr, ndtri, xlog1py, xlogy

from steelyard.effects.counts import log_risk_ratio
from steelyard.effects.groups import Counts
from steelyard.pooling.checking import level_between_zero_and_one
from steelyard.pooling.checking_settings import strictly_between, whole

MOST_TABLES = 4_000_000
STEPS = 400


def detectable_ratio(
    *,
    n_intervention: int,
    n_comparator: int,
    risk: float,
    fewer: bool = True,
    power: float = 0.8,
    level: float = 0.95,
) -> float:
    """Smallest true change of a risk whose interval would tell it from none, as a log ratio.

    Where people affected are few, the spread that was observed says little of the spread that a
    true change would have had, so every pair of counts is gone through: the chance of those whose
    log risk ratio, with the half that empty cells get, has an interval beyond none.

    Parameters
    ----------
    n_intervention, n_comparator : int
        People in each group, at least 1.
    risk : float
        In the comparator, above 0 and below 1.
    fewer : bool
        Whether a lower risk is the change in question, else a higher one.
    power : float
        Chance of telling it; above 0 and below 1.
    level : float
        Of the interval.

    Returns
    -------
    float
        Distance of the log ratio from 0, to a 400th of the risk; infinite where not even a risk
        of 0, or of 1, would be told that often. Beyond 4 million pairs of counts, from the
        normal distribution.

    Raises
    ------
    DesignError
        For a number outside its range.
    """
    sizes = [
        whole(n, name=name, least=1)
        for n, name in ((n_intervention, "n_intervention"), (n_comparator, "n_comparator"))
    ]
    risk = strictly_between(risk, name="risk", low=0, high=1)
    power = strictly_between(power, name="power", low=0, high=1)
    z = float(ndtri((1 + level_between_zero_and_one(level)) / 2))
    end = 0.0 if fewer else 1.0
    risks = np.linspace(risk, end, STEPS + 1)[1:]
    count_all = (sizes[0] + 1) * (sizes[1] + 1) <= MOST_TABLES
    chances = (_counted if count_all else _normal)(risks, risk, sizes, z, fewer)
    able = np.flatnonzero(chances >= power)
    if not able.size:
        return float("inf")
    found = risks[able[0]] or risks[-2] / 2
    return float(abs(np.log(found / risk)))


def _counted(risks, risk: float, sizes: list[int], z: float, fewer: bool) -> np.ndarray:
    """The chance of an interval beyond none, over all pairs of counts."""
    one, other = np.meshgrid(np.arange(sizes[0] + 1), np.arange(sizes[1] + 1), indexing="ij")
    someone = (one + other) > 0
    told = np.zeros(one.shape, dtype=bool)
    found = log_risk_ratio(
        Counts(one[someone].astype(float), float(sizes[0])),
        Counts(other[someone].astype(float), float(sizes[1])),
    )
    reach = z * np.sqrt(found.variance)
    told[someone] = found.effect + reach < 0 if fewer else found.effect - reach > 0
    return _binomial(sizes[0], risks) @ (told @ _binomial(sizes[1], np.array([risk]))[0])


def _binomial(n: int, risks: np.ndarray) -> np.ndarray:
    """Chances of 0 to n people, a row per risk."""
    k = np.arange(n + 1)
    ways = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)
    p = np.asarray(risks)[:, None]
    return np.exp(ways + xlogy(k, p) + xlog1py(n - k, -p))


def _normal(risks, risk: float, sizes: list[int], z: float, fewer: bool) -> np.ndarray:
    inner = np.clip(risks, 0.5 / sizes[0], 1 - 0.5 / sizes[0])
    variance = (1 - inner) / (sizes[0] * inner) + (1 - risk) / (sizes[1] * risk)
    distance = np.log(inner / risk) * (-1.0 if fewer else 1.0)
    return ndtr(distance / np.sqrt(variance) - z)


def usual_risk(row) -> float:
    """The risk in the comparator of an effect row; in both arms together where it had nobody.

    NaN where the record does not hold the people, or all or none of them had an event.
    """
    shares = (
        row.events_comparator / row.n_comparator,
        (row.events_intervention + row.events_comparator) / (row.n_intervention + row.n_comparator),
    )
    return next((float(share) for share in shares if 0 < share < 1), float("nan"))


def detectable_in_counts(row) -> float:
    """`detectable_ratio` for a risk ratio of the effect table; NaN where it cannot be told.

    Clusters count as the fewer people that their design effect leaves.
    """
    risk = usual_risk(row)
    if row.metric != "risk-ratio" or risk != risk:
        return float("nan")
    arms = (
        (row.events_intervention, row.n_intervention),
        (row.events_comparator, row.n_comparator),
    )
    alone = log_risk_ratio(*(Counts(float(events), float(n)) for events, n in arms)).variance
    factor = max(float(row.variance) / float(alone), 1.0)
    sizes = [max(round(n / factor), 1) for _, n in arms]
    return detectable_ratio(
        n_intervention=sizes[0],
        n_comparator=sizes[1],
        risk=risk,
        fewer=row.better == "lower",
    )
