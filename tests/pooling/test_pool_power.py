"""What would settle a question: by adding the studies, and by simulation."""

import numpy as np
import pytest
from scipy import stats

from steelyard.errors import DesignError
from steelyard.pooling import (
    detectable_difference,
    equivalence_of_pool,
    information_size,
    more_to_settle,
    pool,
    pool_many,
    settleable,
)
from steelyard.pooling.detectable import chance_beyond, chance_inside

Y = np.array([0.10, 0.42, -0.05, 0.61, 0.30])
V = np.array([0.04, 0.09, 0.02, 0.12, 0.05])
COMMON = {"between": "common"}


def answer(y, v, worthwhile, **options):
    wide, ninety = (pool(y, v, level=level, **options) for level in (0.95, 0.90))
    return equivalence_of_pool(ninety, wide=wide, margin=worthwhile).verdict.word


@pytest.mark.parametrize(
    ("effects", "worthwhile", "word"),
    [(Y, 0.08, "better"), (-Y, 0.08, "worse"), (Y - 0.1, 0.15, "equivalent")],
)
def test_adding_the_studies_settles_it_and_one_fewer_does_not(effects, worthwhile, word):
    need = more_to_settle(effects, V, worthwhile=worthwhile, **COMMON)
    assert (need.now, need.towards) == ("not settled", word)
    centre = pool(effects, V, **COMMON).estimate

    def with_more(m, variance):
        y, v = np.append(effects, [centre] * m), np.append(V, [variance] * m)
        return answer(y, v, worthwhile, **COMMON)

    assert with_more(need.studies, np.median(V)) == word
    assert with_more(need.studies - 1, np.median(V)) == "not settled"
    assert with_more(1, need.one_study_variance * 0.999) == word
    assert with_more(1, need.one_study_variance * 1.001) == "not settled"


def test_random_effects_take_their_t_and_their_ceiling():
    need = more_to_settle(Y, V, worthwhile=0.1)
    pooled = pool(Y, V)
    weight = 1 / (np.median(V) + pooled.tau2)
    total = (1 / (V + pooled.tau2)).sum()

    def half(m):
        return stats.t.ppf(0.975, 4 + m) / np.sqrt(total + m * weight)

    assert half(need.studies) <= pooled.estimate - 0.1 < half(need.studies - 1)
    assert need.standard_error_needed == pytest.approx((total + need.studies * weight) ** -0.5)
    # One study adds at most 1/tau2, which here is not enough.
    assert stats.t.ppf(0.975, 5) / np.sqrt(total + 1 / pooled.tau2) > pooled.estimate - 0.1
    assert np.isnan(need.one_study_variance)
    assert any("no single further study" in note for note in need.notes)


@pytest.mark.parametrize(("truth", "worthwhile"), [(0.35, 0.2), (0.0, 0.2)], ids=["better", "same"])
def test_power_by_simulation(truth, worthwhile):
    """Were all studies drawn afresh about the present estimate, 8 pools in 10 would settle it."""
    y = np.array([0.1, 0.2, 0.3, -0.1, -0.2, -0.3]) + truth
    v = np.full(6, 0.09)
    need = more_to_settle(y, v, worthwhile=worthwhile, power=0.8, **COMMON)
    assert need.studies > 1
    k = 6 + need.studies
    rng = np.random.default_rng(3)

    def settled(k):
        draws = rng.normal(truth, 0.3, (20_000, k))
        wide = pool_many(draws, np.full(draws.shape, 0.09), **COMMON)
        inner = pool_many(draws, np.full(draws.shape, 0.09), level=0.9, **COMMON)
        beyond = (wide.low >= worthwhile).mean()
        inside = ((inner.low > -worthwhile) & (inner.high < worthwhile)).mean()
        return beyond if truth > worthwhile else inside

    # Standard error of 20,000 simulations: 0.003.
    assert settled(k) >= 0.8 - 0.01
    assert settled(k - 1) <= 0.8 + 0.01


def test_people():
    need = more_to_settle(Y, V, worthwhile=0.08, people=[40, 20, 80, 16, 36], **COMMON)
    assert need.people == 36 * need.studies
    per_person = np.median(np.array([40, 20, 80, 16, 36]) * V)
    assert need.one_study_people == np.ceil(per_person / need.one_study_variance)
    assert "people" in str(need)
    assert more_to_settle(Y, V, worthwhile=0.08, **COMMON).people is None


def test_settled_and_never_settled():
    settled = more_to_settle([0.5, 0.5], [1e-4, 1e-4], worthwhile=0.2)
    assert (settled.now, settled.studies) == ("better", 0)
    border = more_to_settle([0.3, 0.1], [0.1, 0.1], worthwhile=0.2)
    assert (border.towards, border.studies) == ("", None)
    assert "border" in str(border)
    near = more_to_settle([0.3, 0.1], [0.1, 0.1], worthwhile=0.2 - 1e-6)
    assert near.studies is None and any("not even" in note for note in near.notes)


@pytest.mark.parametrize(
    ("y", "v"),
    [([0.3], [0.04]), ([0.3] * 4, [0.5] * 4), ([90, -80, 5], [1, 1, 1]), ([1, 2], [1e-8, 1])],
)
@pytest.mark.parametrize("power", [None, 0.8])
def test_hard_data(y, v, power):
    need = more_to_settle(y, v, worthwhile=0.2, power=power)
    assert need.studies is None or need.studies >= 0
    assert str(need)
    can = settleable(y, v, worthwhile=0.2)
    assert 0 < can.direction < can.worth_having and can.same > 0


def test_settleable_by_simulation():
    """Equal variances, Knapp-Hartung: the interval is a one-sample t, so the power is exact."""
    rng = np.random.default_rng(4)
    v, tau, k, n = 0.05, 0.3, 8, 40_000
    first = rng.normal(0, np.sqrt(v + tau**2), k)
    can = settleable(first, np.full(k, v), worthwhile=0.1)
    spread = np.sqrt(pool(first, np.full(k, v)).tau2 + v)
    assert can.standard_error == pytest.approx(spread / np.sqrt(k))

    def pools(truth, level):
        draws = rng.normal(truth, spread, (n, k))
        return pool_many(draws, np.full(draws.shape, v), level=level, allow_narrower=True)

    # Standard error of 40,000 simulations: 0.002.
    assert (pools(can.direction, 0.95).low > 0).mean() == pytest.approx(0.8, abs=0.008)
    assert (pools(can.worth_having, 0.95).low > 0.1).mean() == pytest.approx(0.8, abs=0.008)
    ninety = pools(0.0, 0.9)
    inside = (ninety.low > -can.same) & (ninety.high < can.same)
    assert inside.mean() == pytest.approx(0.8, abs=0.008)


@pytest.mark.parametrize("df", [1.0, 3.0, 20.0, 200.0])
def test_chances_against_the_noncentral_t(df):
    for level, distance in ((0.95, 3.0), (0.9, 1.0), (0.95, 0.0)):
        multiplier = stats.t.ppf((1 + level) / 2, df)
        theirs = stats.nct.sf(multiplier, df, distance) if distance else (1 - level) / 2
        ours = chance_beyond(distance, multiplier=multiplier, df=df)
        assert ours == pytest.approx(theirs, abs=2e-6)
    # Bounds far apart leave one of them only.
    multiplier = stats.t.ppf(0.95, df)
    one = chance_inside(1e9, 3.0, multiplier=multiplier, df=df)
    assert one == pytest.approx(stats.nct.sf(multiplier, df, 3.0), abs=2e-6)


@pytest.mark.parametrize("contrast", ["post", "change", "adjusted"])
def test_information_size_by_simulation(contrast):
    """Pre and post scores of two arms of the size found are told apart 8 times in 10."""
    d, r, trials = 0.4, 0.7, 4000
    n = information_size(d, r_pre_post=r, contrast=contrast).per_arm
    rng = np.random.default_rng(6)
    pre = rng.normal(size=(trials, 2, n))
    post = r * pre + np.sqrt(1 - r**2) * rng.normal(size=pre.shape)
    post[:, 0] += d
    if contrast == "post":
        score, variance = post, 1.0
    elif contrast == "change":
        score, variance = post - pre, 2 * (1 - r)
    else:
        # Adjusted for pre by the known slope; estimating it costs one degree of freedom.
        score, variance = post - r * pre, 1 - r**2
    means = score.mean(axis=2)
    spread = np.sqrt(score.var(axis=2, ddof=1).mean(axis=1))
    assert spread.mean() ** 2 == pytest.approx(variance, rel=0.02)
    told = (means[:, 0] - means[:, 1]) / (spread * np.sqrt(2 / n)) > 1.959964
    # Standard error of 4,000 simulations: 0.006.
    assert told.mean() == pytest.approx(0.8, abs=0.02)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: more_to_settle(Y, V, worthwhile=0), "worthwhile must be above 0"),
        (lambda: more_to_settle(Y, V, worthwhile=0.1, power=1), "power must lie between"),
        (lambda: more_to_settle(Y, V, worthwhile=0.1, people=[3]), "people must have shape"),
        (lambda: more_to_settle(Y, V, worthwhile=0.1, people=[0] * 5), "must be above 0"),
        (lambda: settleable(Y, V, power=0.4), "power must lie between"),
        (lambda: settleable([], []), "at least one value"),
        (lambda: detectable_difference([0.1, 0.0]), "every variance must be finite"),
        (lambda: detectable_difference(0.1, power=0.01), "power must lie between"),
        (lambda: information_size(0.2, r_pre_post=1), "r_pre_post must lie between"),
        (lambda: information_size(0.2, r_pre_post=0, contrast="gain"), "post, change, adjusted"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(DesignError, match=words):
        call()
