"""Chance put to work on a regression: permuted moderators and resampled studies."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations
from math import factorial

import numpy as np

from steelyard.pooling.checking_settings import whole

# Up to this many orders of the studies, all are gone through instead of a sample.
ALL_ORDERS = 5040
AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class PermutationTest:
    """How often moderators dealt out anew tell as much as they do.

    Attributes
    ----------
    p : float
    orders : int
        Orders compared, the one found among them.
    exact : bool
        Whether those are all there are.
    """

    p: float
    orders: int
    exact: bool


@dataclass(frozen=True, slots=True)
class ShareInterval:
    """Interval for the share of between-study variance that moderators take up.

    Attributes
    ----------
    low, high : float
        NaN where fewer than half of the resamples give a share.
    used, draws : int
        Resamples that give one, and all; 0 where studies are not resampled.
    """

    low: float
    high: float
    used: int
    draws: int


def permutation_test(
    effect, variance, design, *, tested, study, draws: int = 2000, seed: int = 1
) -> PermutationTest:
    """Test columns of a regression by dealing them out anew.

    Parameters
    ----------
    effect, variance : ndarray, shape (k,)
    design : ndarray, shape (k, p)
        Intercept first.
    tested : list of int
        Columns tested together; the others stay where they are. Studies change hands of their
        means, and what effects of a study differ from its mean is shuffled inside it: a moderator
        that is one for all effects of a study is dealt out between studies, one that has the same
        mean in all of them inside studies, and any other at both levels, as it tells at both.
    study : ndarray, shape (k,)
    draws, seed : int
        Random orders, where there are too many to go through all.

    Returns
    -------
    PermutationTest

    Notes
    -----
    The statistic is the Knapp-Hartung F of the tested columns, with the between-study variance
    estimated anew (by moments) in each order [1]_. p counts orders whose F is at least that
    found, the one found included.

    Orders are alike only where studies are alike in all but the moderator. Where two groups of
    equal number differ in precision and studies do not scatter beyond chance, p is too small:
    below 0.05 in 7 sets of 100 with variances 5 times apart, 10 with 10 times, 13 with 25 times
    (8 to 20 studies, simulated); in 4 to 7 where the precise group has a quarter of the studies,
    or where a between-study variance of a tenth of the larger variance evens them out.

    References
    ----------
    .. [1] Higgins, J. P. T., & Thompson, S. G. (2004). Controlling the risk of spurious findings
           from meta-regression. Stat Med 23, 1663-1682.
    """
    draws = whole(draws, name="draws", least=99)
    labels, owner = np.unique(study, return_inverse=True)
    columns = design[:, tested]
    first = np.array([np.flatnonzero(owner == place)[0] for place in range(labels.size)])
    means = np.stack([columns[owner == place].mean(axis=0) for place in range(labels.size)])
    inside = columns - means[owner]
    constant = bool((columns == columns[first][owner]).all())
    exact = constant and factorial(labels.size) <= ALL_ORDERS
    if exact:
        orders = np.array(list(permutations(range(labels.size))))
        dealt = columns[first][orders][:, owner]
    else:
        generator = np.random.default_rng(seed)
        dealt = np.empty((draws, *columns.shape))
        for draw in range(draws):
            order = generator.permutation(labels.size)
            if constant:
                dealt[draw] = columns[first][order][owner]
            else:
                shuffled = inside[_shuffled_inside(owner, generator)]
                dealt[draw] = means[order][owner] + shuffled
    found = _f(effect, variance, design[None], tested)[0]
    values = np.empty(len(dealt))
    for begin in range(0, len(dealt), AT_ONCE):
        part = dealt[begin : begin + AT_ONCE]
        turned = np.repeat(design[None], len(part), axis=0)
        turned[:, :, tested] = part
        values[begin : begin + AT_ONCE] = _f(effect, variance, turned, tested)
    reached = int((values >= found * (1 - 1e-9)).sum())
    if exact:
        return PermutationTest(reached / len(values), len(values), True)
    return PermutationTest((reached + 1) / (len(values) + 1), len(values) + 1, False)


def _shuffled_inside(owner, generator) -> np.ndarray:
    order = np.empty(owner.size, dtype=int)
    order[np.argsort(owner, kind="stable")] = np.lexsort((generator.random(owner.size), owner))
    return order


def _f(y, v, designs, tested) -> np.ndarray:
    """Knapp-Hartung F of the tested columns, for a batch of designs (B, k, p)."""
    _, k, p = designs.shape
    flat = np.zeros(len(designs))
    usable = np.linalg.matrix_rank(designs) == p
    designs = designs[usable]
    if not len(designs):
        return flat
    tau2 = _moments(y, v, designs, np.ones((len(designs), k)))
    w = 1 / (v + tau2[:, None])
    weighted = designs * w[:, :, None]
    inverse = np.linalg.inv(np.einsum("bkp,bkq->bpq", weighted, designs))
    b = np.einsum("bpq,bq->bp", inverse, weighted.transpose(0, 2, 1) @ y)
    residual = y - np.einsum("bkp,bp->bk", designs, b)
    spread = (w * residual**2).sum(axis=1) / (k - p)
    block = inverse[:, tested][:, :, tested]
    part = b[:, tested]
    solved = np.linalg.solve(block, part[:, :, None])[:, :, 0]
    tiny = np.finfo(float).tiny
    flat[usable] = (part * solved).sum(axis=1) / (len(tested) * np.maximum(spread, tiny))
    return flat


def _moments(y, v, designs, times) -> np.ndarray:
    """Moment estimate of the variance between studies; `times` (B, k) counts repeated effects.

    A repeated effect has the same error each time. Taken for as many effects with errors of their
    own, it would hide scatter, and the more so the fewer there are.
    """
    w = times / v
    weighted = designs * w[:, :, None]
    inverse = np.linalg.inv(np.einsum("bkp,bkq->bpq", weighted, designs))
    b = np.einsum("bpq,bq->bp", inverse, weighted.transpose(0, 2, 1) @ y)
    residual = y - np.einsum("bkp,bp->bk", designs, b)
    q = (w * residual**2).sum(axis=1)
    # What q would be on average from sampling error alone, and per unit of variance between.
    alone, per_unit = (
        total.sum(axis=1)
        - np.einsum(
            "bpq,bqp->b", inverse, np.einsum("bkp,bk,bkq->bpq", designs, w * total, designs)
        )
        for total in (times, w)
    )
    return np.maximum(0.0, (q - alone) / per_unit)


def share_interval(
    effect, variance, design, *, study, level: float = 0.95, draws: int = 1000, seed: int = 1
) -> ShareInterval:
    """Bootstrap interval for ``1 - tau2 with moderators / tau2 without``, studies resampled.

    Parameters
    ----------
    effect, variance, design, study
        As for `permutation_test`.
    level : float
    draws, seed : int

    Returns
    -------
    ShareInterval
        Percentiles over resamples that have a variance to share and can bear the regression;
        both variances by moments.

    Notes
    -----
    For several effects of a study with moderators that differ among them; else
    `share_by_distributions` holds the share as often as it says.

    Rough with few studies. Simulated with one moderator, true shares of 0, 0.5 and 0.8 and a
    between-study variance as large as usual sampling variances, the 95 % interval held the share
    98, 89 and 86 times in 100 with 6 studies, 97, 90 and 84 with 8, 99, 91 and 91 with 12, and
    98, 92 and 93 with 20; 88 to 100 times with 16 and a variance between them a fifth as large.
    """
    draws = whole(draws, name="draws", least=99)
    labels, owner = np.unique(study, return_inverse=True)
    generator = np.random.default_rng(seed)
    chosen = generator.integers(labels.size, size=(draws, labels.size))
    times = np.stack([np.bincount(row, minlength=labels.size) for row in chosen])[:, owner]
    times = times.astype(float)
    p = design.shape[1]
    rank = np.linalg.matrix_rank(design[None] * (times > 0)[:, :, None])
    usable = (rank == p) & ((times > 0).sum(axis=1) > p)
    times = times[usable]
    nothing = ShareInterval(float("nan"), float("nan"), 0, draws)
    if not len(times):
        return nothing
    designs = np.repeat(design[None], len(times), axis=0)
    with_them = _moments(effect, variance, designs, times)
    without = _moments(effect, variance, designs[:, :, :1], times)
    shared = without > 0
    shares = np.clip(1 - with_them[shared] / without[shared], 0, 1)
    if shares.size < draws / 2:
        return ShareInterval(float("nan"), float("nan"), int(shares.size), draws)
    low, high = np.quantile(shares, [(1 - level) / 2, (1 + level) / 2])
    return ShareInterval(float(low), float(high), int(shares.size), draws)
