"""SD of a group from the standard error of its mean."""

from __future__ import annotations

from math import sqrt

from steelyard.reporting.number import Number, printed
from steelyard.reporting.refusals import above, at_least


def sd_from_se(se, *, n) -> Number:
    """SD = SE·√n [1]_.

    Parameters
    ----------
    se : float
        Standard error of the mean, > 0; raw units.
    n : float
        People, ≥ 2.

    Returns
    -------
    Number
        Derived; raw units.

    Raises
    ------
    DesignError
        If `se` is not positive or `n` is below 2.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.2.
    """
    sd = float(above(se, 0, "SE") * sqrt(at_least(n, 2, "n")))
    return Number(sd, "derived", (f"SE {printed(se)} × √{printed(n)} = SD {printed(sd)}",))
