"""The posterior by quadrature against other routes, and at its edges."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from steelyard.errors import DesignError
from steelyard.pooling import pool, posterior, prior_sensitivity
from steelyard.pooling.normal_mixture import NormalMixture

Y = np.array([0.10, 0.42, -0.05, 0.61, 0.30])
V = np.array([0.04, 0.09, 0.02, 0.12, 0.05])
PAIRS = list(zip(Y.tolist(), V.tolist(), strict=True))
PRIORS = {"tau_scale": 0.3, "prior_mean": 0.05, "prior_sd": 0.7}


def joint(mean, tau):
    """Likelihood times priors, written out plainly."""
    height = -((mean - 0.05) ** 2) / 0.7**2 / 2 - tau**2 / 0.3**2 / 2
    for y, v in PAIRS:
        height -= (math.log(v + tau**2) + (y - mean) ** 2 / (v + tau**2)) / 2
    return math.exp(height)


def test_against_two_dimensional_quadrature():
    found = posterior(Y, V, **PRIORS, worthwhile=0.1)

    def whole(weight, low=-4.0, high=4.0, top=2.5):
        return integrate.dblquad(lambda m, t: weight(m, t) * joint(m, t), 0, top, low, high)[0]

    total = whole(lambda m, t: 1)
    mean = whole(lambda m, t: m) / total
    assert found.effect.mean == pytest.approx(mean, abs=1e-8)
    assert found.effect.sd**2 == pytest.approx(whole(lambda m, t: (m - mean) ** 2) / total)
    assert found.tau.mean == pytest.approx(whole(lambda m, t: t) / total, abs=1e-8)
    assert found.effect.above == pytest.approx(whole(lambda m, t: 1, low=0.1) / total, abs=1e-8)
    assert found.effect.below == pytest.approx(whole(lambda m, t: 1, high=-0.1) / total, abs=1e-8)
    assert whole(lambda m, t: 1, high=found.effect.low) / total == pytest.approx(0.025, abs=1e-8)
    assert whole(lambda m, t: 1, high=found.effect.high) / total == pytest.approx(0.975, abs=1e-8)
    for quantile, chance in ((found.tau.low, 0.025), (found.tau.high, 0.975)):
        assert whole(lambda m, t: 1, top=quantile) / total == pytest.approx(chance, abs=1e-6)
    further = whole(lambda m, t: math.erfc((0.1 - m) / max(t, 1e-12) / 2**0.5) / 2) / total
    assert found.next_study.above == pytest.approx(further, abs=1e-6)


def test_against_weighted_draws_from_the_prior():
    rng = np.random.default_rng(20240607)
    draws = 1_000_000
    mean, tau = rng.normal(0.05, 0.7, draws), np.abs(rng.normal(0, 0.3, draws))
    weight = np.zeros(draws)
    for y, v in zip(Y, V, strict=True):
        weight += stats.norm.logpdf(y, mean, np.sqrt(v + tau**2))
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    further = rng.normal(mean, tau)
    found = posterior(Y, V, **PRIORS, worthwhile=0.1)
    # About 100,000 draws' worth of information: chances within some 0.005, means 0.002.
    assert 1 / (weight**2).sum() > 80_000
    assert found.effect.mean == pytest.approx(weight @ mean, abs=0.002)
    assert found.tau.median == pytest.approx(
        np.interp(0.5, np.cumsum(weight[order := np.argsort(tau)]), tau[order]), abs=0.003
    )
    for part, values in ((found.effect, mean), (found.next_study, further)):
        assert part.above == pytest.approx(weight @ (values > 0.1), abs=0.006)
        assert part.within == pytest.approx(weight @ (np.abs(values) <= 0.1), abs=0.006)
        assert part.positive == pytest.approx(weight @ (values > 0), abs=0.006)
        order = np.argsort(values)
        ends = np.interp([0.025, 0.975], np.cumsum(weight[order]), values[order])
        assert (part.low, part.high) == pytest.approx(ends, abs=0.015)


def test_without_scatter_it_is_the_conjugate_normal():
    """A prior that pins tau at zero leaves precision-weighted averaging of prior and data."""
    found = posterior(Y, V, tau_scale=1e-7, prior_mean=0.05, prior_sd=0.7)
    precision = (1 / V).sum() + 1 / 0.7**2
    mean = ((Y / V).sum() + 0.05 / 0.7**2) / precision
    assert found.effect.mean == pytest.approx(mean, rel=1e-9)
    assert found.effect.sd == pytest.approx(precision**-0.5, rel=1e-9)
    z = 1.959963984540054  # any table
    assert found.effect.low == pytest.approx(mean - z * precision**-0.5, rel=1e-9)
    assert found.next_study.high == pytest.approx(found.effect.high, rel=1e-9)
    assert found.prior_share == pytest.approx(1 / 0.7**2 / precision, rel=1e-9)
    # The half-normal prior itself: mean sqrt(2/pi) scale, median 0.67449 scale (any table).
    assert found.tau.mean == pytest.approx(1e-7 * np.sqrt(2 / np.pi), rel=1e-6)
    assert found.tau.median == pytest.approx(0.6744897501960817e-7, rel=1e-5)


def test_many_studies_meet_the_pool():
    rng = np.random.default_rng(5)
    v = rng.uniform(0.02, 0.2, 3000)
    y = rng.normal(0.3, np.sqrt(v + 0.25))
    found, pooled = posterior(y, v, tau_scale=1, prior_sd=10), pool(y, v, interval="normal")
    assert found.effect.mean == pytest.approx(pooled.estimate, abs=2e-4)
    assert found.effect.sd == pytest.approx(pooled.standard_error, rel=2e-3)
    assert found.tau.median == pytest.approx(pooled.tau2**0.5, rel=3e-3)
    assert found.next_study.sd == pytest.approx(pooled.tau2**0.5, rel=5e-3)


def test_no_studies_worth_mentioning_leave_the_prior():
    found = posterior([0.0], [1e12], tau_scale=0.4, prior_sd=0.5)
    assert found.effect.sd == pytest.approx(0.5, rel=1e-6)
    assert found.tau.mean == pytest.approx(0.4 * np.sqrt(2 / np.pi), rel=1e-6)
    assert found.prior_share == pytest.approx(1, abs=1e-6)
    assert any("one study" in note for note in found.notes)
    assert "informed" in found.priors[1]


HARD = [
    pytest.param([0.3], [0.04], 0.3, 1.0, id="one study"),
    pytest.param([0.3] * 4, [0.01, 0.02, 0.03, 0.04], 0.3, 1.0, id="identical effects"),
    pytest.param([0, 100.0, -100], [0.01] * 3, 0.3, 500.0, id="scatter far beyond the prior"),
    pytest.param([0.1, 0.6, -0.5, 0.9], [4e-10, 0.05, 0.04, 0.06], 0.3, 1.0, id="ratio 1e8"),
    pytest.param([0.1, 0.1001, -0.5, 0.9], [4e-10, 4e-10, 0.04, 0.06], 50, 1e3, id="two scales"),
    pytest.param([40.0, 41.0], [0.1, 0.1], 0.5, 0.01, id="data and prior disagree"),
]


@pytest.mark.parametrize(("y", "v", "scale", "sd"), HARD)
def test_hard_data_against_a_plain_fine_grid(y, v, scale, sd):
    y, v = np.array(y), np.array(v)
    found = posterior(y, v, tau_scale=scale, prior_sd=sd, worthwhile=0.2)
    u = np.linspace(np.log(1e-9), np.log(400 * scale + 1000), 400_001)
    tau = np.exp(u)
    # The marginal likelihood as one multivariate normal, by the matrix determinant lemma.
    w = 1 / (v[:, None] + tau**2)
    total = w.sum(axis=0)
    b = (w * y[:, None]).sum(axis=0)
    height = np.log(w).sum(axis=0) - np.log1p(sd**2 * total)
    centre = b / (total + sd**-2)
    height -= (w * (y[:, None] - centre) ** 2).sum(axis=0) + centre**2 / sd**2
    height = (height - tau**2 / scale**2) / 2 + u
    mass = np.exp(height - height.max())
    mass /= mass.sum()
    spread = 1 / (total + sd**-2)
    mean = (mass * centre).sum()
    assert found.effect.mean == pytest.approx(mean, rel=1e-5, abs=1e-7)
    variance = (mass * (spread + (centre - mean) ** 2)).sum()
    assert found.effect.sd == pytest.approx(variance**0.5, rel=1e-5)
    assert found.tau.mean == pytest.approx((mass * tau).sum(), rel=1e-5)
    reached = np.interp([found.tau.low, found.tau.median, found.tau.high], tau, np.cumsum(mass))
    assert reached == pytest.approx([0.025, 0.5, 0.975], abs=1e-3)
    above = (mass * stats.norm.sf(0.2, centre, np.sqrt(spread + tau**2))).sum()
    assert found.next_study.above == pytest.approx(above, abs=1e-6)


def test_scale_does_not_matter():
    one = posterior(Y, V, **PRIORS, worthwhile=0.1)
    big = posterior(1e6 * Y, 1e12 * V, tau_scale=3e5, prior_mean=5e4, prior_sd=7e5, worthwhile=1e5)
    assert big.effect.high == pytest.approx(1e6 * one.effect.high)
    assert big.tau.high == pytest.approx(1e6 * one.tau.high)
    assert big.next_study.within == pytest.approx(one.next_study.within)


def test_chances_and_curves_are_whole():
    found = posterior(Y, V, **PRIORS, worthwhile=0.1, level=0.8)
    for part in (found.effect, found.next_study):
        assert part.below + part.within + part.above == pytest.approx(1)
        area = np.trapezoid(part.density, part.points)
        assert area == pytest.approx(0.999, abs=1e-4)
        assert part.low < part.median < part.high
    assert found.next_study.sd > found.effect.sd
    assert np.isnan(posterior(Y, V, **PRIORS).effect.within)
    text = str(found)
    assert "80 %" in text and "half-normal, scale 0.3" in text and "weak: it has" in text
    assert "enough to matter" not in str(posterior(Y, V, **PRIORS))


def test_absent_effects_change_nothing():
    with_gap = posterior([*Y[:2], np.nan, *Y[2:]], [*V[:2], np.nan, *V[2:]], **PRIORS)
    assert with_gap.effect.low == posterior(Y, V, **PRIORS).effect.low
    assert "1 effect of 6 absent and left out" in with_gap.notes


def test_prior_sensitivity_is_the_posterior_row_by_row():
    table = prior_sensitivity(
        Y, V, tau_scales=[0.1, 0.3, 1], mean_priors=[(0, 10), (0.2, 0.1)], worthwhile=0.1
    )
    assert table.shape[0] == 6
    for row in table.itertuples():
        one = posterior(
            Y,
            V,
            tau_scale=row.tau_scale,
            prior_mean=row.prior_mean,
            prior_sd=row.prior_sd,
            worthwhile=0.1,
        )
        assert row.median == pytest.approx(one.effect.median, rel=1e-12)
        assert row.next_above == pytest.approx(one.next_study.above, rel=1e-12)
        assert row.tau_high == pytest.approx(one.tau.high, rel=1e-12)
    weak = table[table.prior_sd == 10]
    assert (weak.high - weak.low).is_monotonic_increasing
    assert (weak.prior_share < 0.01).all()


def test_mixture_of_one_is_normal():
    one = NormalMixture(np.ones((1, 1)), np.full((1, 1), 2.0), np.full((1, 1), 3.0))
    points = np.array([[-4.0, 2.0, 30.0]])
    assert one.below(points) == pytest.approx(stats.norm.cdf(points, 2, 3))
    assert one.above(points) == pytest.approx(stats.norm.sf(points, 2, 3))
    assert one.density(points) == pytest.approx(stats.norm.pdf(points, 2, 3))
    assert one.quantiles([0.1, 0.9]) == pytest.approx(stats.norm.ppf([[0.1, 0.9]], 2, 3))


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"tau_scale": 0}, "tau_scale must be above 0"),
        ({"prior_sd": -1}, "prior_sd must be above 0"),
        ({"prior_mean": np.inf}, "prior_mean must be finite"),
        ({"worthwhile": 0}, "worthwhile must be above 0"),
        ({"level": 95}, "level must lie between 0 and 1"),
    ],
)
def test_refusals(changed, words):
    with pytest.raises(DesignError, match=words):
        posterior(Y, V, **{**PRIORS, **changed})
    with pytest.raises(DesignError, match="at least one value"):
        posterior([np.nan], [0.1], **PRIORS)
    with pytest.raises(DesignError, match="at least one entry"):
        prior_sensitivity(Y, V, tau_scales=[], mean_priors=[(0, 1)])
