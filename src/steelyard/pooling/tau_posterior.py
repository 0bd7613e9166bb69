"""Posterior of the between-study SD by quadrature, and the mean effect given it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SCAN_POINTS, SCANS = 201, 3
# Logarithm of the smallest density, against the largest, that is integrated.
DEPTH = 45.0
PANELS = 96
NODES, NODE_WEIGHTS = np.polynomial.legendre.leggauss(5)
NUMBERS_AT_ONCE = 4_000_000


@dataclass(frozen=True, slots=True, eq=False)
class TauPosterior:
    """Posterior of tau at nodes, and of the mean effect given tau; a row per analysis.

    Attributes
    ----------
    tau, mass : ndarray, shape (analyses, nodes)
        Nodes and their probabilities, which sum to 1 along a row.
    mean, sd : ndarray, shape (analyses, nodes)
        Of the normal distribution of the mean effect given tau.
    prior_share : ndarray, shape (analyses,)
        Share of the prior in the precision of the mean effect, averaged over tau.
    stretch : ndarray, shape (analyses,)
        ``tau = stretch * sinh(u)``.
    edges, below, slope : ndarray, shape (analyses, panels + 1)
        Panel edges in u, the probability below each, and the density of u there.
    """

    tau: np.ndarray
    mass: np.ndarray
    mean: np.ndarray
    sd: np.ndarray
    prior_share: np.ndarray
    stretch: np.ndarray
    edges: np.ndarray
    below: np.ndarray
    slope: np.ndarray

    def quantiles(self, probabilities) -> np.ndarray:
        """Quantiles of tau, shape (analyses, n); cubic between panel edges."""
        found = np.empty((len(self.tau), len(probabilities)))
        for row, stretch in enumerate(self.stretch):
            below, edges, slope = self.below[row], self.edges[row], self.slope[row]
            panel = np.clip(np.searchsorted(below, probabilities) - 1, 0, PANELS - 1)
            width = edges[panel + 1] - edges[panel]
            low, high = np.zeros(len(probabilities)), np.ones(len(probabilities))
            for _ in range(60):
                s = (low + high) / 2
                reached = (
                    below[panel] * (1 + 2 * s) * (1 - s) ** 2
                    + below[panel + 1] * s**2 * (3 - 2 * s)
                    + width * slope[panel] * s * (1 - s) ** 2
                    - width * slope[panel + 1] * s**2 * (1 - s)
                )
                short = reached < probabilities
                low, high = np.where(short, s, low), np.where(short, high, s)
            found[row] = stretch * np.sinh(edges[panel] + width * (low + high) / 2)
        return found


@dataclass(frozen=True, slots=True)
class _Height:
    log_density: np.ndarray
    mean: np.ndarray
    precision: np.ndarray


def tau_posterior(y, v, present, *, tau_scale, prior_mean, prior_sd) -> TauPosterior:
    """Integrate the posterior of tau for each analysis.

    Parameters
    ----------
    y, v, present : ndarray, shape (analyses, k)
        Effects, variances and which of them are present, as checked by `present_effects`.
    tau_scale, prior_mean, prior_sd : ndarray, shape (analyses,)
        Scale of the half-normal prior of tau; mean and SD of the normal prior of the mean.

    Notes
    -----
    With ``w = 1/(v + tau**2)``, ``W = sum w``, ``m = sum(w y)/W`` and prior N(p, s**2), the
    mean effect given tau is normal with precision ``W + 1/s**2``; integrating it out leaves

        log density(tau) = (sum log w - sum w (y - m)**2 - log(1 + W s**2)
                            - (m - p)**2 / (1/W + s**2) - tau**2/scale**2) / 2 + constant.

    It is integrated in ``u = asinh(tau / least standard error)``, in which a density that
    lives on the scale of any of the studies is smooth, by Gauss-Legendre panels over the part
    found, by scanning ever more closely, to be more than exp(-45) of the highest.

    No density is lost above the scan: there ``d log density/d tau <= R/tau**3 - tau/scale**2``
    with ``R = sum (y - p)**2``, so beyond ``(R scale**2)**(1/4)`` it falls at least as fast as
    the prior does from its own top; the scan goes on for ten scales.
    """
    analyses, k = y.shape
    nodes = PANELS * len(NODES)
    at_once = max(1, NUMBERS_AT_ONCE // (nodes * k))
    parts = [
        _some(y[rows], v[rows], present[rows], tau_scale[rows], prior_mean[rows], prior_sd[rows])
        for rows in (slice(b, b + at_once) for b in range(0, analyses, at_once))
    ]
    names = TauPosterior.__slots__
    return TauPosterior(
        **{name: np.concatenate([getattr(part, name) for part in parts]) for name in names}
    )


def _some(y, v, present, tau_scale, prior_mean, prior_sd) -> TauPosterior:
    stretch = np.sqrt(np.where(present, v, np.inf).min(axis=1))
    r = np.where(present, y - prior_mean[:, None], 0.0)
    v = np.where(present, v, 1.0)

    def height(u) -> _Height:
        tau = stretch[:, None] * np.sinh(u)
        total = v[:, None] + tau[:, :, None] ** 2
        w = present[:, None] / total
        precision = w.sum(axis=2)
        mean = np.einsum("ank,ak->an", w, r) / precision
        q = (w * (r[:, None] - mean[:, :, None]) ** 2).sum(axis=2)
        s2 = prior_sd[:, None] ** 2
        twice = -(np.log(total) * present[:, None]).sum(axis=2) - q
        twice -= np.log1p(precision * s2) + mean**2 / (1 / precision + s2)
        twice -= (tau / tau_scale[:, None]) ** 2
        # The last term turns a density of tau into one of u.
        return _Height(twice / 2 + np.log(np.cosh(u)), mean, precision)

    summit = ((r**2).sum(axis=1) * tau_scale**2) ** 0.25
    low = np.zeros(len(y))
    high = np.arcsinh((summit + 10 * tau_scale) / stretch)
    top = np.full(len(y), -np.inf)
    for _ in range(SCANS):
        u = low[:, None] + (high - low)[:, None] * np.linspace(0, 1, SCAN_POINTS)
        log_density = height(u).log_density
        top = np.maximum(top, log_density.max(axis=1))
        seen = log_density > top[:, None] - DEPTH
        first = np.maximum(seen.argmax(axis=1) - 1, 0)
        last = np.minimum(SCAN_POINTS - seen[:, ::-1].argmax(axis=1), SCAN_POINTS - 1)
        rows = np.arange(len(y))
        low, high = u[rows, first], u[rows, last]

    edges = low[:, None] + (high - low)[:, None] * np.linspace(0, 1, PANELS + 1)
    half = np.diff(edges, axis=1)[:, :, None] / 2
    middle = (edges[:, :-1] + edges[:, 1:])[:, :, None] / 2
    u = (middle + half * NODES).reshape(len(y), -1)
    found = height(u)
    top = found.log_density.max(axis=1, keepdims=True)
    mass = np.exp(found.log_density - top) * (half * NODE_WEIGHTS).reshape(len(y), -1)
    whole = mass.sum(axis=1, keepdims=True)
    mass /= whole
    panels = mass.reshape(len(y), PANELS, -1).sum(axis=2)
    prior_precision = 1 / prior_sd[:, None] ** 2
    precision = found.precision + prior_precision
    return TauPosterior(
        tau=stretch[:, None] * np.sinh(u),
        mass=mass,
        mean=prior_mean[:, None] + found.mean * found.precision / precision,
        sd=1 / np.sqrt(precision),
        prior_share=(mass * prior_precision / precision).sum(axis=1),
        stretch=stretch,
        edges=edges,
        below=np.concatenate([np.zeros((len(y), 1)), np.cumsum(panels, axis=1)], axis=1),
        slope=np.exp(height(edges).log_density - top) / whole,
    )
