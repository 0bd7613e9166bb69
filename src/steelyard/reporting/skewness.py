"""Whether a median with its quartiles or range is too lopsided to be turned into a mean and SD."""

from __future__ import annotations

from dataclasses import dataclass
from math import log, sqrt

from steelyard.reporting.number import printed
from steelyard.reporting.refusals import above, ascending, at_least, finite


@dataclass(frozen=True, slots=True)
class Lopsidedness:
    """How far the median lies off the middle, and how far it may at the 5 % level.

    Attributes
    ----------
    measure : float
        0 to 1; distance of the median from the middle over half the spread.
    critical : float
        What one sample in twenty from a normal distribution exceeds.
    skewed : bool
        Whether `measure` exceeds `critical`.
    message : str
        The same in words.
    """

    measure: float
    critical: float
    skewed: bool
    message: str


def _judge(low, high, median, critical, names) -> Lopsidedness:
    low, median, high = (
        float(finite(value, name))
        for name, value in ((names[0], low), ("median", median), (names[1], high))
    )
    ascending((names[0], low), ("median", median), (names[1], high))
    measure = abs(low + high - 2 * median) / float(above(high - low, 0, "spread"))
    skewed = measure > critical
    verdict = (
        "more lopsided than normal scores would be; a mean and SD from it may mislead"
        if skewed
        else "no more lopsided than normal scores may be"
    )
    return Lopsidedness(
        measure,
        critical,
        skewed,
        f"median {printed(median)} between {printed(low)} and {printed(high)}: {verdict}",
    )


def lopsided_quartiles(q1, median, q3, *, n) -> Lopsidedness:
    """|q1 + q3 − 2·median|/(q3 − q1) against 2.65/√n − 6/n² [1]_.

    Parameters
    ----------
    q1, median, q3 : float
        q1 ≤ median ≤ q3, q1 < q3; raw units.
    n : float
        People, ≥ 5.

    Returns
    -------
    Lopsidedness

    Raises
    ------
    DesignError
        If the values are out of order or `n` is below 5.

    References
    ----------
    .. [1] Shi, J., Luo, D., Wan, X., Liu, Y., Liu, J., Bian, Z. & Tong, T. (2023). Detecting
           the skewness of data from the five-number summary and its application in
           meta-analysis. Statistical Methods in Medical Research 32, 1338-1360; from memory.
    """
    n = float(at_least(n, 5, "n"))
    return _judge(q1, q3, median, 2.65 / sqrt(n) - 6 / n**2, ("q1", "q3"))


def lopsided_range(low, median, high, *, n) -> Lopsidedness:
    """|low + high − 2·median|/(high − low) against 1.01/ln(n + 9) + 2.43/(n + 1) [1]_.

    Parameters
    ----------
    low, median, high : float
        low ≤ median ≤ high, low < high; raw units.
    n : float
        People, ≥ 5.

    Returns
    -------
    Lopsidedness

    Raises
    ------
    DesignError
        If the values are out of order or `n` is below 5.

    References
    ----------
    .. [1] Shi et al. (2023), as for `lopsided_quartiles`.
    """
    n = float(at_least(n, 5, "n"))
    return _judge(low, high, median, 1.01 / log(n + 9) + 2.43 / (n + 1), ("low", "high"))
