"""From one kind of effect to another: log odds ratio, standardised difference, correlation.

Each takes an effect with its variance and gives the same finding on another scale; each rests on
an assumption that the printed numbers cannot check, so an effect that is printed in the wanted
metric, or follows from means, counts or a test, comes first.
"""

from __future__ import annotations

import numpy as np

from steelyard.effects.groups import Estimate
from steelyard.reporting.refusals import above, at_least, between, finite

LOGISTIC_SD = np.pi / np.sqrt(3)
"""SD of the standard logistic distribution, whose cut point gives the odds."""


def standardised_from_log_odds(log_odds_ratio, *, variance) -> Estimate:
    """Standardised difference behind a log odds ratio: d = ln(OR)·√3/π [1]_.

    Takes the odds to come from cutting a logistic score, with the same SD in both groups, at
    one point; the variance is that of the log odds ratio times 3/π².

    Parameters
    ----------
    log_odds_ratio : array_like of float, shape (k,) or scalar
        Natural logarithm; unitless.
    variance : array_like of float, same shape
        Its sampling variance, > 0.

    Returns
    -------
    Estimate
        In SDs of the score that was cut.

    Raises
    ------
    DesignError
        If a number is not finite or the variance is not positive.

    References
    ----------
    .. [1] Borenstein, M., Hedges, L. V., Higgins, J. P. T. & Rothstein, H. R. (2009).
           Introduction to Meta-Analysis, ch. 7, eq. 7.1-7.2. Wiley.
    """
    return Estimate(
        effect=finite(log_odds_ratio, "log odds ratio") / LOGISTIC_SD,
        variance=above(variance, 0, "variance") / LOGISTIC_SD**2,
        df=None,
        method="standardised difference from a log odds ratio (logistic scores)",
    )


def log_odds_from_standardised(d, *, variance) -> Estimate:
    """Log odds ratio that a standardised difference stands for: ln(OR) = d·π/√3 [1]_.

    The way back from `standardised_from_log_odds`, with the same assumption; the variance is
    that of `d` times π²/3.

    Parameters
    ----------
    d : array_like of float, shape (k,) or scalar
        In SDs between people.
    variance : array_like of float, same shape
        Its sampling variance, > 0.

    Returns
    -------
    Estimate
        Natural logarithm; unitless.

    Raises
    ------
    DesignError
        If a number is not finite or the variance is not positive.

    References
    ----------
    .. [1] Borenstein et al. (2009), as above, eq. 7.3-7.4.
    """
    return Estimate(
        effect=finite(d, "d") * LOGISTIC_SD,
        variance=above(variance, 0, "variance") * LOGISTIC_SD**2,
        df=None,
        method="log odds ratio from a standardised difference (logistic scores)",
    )


def standardised_from_correlation(r, *, variance) -> Estimate:
    """Standardised difference behind a correlation: d = 2r/√(1 − r²) [1]_.

    Takes one variable to be a cut, half and half, of a normal score, or a group of two equal
    halves; variance 4·Var(r)/(1 − r²)³.

    Parameters
    ----------
    r : array_like of float, shape (k,) or scalar
        |r| < 1; unitless.
    variance : array_like of float, same shape
        Sampling variance of r, > 0.

    Returns
    -------
    Estimate
        In SDs within the two halves.

    Raises
    ------
    DesignError
        If |r| ≥ 1 or the variance is not positive.

    References
    ----------
    .. [1] Borenstein et al. (2009), as above, eq. 7.5-7.6.
    """
    r = between(r, -1, 1, "correlation")
    return Estimate(
        effect=2 * r / np.sqrt(1 - r**2),
        variance=4 * above(variance, 0, "variance") / (1 - r**2) ** 3,
        df=None,
        method="standardised difference from a correlation",
    )


def correlation_from_standardised(d, *, variance, n_intervention=1, n_comparator=1) -> Estimate:
    """Correlation of group with outcome: r = d/√(d² + a), a = (n₁ + n₂)²/(n₁n₂) [1]_.

    a is 4 for groups of one size, which is what the default stands for; variance
    a²·Var(d)/(d² + a)³.

    Parameters
    ----------
    d : array_like of float, shape (k,) or scalar
        In SDs within groups.
    variance : array_like of float, same shape
        Its sampling variance, > 0.
    n_intervention, n_comparator : array_like of float, same shape
        People, each ≥ 1; only their ratio counts.

    Returns
    -------
    Estimate
        Between −1 and 1; unitless. For pooling take `fisher_z`, whose variance does not
        depend on r.

    Raises
    ------
    DesignError
        If a number breaks its rule.

    References
    ----------
    .. [1] Borenstein et al. (2009), as above, eq. 7.7-7.9.
    """
    d = finite(d, "d")
    first = at_least(n_intervention, 1, "n of the intervention group")
    second = at_least(n_comparator, 1, "n of the comparator group")
    a = (first + second) ** 2 / (first * second)
    return Estimate(
        effect=d / np.sqrt(d**2 + a),
        variance=a**2 * above(variance, 0, "variance") / (d**2 + a) ** 3,
        df=None,
        method="correlation from a standardised difference",
    )
