"""How often outcomes of one study agree by chance alone, because they share their people."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import comb, sqrt

import numpy as np
import scipy
from scipy.special import ndtr, ndtri

from steelyard.errors import DesignError
from steelyard.pooling.checking import choice
from steelyard.pooling.checking_settings import strictly_between, whole
from steelyard.show import Shown, number

# Chances beyond this many standard deviations are below rounding.
FARTHEST = 8.5
AT_ONCE = 50_000


@dataclass(frozen=True, slots=True)
class ChanceAgreement(Shown):
    """The chance of an agreement among outcomes without any effect.

    Attributes
    ----------
    chance : float
    standard_error : float
        Of the simulation; 0 for the integral.
    sentence : str
        What the chance is of.
    outcomes : int
    method : str
        In words.
    """

    chance: float
    standard_error: float
    sentence: str
    outcomes: int
    method: str

    def _title(self) -> str:
        return f"By chance alone, {self.outcomes} outcomes of one study"

    def _rows(self) -> list[tuple[str, str]]:
        return [
            ("chance", f"{number(100 * self.chance, decimals=1)} % {self.sentence}"),
            ("method", self.method),
        ]


def chance_same_direction(
    outcomes: int,
    *,
    at_least: int,
    correlation,
    way: str = "either",
    method: str = "integral",
    draws: int = 200_000,
    seed: int = 1,
) -> ChanceAgreement:
    """Chance that at least so many outcomes of one study point the same way, under no effect.

    Parameters
    ----------
    outcomes : int
        k, at least 1.
    at_least : int
        From 1 to k.
    correlation : float, or array_like of float, shape (k, k)
        Between the effects on any two outcomes, from 0 to below 1; or a correlation matrix,
        which only simulation takes.
    way : str
        ``either``, or ``favourable``: only agreement in favour of the intervention counts.
    method : str
        ``integral`` or ``simulation``.
    draws, seed : int
        Of the simulation.

    Returns
    -------
    ChanceAgreement

    Raises
    ------
    DesignError
        For a number outside its range or a matrix that no data could have.

    Notes
    -----
    Standard normal effects with equal correlation r are ``sqrt(r) u + sqrt(1 - r) e``. Given u
    the outcomes are independent, each positive with chance ``Phi(u sqrt(r/(1 - r)))``, so the
    number positive is binomial, and the chance is one integral over the normal density of u
    [1]_.

    References
    ----------
    .. [1] Dunnett, C. W., & Sobel, M. (1955). Approximations to the probability integral and
           certain percentage points of a multivariate analogue of Student's t-distribution.
           Biometrika 42, 258-260.
    """
    k = whole(outcomes, name="outcomes", least=1)
    m = whole(at_least, name="at_least", least=1, most=k)
    choice(way, name="way", among=("either", "favourable"))

    def given(u, a, b):
        p = ndtr(a * u / b)
        counts = np.arange(k + 1)
        chances = [comb(k, c) * p**c * (1 - p) ** (k - c) for c in counts]
        return sum(c for c, met in zip(chances, _met(counts, k, m, way), strict=True) if met)

    def happens(effects):
        return _met((effects > 0).sum(axis=1), k, m, way)

    towards = "in favour of the intervention" if way == "favourable" else "the same way"
    return _chance(
        f"that at least {m} of {k} point {towards}",
        k=k,
        correlation=correlation,
        method=method,
        given=given,
        happens=happens,
        bends=(0.0,),
        draws=draws,
        seed=seed,
    )


def chance_any_significant(
    outcomes: int,
    *,
    correlation,
    alpha: float = 0.05,
    method: str = "integral",
    draws: int = 200_000,
    seed: int = 1,
) -> ChanceAgreement:
    """Chance that at least one outcome has a two-sided p below `alpha`, under no effect.

    Parameters, returns and errors are those of `chance_same_direction`; given u, an outcome
    stays unremarkable with chance ``Phi((c - sqrt(r) u)/sqrt(1 - r)) - Phi((-c - sqrt(r)
    u)/sqrt(1 - r))``, c being the two-sided critical value.
    """
    k = whole(outcomes, name="outcomes", least=1)
    alpha = strictly_between(alpha, name="alpha", low=0, high=1)
    c = float(ndtri(1 - alpha / 2))

    def given(u, a, b):
        return 1 - (ndtr((c - a * u) / b) - ndtr((-c - a * u) / b)) ** k

    def happens(effects):
        return (np.abs(effects) > c).any(axis=1)

    return _chance(
        f"that at least one of {k} has p below {alpha:g}",
        k=k,
        correlation=correlation,
        method=method,
        given=given,
        happens=happens,
        bends=(-c, c),
        draws=draws,
        seed=seed,
    )


def _met(positive, k: int, m: int, way: str):
    if way == "favourable":
        return positive >= m
    return np.maximum(positive, k - positive) >= m


def _chance(sentence, *, k, correlation, method, given, happens, bends, draws, seed):
    choice(method, name="method", among=("integral", "simulation"))
    if np.ndim(correlation) == 0:
        r = float(correlation)
        if not 0 <= r < 1:
            raise DesignError(f"correlation must lie from 0 to below 1; it is {correlation!r}")
        matrix, told = np.full((k, k), r), f"correlation {r:g} between outcomes"
        np.fill_diagonal(matrix, 1.0)
    else:
        matrix, told = _correlation_matrix(correlation, k), "correlations as given"
        if method == "integral":
            raise DesignError('a matrix of correlations needs method="simulation"')
    if method == "simulation":
        draws = whole(draws, name="draws", least=1000)
        chance = _simulated(matrix, happens, draws, seed)
        error = sqrt(chance * (1 - chance) / draws)
        words = f"simulation of {draws:,} studies, {told}, normal effects"
        return ChanceAgreement(chance, error, sentence, k, words)
    a, b = sqrt(r), sqrt(1 - r)
    edges = sorted(edge / a for edge in bends if a and abs(edge / a) < FARTHEST)

    def integrand(u):
        return np.exp(-u * u / 2) / sqrt(2 * np.pi) * given(u, a, b)

    # Near correlation 1 the integrand is a step at each edge, so a fine mesh is laid about it.
    mesh = {-FARTHEST, FARTHEST, 0.0}
    for edge in edges:
        mesh |= {edge, *(edge + side * b * reach for side in (-1, 1) for reach in (2, 8))}
    mesh = sorted(point for point in mesh if abs(point) <= FARTHEST)
    chance = sum(
        scipy.integrate.quad(integrand, low, high, epsabs=1e-12, epsrel=1e-10)[0]
        for low, high in pairwise(mesh)
    )
    words = f"one-dimensional integral, {told}, normal effects"
    return ChanceAgreement(float(min(max(chance, 0.0), 1.0)), 0.0, sentence, k, words)


def _correlation_matrix(correlation, k: int) -> np.ndarray:
    matrix = np.asarray(correlation, dtype=float)
    if matrix.shape != (k, k):
        raise DesignError(f"correlation must have shape ({k}, {k}); it has {matrix.shape}")
    usual = np.allclose(matrix, matrix.T) and np.allclose(np.diag(matrix), 1)
    lowest = np.linalg.eigvalsh(matrix).min() if usual else -1.0
    if not usual or lowest < -1e-10:
        raise DesignError(
            "correlation must be a correlation matrix: symmetrical, 1 on its diagonal, and with "
            f"no negative eigenvalue; it is {matrix.tolist()}"
        )
    return matrix


def _simulated(matrix: np.ndarray, happens, draws: int, seed: int) -> float:
    values, vectors = np.linalg.eigh(matrix)
    root = vectors * np.sqrt(np.maximum(values, 0))
    generator, seen, met = np.random.default_rng(seed), 0, 0
    while seen < draws:
        size = min(AT_ONCE, draws - seen)
        met += int(happens(generator.standard_normal((size, len(values))) @ root.T).sum())
        seen += size
    return met / draws
