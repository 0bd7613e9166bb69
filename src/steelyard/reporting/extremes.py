"""Mean and SD of a group from its median, lowest and highest value."""

from __future__ import annotations

from math import sqrt

import numpy as np
from scipy.special import ndtr, ndtri

from steelyard.reporting.number import Number, printed
from steelyard.reporting.quartiles import NORMAL
from steelyard.reporting.refusals import above, ascending, at_least, finite, one_of

MEANS = ("wan", "luo")


def expected_range(n) -> float:
    """Expected distance between the lowest and highest of n standard normal values.

    ξ(n) = ∫ [1 − Φ(x)ⁿ − (1 − Φ(x))ⁿ] dx, the control-chart constant d₂ [1]_. SDs; n ≥ 2.

    References
    ----------
    .. [1] Wan et al. (2014), Table 1, as for `sd_from_range`.
    """
    n = float(at_least(n, 2, "n"))
    x = np.linspace(-9, 9, 3601)
    below = ndtr(x)
    return float(np.trapezoid(1 - below**n - (1 - below) ** n, x))


def range_divisor(n) -> float:
    """What the range is divided by: `expected_range` up to 50 people, as the source advises.

    Beyond that its closed form 2Φ⁻¹((n − 0.375)/(n + 0.25)); Wan et al. (2014), eq. 9.
    """
    n = float(at_least(n, 2, "n"))
    if n <= 50:
        return expected_range(n)
    return float(2 * ndtri((n - 0.375) / (n + 0.25)))


def sd_from_range(low, high, *, n) -> Number:
    """SD = (high − low)/ξ(n), with ξ from `range_divisor` [1]_.

    Parameters
    ----------
    low, high : float
        Lowest and highest value, low < high; raw units.
    n : float
        People, ≥ 2.

    Returns
    -------
    Number
        Derived, for normal scores; raw units.

    Raises
    ------
    DesignError
        If the values are out of order or `n` is below 2.

    References
    ----------
    .. [1] Wan, X., Wang, W., Liu, J. & Tong, T. (2014). Estimating the sample mean and
           standard deviation from the sample size, median, range and/or interquartile range.
           BMC Medical Research Methodology 14, 135.
    """
    distance = float(above(finite(high, "high") - finite(low, "low"), 0, "range"))
    divisor = range_divisor(n)
    sd = distance / divisor
    step = (
        f"range {printed(low)} to {printed(high)}: {printed(distance)} / {printed(divisor)} "
        f"= SD {printed(sd)} (Wan 2014)"
    )
    return Number(sd, "derived", (step, NORMAL))


def sd_from_range_older(low, median, high, *, n) -> Number:
    """SD from median and range by the rules of Hozo et al., for checking older reviews [1]_.

    Up to 15 people √(((low − 2·median + high)²/4 + (high − low)²)/12), up to 70 the range
    over 4, beyond that over 6. `sd_from_range` is less biased. The first is the SD of scores of
    which half lie evenly between low and median and half evenly between median and high.

    Parameters
    ----------
    low, median, high : float
        In rising order, low < high; raw units.
    n : float
        People, ≥ 2.

    Returns
    -------
    Number
        Derived; raw units.

    Raises
    ------
    DesignError
        If the values are out of order or `n` is below 2.

    References
    ----------
    .. [1] Hozo, S. P., Djulbegovic, B. & Hozo, I. (2005). Estimating the mean and variance
           from the median, range, and the size of a sample. BMC Medical Research
           Methodology 5, 13; from memory.
    """
    distance = float(above(finite(high, "high") - finite(low, "low"), 0, "range"))
    ascending(("low", low), ("median", finite(median, "median")), ("high", high))
    n = float(at_least(n, 2, "n"))
    if n <= 15:
        sd = sqrt(((low - 2 * median + high) ** 2 / 4 + distance**2) / 12)
    else:
        sd = distance / (4 if n <= 70 else 6)
    step = f"range {printed(low)} to {printed(high)} → SD {printed(sd)} (Hozo 2005)"
    return Number(sd, "derived", (step,))


def mean_from_range(low, median, high, *, n, method="wan") -> Number:
    """Mean from median and range.

    ``wan``: (low + 2·median + high)/4 [1]_. ``luo``: w·(low + high)/2 + (1 − w)·median with
    w = 4/(4 + n^0.75) [2]_, which leans less on the extremes as n grows.

    Parameters
    ----------
    low, median, high : float
        In rising order; raw units.
    n : float
        People, ≥ 2.
    method : {"wan", "luo"}

    Returns
    -------
    Number
        Derived, for scores that are not skewed; raw units.

    Raises
    ------
    DesignError
        If the values are out of order or `n` is below 2.

    References
    ----------
    .. [1] Wan et al. (2014), as for `sd_from_range`; first given by Hozo et al. (2005).
    .. [2] Luo, D., Wan, X., Liu, J. & Tong, T. (2018). Optimally estimating the sample mean
           from the sample size, median, mid-range, and/or mid-quartile range. Statistical
           Methods in Medical Research 27, 1785-1805.
    """
    one_of(method, MEANS, "method")
    named = (("low", low), ("median", median), ("high", high))
    low, median, high = (float(finite(value, name)) for name, value in named)
    ascending(("low", low), ("median", median), ("high", high))
    n = float(at_least(n, 2, "n"))
    weight = 0.5 if method == "wan" else 4 / (4 + n**0.75)
    mean = weight * (low + high) / 2 + (1 - weight) * median
    source = "Wan 2014" if method == "wan" else "Luo 2018"
    step = (
        f"median {printed(median)}, range {printed(low)} to {printed(high)} "
        f"→ mean {printed(mean)} ({source})"
    )
    return Number(mean, "derived", (step, "scores taken not to be skewed"))
