"""The pool as probabilities: what the effects make of a prior."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.errors import DesignError
from steelyard.pooling.checking import level_between_zero_and_one, numbers, present_effects
from steelyard.pooling.checking_settings import above_zero, finite
from steelyard.pooling.normal_mixture import NormalMixture
from steelyard.pooling.tau_posterior import TauPosterior, tau_posterior
from steelyard.show import Shown, count, number
from steelyard.show import interval as shown_interval

CURVE_PROBABILITIES = (0.0005, 0.9995)
CURVE_POINTS = 201
# 95 % of a half-normal distribution lies below this many scales.
HALF_NORMAL_95 = 1.959963984540054
WEAK_SHARE = 0.05
# Own rule: a median this many scales up lies where the prior has 1 % of its weight.
FORESEEN = 2.6


@dataclass(frozen=True, slots=True, eq=False)
class Marginal:
    """One quantity's posterior.

    Attributes
    ----------
    mean, sd, median, low, high : float
        `low` to `high` holds `level` of the probability, with as much below as above.
    positive : float
        Probability above 0.
    below, within, above : float
        Probabilities below -worthwhile, from there to +worthwhile, and above; NaN where no
        smallest worthwhile effect is given.
    points, density : ndarray, shape (201,)
        Curve over the middle 99.9 % of the probability.
    """

    mean: float
    sd: float
    median: float
    low: float
    high: float
    positive: float
    below: float
    within: float
    above: float
    points: np.ndarray
    density: np.ndarray


@dataclass(frozen=True, slots=True)
class BetweenStudies:
    """Posterior of the between-study SD: mean, SD, median and equal-tailed interval."""

    mean: float
    sd: float
    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class Posterior(Shown):
    """Posterior of a random-effects model.

    Attributes
    ----------
    effect : Marginal
        The mean of true effects.
    next_study : Marginal
        The true effect of a further, similar study.
    tau : BetweenStudies
        The between-study SD.
    level : float
    worthwhile : float or None
    k : int
    prior_share : float
        Share of the prior in the precision of the mean, from 0 to 1.
    priors, notes : tuple of str
        In words.
    """

    effect: Marginal
    next_study: Marginal
    tau: BetweenStudies
    level: float
    worthwhile: float | None
    k: int
    prior_share: float
    priors: tuple[str, ...]
    notes: tuple[str, ...]

    def _title(self) -> str:
        return f"Posterior from {count(self.k, 'effect')}"

    def _rows(self) -> list[tuple[str, str]]:
        percent = f"{100 * self.level:g} %"
        rows = []
        for name, part in (("mean effect", self.effect), ("next study", self.next_study)):
            span = shown_interval(part.low, part.high, decimals=3)
            rows.append((name, f"{number(part.median, decimals=3, sign=True)}, {percent} {span}"))
            chances = f"above zero {_percent(part.positive)}"
            if self.worthwhile is not None:
                chances += (
                    f"; better by enough to matter {_percent(part.above)}, "
                    f"about the same {_percent(part.within)}, worse {_percent(part.below)}"
                )
            rows.append((name, chances))
        span = shown_interval(self.tau.low, self.tau.high, decimals=3, sign=False)
        rows.append(
            ("between studies", f"SD {number(self.tau.median, decimals=3)}, {percent} {span}")
        )
        rows += [("prior", text) for text in self.priors]
        return rows + [("note", note) for note in self.notes]


def _percent(chance: float) -> str:
    return f"{number(100 * chance, decimals=1)} %"


def posterior(
    effect,
    variance,
    *,
    tau_scale,
    prior_sd,
    prior_mean: float = 0.0,
    worthwhile=None,
    level: float = 0.95,
) -> Posterior:
    """Random-effects posterior by quadrature: the same numbers every time.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        Effects and sampling variances; NaN effects are left out. At least one present.
    tau_scale : float
        Scale of the half-normal prior of the between-study SD, above 0; effect's unit.
    prior_sd, prior_mean : float
        SD (above 0) and mean of the normal prior of the mean effect. A large SD is weak.
    worthwhile : float, optional
        Smallest worthwhile effect, above 0.
    level : float
        Of all intervals; between 0 and 1.

    Returns
    -------
    Posterior

    Raises
    ------
    DesignError
        Without any effect, for a number outside its range, and as in `pool`.

    Notes
    -----
    Effects are N(mean, v + tau**2). Given tau the mean is normal, so the posterior of the
    mean, and that of a further study's true effect N(mean, tau**2), are mixtures of normals
    over the posterior of tau [1]_, integrated as in `tau_posterior`.

    References
    ----------
    .. [1] Spiegelhalter, D. J., Abrams, K. R., & Myles, J. P. (2004). Bayesian approaches to
           clinical trials and health-care evaluation. Wiley.
    """
    y = numbers(effect, name="effect", ndim=1)
    v = numbers(variance, name="variance", ndim=1)
    scale = above_zero(tau_scale, name="tau_scale")
    centre = finite(prior_mean, name="prior_mean")
    spread = above_zero(prior_sd, name="prior_sd")
    return posteriors(y, v, priors=[(scale, centre, spread)], worthwhile=worthwhile, level=level)[0]


def posteriors(y, v, *, priors, worthwhile, level) -> list[Posterior]:
    """`posterior` under several priors ``(tau_scale, prior_mean, prior_sd)`` in one sweep."""
    level = level_between_zero_and_one(level)
    if worthwhile is not None:
        worthwhile = above_zero(worthwhile, name="worthwhile")
    present = present_effects(y, v)
    k = int(present.sum())
    if not k:
        raise DesignError(f"effect must have at least one value; {y.size} given, none present")
    scale, centre, spread = np.array(priors, dtype=float).T
    shape = (len(priors), k)
    grid = tau_posterior(
        np.broadcast_to(y[present], shape),
        np.broadcast_to(v[present], shape),
        np.ones(shape, dtype=bool),
        tau_scale=scale,
        prior_mean=centre,
        prior_sd=spread,
    )
    effects = _marginals(NormalMixture(grid.mass, grid.mean, grid.sd), worthwhile, level)
    further = NormalMixture(grid.mass, grid.mean, np.hypot(grid.sd, grid.tau))
    nexts = _marginals(further, worthwhile, level)
    taus = _between_studies(grid, level)
    return [
        Posterior(
            effect=effects[row],
            next_study=nexts[row],
            tau=taus[row],
            level=level,
            worthwhile=worthwhile,
            k=k,
            prior_share=float(grid.prior_share[row]),
            priors=_priors_in_words(*priors[row], float(grid.prior_share[row])),
            notes=_notes(k, y.size, taus[row], float(scale[row])),
        )
        for row in range(len(priors))
    ]


def _marginals(mixture: NormalMixture, worthwhile: float | None, level: float) -> list[Marginal]:
    tails = ((1 - level) / 2, 0.5, (1 + level) / 2, *CURVE_PROBABILITIES)
    low, median, high, begin, end = mixture.quantiles(tails).T
    points = begin[:, None] + (end - begin)[:, None] * np.linspace(0, 1, CURVE_POINTS)
    density = mixture.density(points)
    bound = np.full((len(low), 1), np.nan if worthwhile is None else worthwhile)
    above, below = mixture.above(bound)[:, 0], mixture.below(-bound)[:, 0]
    within = mixture.below(bound)[:, 0] - below
    positive = mixture.above(np.zeros_like(bound))[:, 0]
    average, deviation = mixture.average, mixture.deviation
    columns = (average, deviation, median, low, high, positive, below, within, above)
    return [
        Marginal(*(float(column[row]) for column in columns), points[row], density[row])
        for row in range(len(low))
    ]


def _between_studies(grid: TauPosterior, level: float) -> list[BetweenStudies]:
    mean = (grid.mass * grid.tau).sum(axis=1)
    sd = np.sqrt((grid.mass * (grid.tau - mean[:, None]) ** 2).sum(axis=1))
    low, median, high = grid.quantiles([(1 - level) / 2, 0.5, (1 + level) / 2]).T
    rows = zip(mean, sd, median, low, high, strict=True)
    return [BetweenStudies(*map(float, row)) for row in rows]


def _priors_in_words(scale, centre, spread, share) -> tuple[str, ...]:
    strength = "weak" if share < WEAK_SHARE else "informed"
    return (
        f"between-study SD: half-normal, scale {scale:g} (95 % of it below "
        f"{HALF_NORMAL_95 * scale:.3g})",
        f"mean effect: normal about {number(centre, decimals=2)}, SD {spread:g}; {strength}: it "
        f"has {number(100 * share, decimals=1)} % of the weight in the mean",
    )


def unforeseen(tau: BetweenStudies, *, scale: float) -> bool:
    """Whether studies scatter more than the half-normal prior of that scale has room for."""
    return tau.median > FORESEEN * scale


def _notes(k: int, given: int, tau: BetweenStudies, scale: float) -> tuple[str, ...]:
    notes = []
    if k < given:
        notes.append(f"{count(given - k, 'effect')} of {given} absent and left out")
    if k == 1:
        notes.append("one study: the between-study SD rests on its prior alone")
    elif k < 5:
        notes.append(f"{k} studies: the between-study SD leans on its prior")
    if unforeseen(tau, scale=scale):
        notes.append(
            "the effects scatter more than the prior of the between-study SD foresees: a wider "
            "one would give a wider interval"
        )
    return tuple(notes)
