"""How far the posterior depends on its priors."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from steelyard.errors import DesignError
from steelyard.pooling.checking import numbers
from steelyard.pooling.checking_settings import above_zero, finite
from steelyard.pooling.posterior import posteriors


def prior_sensitivity(
    effect,
    variance,
    *,
    tau_scales: Sequence[float],
    mean_priors: Sequence[tuple[float, float]],
    worthwhile=None,
    level: float = 0.95,
) -> pd.DataFrame:
    """The posterior under every combination of priors.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        As in `posterior`.
    tau_scales : sequence of float
        Scales of the half-normal prior of the between-study SD, each above 0.
    mean_priors : sequence of (float, float)
        Mean and SD of the normal prior of the mean effect, each SD above 0.
    worthwhile, level : float
        As in `posterior`.

    Returns
    -------
    DataFrame
        A row per combination, by mean prior and then scale: ``tau_scale, prior_mean, prior_sd,
        prior_share, median, low, high`` (of the mean effect), ``below, within, above,
        positive``, the same with ``next_`` for a further study, ``tau_median, tau_low,
        tau_high, level``.

    Raises
    ------
    DesignError
        As `posterior`, and for an empty list of priors.
    """
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    scales = [above_zero(scale, name="each of tau_scales") for scale in tau_scales]
    means = [
        (finite(mean, name="each prior mean"), above_zero(sd, name="each prior SD"))
        for mean, sd in mean_priors
    ]
    if not scales or not means:
        raise DesignError("tau_scales and mean_priors must each have at least one entry")
    priors = [(scale, mean, sd) for mean, sd in means for scale in scales]
    found = posteriors(y, v, priors=priors, worthwhile=worthwhile, level=level)
    names = ("median", "low", "high", "below", "within", "above", "positive")
    return pd.DataFrame(
        {
            "tau_scale": scale,
            "prior_mean": mean,
            "prior_sd": sd,
            "prior_share": one.prior_share,
            **{name: getattr(one.effect, name) for name in names},
            **{f"next_{name}": getattr(one.next_study, name) for name in names},
            "tau_median": one.tau.median,
            "tau_low": one.tau.low,
            "tau_high": one.tau.high,
            "level": one.level,
        }
        for (scale, mean, sd), one in zip(priors, found, strict=True)
    )
