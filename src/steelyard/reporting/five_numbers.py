"""Mean and SD of a group from lowest value, quartiles, median and highest value."""

from __future__ import annotations

from steelyard.reporting.extremes import MEANS, sd_from_range
from steelyard.reporting.number import Number, printed
from steelyard.reporting.quartiles import NORMAL, sd_from_quartiles
from steelyard.reporting.refusals import ascending, at_least, finite, one_of


def _ordered(low, q1, median, q3, high):
    named = (("low", low), ("q1", q1), ("median", median), ("q3", q3), ("high", high))
    numbers = [float(finite(value, name)) for name, value in named]
    ascending(*((name, value) for (name, _), value in zip(named, numbers, strict=True)))
    return numbers


def sd_from_five_numbers(low, q1, q3, high, *, n) -> Number:
    """Mean of the SDs from the range and from the quartiles [1]_.

    SD = ((high − low)/ξ(n) + (q3 − q1)/η(n))/2, with ξ of `sd_from_range` and η of
    `sd_from_quartiles`.

    Parameters
    ----------
    low, q1, q3, high : float
        low ≤ q1 < q3 ≤ high; raw units.
    n : float
        People, ≥ 3.

    Returns
    -------
    Number
        Derived, for normal scores; raw units.

    Raises
    ------
    DesignError
        If the values are out of order or `n` is below 3.

    References
    ----------
    .. [1] Wan, X., Wang, W., Liu, J. & Tong, T. (2014). Estimating the sample mean and
           standard deviation from the sample size, median, range and/or interquartile range.
           BMC Medical Research Methodology 14, 135.
    """
    _ordered(low, q1, q1, q3, high)
    by_range = sd_from_range(low, high, n=n).value
    by_quartiles = sd_from_quartiles(q1, q3, n=n).value
    sd = (by_range + by_quartiles) / 2
    step = (
        f"SD {printed(by_range)} by range and {printed(by_quartiles)} by quartiles "
        f"→ SD {printed(sd)} (Wan 2014)"
    )
    return Number(sd, "derived", (step, NORMAL))


def mean_from_five_numbers(low, q1, median, q3, high, *, n, method="wan") -> Number:
    """Mean from the five numbers.

    ``wan``: (low + 2q1 + 2·median + 2q3 + high)/8 [1]_. ``luo``: w₁·(low + high)/2 +
    w₂·(q1 + q3)/2 + (1 − w₁ − w₂)·median with w₁ = 2.2/(2.2 + n^0.75) and
    w₂ = 0.7 − 0.72/n^0.55 [2]_.

    Parameters
    ----------
    low, q1, median, q3, high : float
        In rising order; raw units.
    n : float
        People, ≥ 5.
    method : {"wan", "luo"}

    Returns
    -------
    Number
        Derived, for scores that are not skewed; raw units.

    Raises
    ------
    DesignError
        If the values are out of order or `n` is below 5.

    References
    ----------
    .. [1] Wan et al. (2014), as for `sd_from_five_numbers`.
    .. [2] Luo, D., Wan, X., Liu, J. & Tong, T. (2018). Optimally estimating the sample mean
           from the sample size, median, mid-range, and/or mid-quartile range. Statistical
           Methods in Medical Research 27, 1785-1805.
    """
    one_of(method, MEANS, "method")
    low, q1, median, q3, high = _ordered(low, q1, median, q3, high)
    n = float(at_least(n, 5, "n"))
    range_weight, quartile_weight = (
        (0.25, 0.5) if method == "wan" else (2.2 / (2.2 + n**0.75), 0.7 - 0.72 / n**0.55)
    )
    mean = (
        range_weight * (low + high) / 2
        + quartile_weight * (q1 + q3) / 2
        + (1 - range_weight - quartile_weight) * median
    )
    source = "Wan 2014" if method == "wan" else "Luo 2018"
    step = (
        f"{printed(low)}, {printed(q1)}, {printed(median)}, {printed(q3)}, {printed(high)} "
        f"→ mean {printed(mean)} ({source})"
    )
    return Number(mean, "derived", (step, "scores taken not to be skewed"))
