"""Percent change of a group's mean, and the mean after training that it tells."""

from __future__ import annotations

from steelyard.reporting.number import Number, printed
from steelyard.reporting.refusals import above, finite

_OF_MEANS = "percent change of the mean, not the mean of people's own percent changes"


def percent_change(pre_mean, post_mean) -> Number:
    """Percent change of means: 100·(post/pre − 1), the ratio of means [1]_ less 1 in percent.

    Parameters
    ----------
    pre_mean, post_mean : float
        > 0; raw units.

    Returns
    -------
    Number
        Derived; percent.

    Raises
    ------
    DesignError
        If a mean is not positive, as a percentage has no meaning then.

    References
    ----------
    .. [1] Borenstein, M., Hedges, L. V., Higgins, J. P. T. & Rothstein, H. R. (2009).
           Introduction to Meta-Analysis. Wiley, ch. 4, on the ratio of means; from memory.
    """
    pre = float(above(pre_mean, 0, "pre mean"))
    post = float(above(post_mean, 0, "post mean"))
    percent = 100 * (post / pre - 1)
    step = f"{printed(pre)} to {printed(post)} = {printed(percent)} %"
    return Number(percent, "derived", (step, _OF_MEANS))


def post_mean_from_percent(pre_mean, *, percent) -> Number:
    """Mean after training from the mean before and a percent change of means.

    post = pre·(1 + percent/100), `percent_change` [1]_ solved for the mean after.

    Parameters
    ----------
    pre_mean : float
        > 0; raw units.
    percent : float
        > −100.

    Returns
    -------
    Number
        Derived; raw units.

    Raises
    ------
    DesignError
        If the mean is not positive or the change is a loss of everything.

    References
    ----------
    .. [1] Borenstein et al. (2009), as for `percent_change`.
    """
    pre = float(above(pre_mean, 0, "pre mean"))
    percent = float(above(finite(percent, "percent change"), -100, "percent change"))
    post = pre * (1 + percent / 100)
    step = f"{printed(pre)} changed by {printed(percent)} % = {printed(post)}"
    return Number(post, "derived", (step, "taken as the " + _OF_MEANS))
