"""What a formula needs to know of one group, as numbers or as arrays of equal shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Group:
    """Size, mean and SD of one group; of scores after training, or of changes."""

    n: float | np.ndarray
    mean: float | np.ndarray
    sd: float | np.ndarray


@dataclass(frozen=True, slots=True)
class PrePost:
    """Size, means and SDs before and after training, and their correlation, in one group."""

    n: float | np.ndarray
    pre_mean: float | np.ndarray
    pre_sd: float | np.ndarray
    post_mean: float | np.ndarray
    post_sd: float | np.ndarray
    r: float | np.ndarray


@dataclass(frozen=True, slots=True)
class Counts:
    """People with at least one event, out of the people observed, in one group."""

    events: float | np.ndarray
    n: float | np.ndarray


@dataclass(frozen=True, slots=True)
class Estimate:
    """An effect with its sampling variance; positive means the first group had the larger value.

    Attributes
    ----------
    effect, variance : float or ndarray
        Variance is in squared units of the effect.
    df : float or ndarray or None
        Degrees of freedom for a t interval where the formula has them.
    method : str
        The formula in words, for example ``"difference in changes over the pooled
        pre-training SD (Morris 2008)"``.
    per_squared_effect : float or ndarray
        What the formula puts into the variance for every squared unit of the effect itself: b in
        ``variance = a + b * effect**2``. 0 where the effect does not enter, or nobody knows how.
    """

    effect: float | np.ndarray
    variance: float | np.ndarray
    df: float | np.ndarray | None
    method: str
    per_squared_effect: float | np.ndarray = 0.0
