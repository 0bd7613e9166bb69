"""The SD of change and the pre-post correlation: either from the other."""

from __future__ import annotations

from math import sqrt

from steelyard.reporting.number import Number, printed
from steelyard.reporting.refusals import above, between, one_of

R_SOURCES = ("reported", "derived", "assumed")


def r_from_sds(pre_sd, post_sd, change_sd) -> Number:
    """Pre-post correlation from three SDs.

    r = (s_pre² + s_post² − s_Δ²)/(2·s_pre·s_post) [1]_. With SDs rounded by the printer the
    result is uncertain in its last digits, most of all when r is high.

    Parameters
    ----------
    pre_sd, post_sd, change_sd : float
        > 0; raw units.

    Returns
    -------
    Number
        Derived; unitless.

    Raises
    ------
    DesignError
        If an SD is not positive, or the three imply |r| ≥ 1, which no data can.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.8.
    """
    pre = float(above(pre_sd, 0, "pre SD"))
    post = float(above(post_sd, 0, "post SD"))
    change = float(above(change_sd, 0, "SD of change"))
    r = float(
        between(
            (pre**2 + post**2 - change**2) / (2 * pre * post),
            -1,
            1,
            "correlation implied by the SDs before, after and of change",
        )
    )
    step = (
        f"SDs {printed(pre)} before, {printed(post)} after, {printed(change)} of change "
        f"→ r {printed(r)}"
    )
    return Number(r, "derived", (step,))


def change_sd_from_r(pre_sd, post_sd, *, r, r_from="reported") -> Number:
    """SD of change from the SDs before and after and their correlation.

    s_Δ = √(s_pre² + s_post² − 2·r·s_pre·s_post) [1]_.

    Parameters
    ----------
    pre_sd, post_sd : float
        > 0; raw units.
    r : float
        Pre-post correlation, |r| < 1.
    r_from : {"reported", "derived", "assumed"}
        An assumed r makes the result imputed.

    Returns
    -------
    Number
        Derived or imputed; raw units.

    Raises
    ------
    DesignError
        If an SD is not positive or |r| ≥ 1.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.8.
    """
    one_of(r_from, R_SOURCES, "r_from")
    pre = float(above(pre_sd, 0, "pre SD"))
    post = float(above(post_sd, 0, "post SD"))
    r = float(between(r, -1, 1, "pre-post correlation"))
    change = sqrt(pre**2 + post**2 - 2 * r * pre * post)
    step = (
        f"SDs {printed(pre)} before and {printed(post)} after, r {printed(r)} "
        f"→ SD of change {printed(change)}"
    )
    if r_from == "assumed":
        return Number(change, "imputed", (step, f"pre-post correlation {printed(r)} assumed"))
    return Number(change, "derived", (step, f"pre-post correlation {r_from}"))
