"""How much of an effect's variance comes from its comparator arm.

Two effects that share a comparator have its error in common, and nothing else: their covariance
is this part, on the scale of the effects. Standardised effects also share the SD they are
divided by, which adds about g_i·g_j/(2N) [1]_; that is of second order and left out.

References
----------
.. [1] Gleser, L. J. & Olkin, I. (2009). Stochastically dependent effect sizes. In Cooper,
       Hedges & Valentine (eds), Handbook of Research Synthesis, 2nd ed., ch. 19.
"""

from __future__ import annotations

from steelyard.effects.adjusted import adjusted_difference
from steelyard.effects.groups import Group, PrePost
from steelyard.effects.prepost import change_variance
from steelyard.effects.small_sample import correction_factor


def part_of_scores(comparator: Group, *, metric: str, people: int) -> float:
    """Part of a difference in scores: J²/n for Hedges' g, s²/n raw, CV²/n for a log ratio.

    Parameters
    ----------
    comparator : Group
        Scores of the comparator arm; raw units.
    metric : {"standardised", "raw", "percent"}
    people : int
        In both arms, > 3.

    Returns
    -------
    float
        In squared units of the effect.
    """
    if metric == "standardised":
        return _correction(people - 2) ** 2 / comparator.n
    if metric == "raw":
        return comparator.sd**2 / comparator.n
    return (comparator.sd / comparator.mean) ** 2 / comparator.n


def part_of_changes(
    comparator: PrePost, *, metric: str, people: int, scale_sd: float, change_spread: str
) -> float:
    """Part of a difference in changes: s_Δ²/n raw, over s_pre² and times J² when standardised.

    With `change_spread` ``equal``, s_Δ²/s_pre² is 2(1 − r)·f/(f − 2) on f = people − 2, as in
    `standardised_change_difference`; for a log ratio CVs take the place of SDs.

    Parameters
    ----------
    comparator : PrePost
        The comparator arm; raw units.
    metric : {"standardised", "raw", "percent"}
    people : int
        In both arms, > 4.
    scale_sd : float
        Pooled SD before training; raw units.
    change_spread : {"equal", "observed"}

    Returns
    -------
    float
        In squared units of the effect.
    """
    n = comparator.n
    if metric == "raw":
        return change_variance(comparator) / n
    if metric == "percent":
        before = comparator.pre_sd / comparator.pre_mean
        after = comparator.post_sd / comparator.post_mean
        return (before**2 + after**2 - 2 * comparator.r * before * after) / n
    df = people - 2
    if change_spread == "equal":
        relative = 2 * (1 - comparator.r) * df / (df - 2)
    else:
        relative = change_variance(comparator) / scale_sd**2
    return _correction(df) ** 2 * relative / n


def part_of_adjusted(
    intervention: PrePost, comparator: PrePost, *, metric: str, scale_sd: float
) -> float:
    """Part of a difference adjusted for the start: residual mean square over n.

    Over s_pre² and times J² when standardised. What the gap between the arms at the start adds
    belongs to neither arm and is left out.

    Parameters
    ----------
    intervention, comparator : PrePost
    metric : {"standardised", "raw"}
    scale_sd : float
        Pooled SD before training; raw units.

    Returns
    -------
    float
        In squared units of the effect.
    """
    level = PrePost(
        intervention.n,
        comparator.pre_mean,
        *(intervention.pre_sd, intervention.post_mean, intervention.post_sd, intervention.r),
    )
    # From equal starts the variance is the mean square times 1/n_T + 1/n_C, and no more.
    variance = float(adjusted_difference(level, comparator).variance)
    part = variance * intervention.n / (intervention.n + comparator.n)
    if metric == "raw":
        return part
    people = intervention.n + comparator.n
    return _correction(people - 2) ** 2 * part / scale_sd**2


def _correction(df: float) -> float:
    return float(correction_factor(df, correction="approximate"))
