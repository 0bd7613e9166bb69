"""Mean and SD of a group from its median and quartiles."""

from __future__ import annotations

from scipy.special import ndtri

from steelyard.reporting.number import Number, printed
from steelyard.reporting.refusals import above, ascending, at_least, finite, one_of

MEANS = ("wan", "luo")
SDS = ("wan", "handbook")
NORMAL = "scores taken to be normal"


def quartile_divisor(n) -> float:
    """What the distance between quartiles is divided by: 2Φ⁻¹((0.75n − 0.125)/(n + 0.25)).

    Near 1.35 for large n, smaller for small n; Wan et al. (2014), eq. 15.
    """
    n = float(at_least(n, 3, "n"))
    return float(2 * ndtri((0.75 * n - 0.125) / (n + 0.25)))


def sd_from_quartiles(q1, q3, *, n, method="wan") -> Number:
    """SD = (q3 − q1)/η(n), with η from `quartile_divisor` [1]_.

    Parameters
    ----------
    q1, q3 : float
        First and third quartile, q1 < q3; raw units.
    n : float
        People, ≥ 3.
    method : {"wan", "handbook"}
        ``handbook`` divides by 1.35 whatever n [2]_.

    Returns
    -------
    Number
        Derived, for normal scores; raw units.

    Raises
    ------
    DesignError
        If the quartiles are out of order or `n` is below 3.

    References
    ----------
    .. [1] Wan, X., Wang, W., Liu, J. & Tong, T. (2014). Estimating the sample mean and
           standard deviation from the sample size, median, range and/or interquartile range.
           BMC Medical Research Methodology 14, 135.
    .. [2] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.5.
    """
    one_of(method, SDS, "method")
    distance = float(above(finite(q3, "q3") - finite(q1, "q1"), 0, "q3 less q1"))
    divisor = quartile_divisor(n) if method == "wan" else 1.35
    sd = distance / divisor
    source = "Wan 2014" if method == "wan" else "Cochrane Handbook"
    step = (
        f"quartiles {printed(q1)} to {printed(q3)}: {printed(distance)} / {printed(divisor)} "
        f"= SD {printed(sd)} ({source})"
    )
    return Number(sd, "derived", (step, NORMAL))


def mean_from_quartiles(q1, median, q3, *, n, method="wan") -> Number:
    """Mean from median and quartiles.

    ``wan``: (q1 + median + q3)/3 [1]_. ``luo``: w·(q1 + q3)/2 + (1 − w)·median with
    w = 0.7 + 0.39/n [2]_.

    Parameters
    ----------
    q1, median, q3 : float
        First quartile, median, third quartile, in rising order; raw units.
    n : float
        People, ≥ 3.
    method : {"wan", "luo"}

    Returns
    -------
    Number
        Derived, for scores that are not skewed; raw units.

    Raises
    ------
    DesignError
        If the numbers are out of order or `n` is below 3.

    References
    ----------
    .. [1] Wan et al. (2014), as for `sd_from_quartiles`.
    .. [2] Luo, D., Wan, X., Liu, J. & Tong, T. (2018). Optimally estimating the sample mean
           from the sample size, median, mid-range, and/or mid-quartile range. Statistical
           Methods in Medical Research 27, 1785-1805.
    """
    one_of(method, MEANS, "method")
    q1, median, q3 = (float(finite(v, k)) for k, v in (("q1", q1), ("median", median), ("q3", q3)))
    ascending(("q1", q1), ("median", median), ("q3", q3))
    n = float(at_least(n, 3, "n"))
    weight = 2 / 3 if method == "wan" else 0.7 + 0.39 / n
    mean = weight * (q1 + q3) / 2 + (1 - weight) * median
    source = "Wan 2014" if method == "wan" else "Luo 2018"
    step = (
        f"median {printed(median)}, quartiles {printed(q1)} to {printed(q3)} "
        f"→ mean {printed(mean)} ({source})"
    )
    return Number(mean, "derived", (step, "scores taken not to be skewed"))
