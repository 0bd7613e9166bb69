"""Interval for the share of between-study variance: a second route, coverage, limits, words."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import ncf

from steelyard import open_library
from steelyard.pooling.moderators import moderate
from steelyard.pooling.share_of_variance import share_by_distributions
from tests.small_library import comparison, question, study


def _drawn(rng, k, *, share, total, columns=1):
    """Effects whose moderators take up `share` of a variance `total` between studies."""
    x = rng.normal(size=(k, columns))
    x = np.linalg.qr(x - x.mean(axis=0))[0] * np.sqrt(k - 1)
    v = np.exp(rng.normal(0, 0.5, k))
    line = x @ np.full(columns, np.sqrt(share * total / columns))
    y = 0.3 + line + rng.normal(size=k) * np.sqrt(v + (1 - share) * total)
    return y, v, np.column_stack([np.ones(k), x])


@pytest.mark.parametrize(("k", "columns"), [(6, 1), (8, 1), (12, 2), (20, 3)])
def test_without_sampling_error_it_inverts_the_non_central_f(k, columns):
    # Second route: least squares, F by hand, SciPy's non-central F. 199 points give 0.002.
    rng = np.random.default_rng(k)
    y, _, design = _drawn(rng, k, share=0.7, total=1e6, columns=columns)
    found = share_by_distributions(y, np.full(k, 1e-6), design)
    fitted = design @ np.linalg.lstsq(design, y, rcond=None)[0]
    df = k - columns - 1
    f = ((fitted - y.mean()) ** 2).sum() / columns / (((y - fitted) ** 2).sum() / df)

    def share(probability):
        def beyond(centre):
            return ncf.cdf(f, columns, df, centre) - probability

        centre = 0.0 if beyond(1e-9) < 0 else brentq(beyond, 1e-9, 300)
        return centre / (centre + k - 1)

    assert (found.low, found.high) == pytest.approx((share(0.975), share(0.025)), abs=0.002)


@pytest.mark.parametrize(("k", "share"), [(6, 0.0), (6, 0.5), (6, 0.9), (8, 0.9), (12, 0.9)])
def test_it_holds_the_share_as_often_as_it_says(k, share):
    # 200 sets with a variance between studies like the sampling variances: binomial SD of 95 %
    # is 1.5 points. In 400 sets per cell of the grid told in the module, 93 to 99 times in 100.
    rng = np.random.default_rng(100 * k + int(10 * share))
    held = 0
    for _ in range(200):
        found = share_by_distributions(*_drawn(rng, k, share=share, total=1.0))
        held += found.low <= share <= found.high
    assert held / 200 >= 0.91


def test_two_moderators_are_held_too():
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(200):
        found = share_by_distributions(*_drawn(rng, 12, share=0.6, total=2.0, columns=2))
        held += found.low <= 0.6 <= found.high
    assert held / 200 >= 0.91


def test_units_order_and_level():
    y, v, design = _drawn(np.random.default_rng(2), 10, share=0.7, total=4.0)
    once = share_by_distributions(y, v, design)
    order = np.random.default_rng(3).permutation(10)
    other = design[order] @ np.array([[1.0, 7.0], [0.0, -60.0]])
    again = share_by_distributions(5 + 100 * y[order], 1e4 * v[order], other)
    assert (again.low, again.high) == pytest.approx((once.low, once.high), abs=1e-6)
    narrow = share_by_distributions(y, v, design, level=0.5)
    assert once.low <= narrow.low < narrow.high <= once.high
    assert once.used == once.draws == 0


def test_where_nothing_is_known_anything_may_be():
    # Effects alike far beyond their errors: no variance between studies to share.
    x = np.arange(8.0)
    design = np.column_stack([np.ones(8), x])
    found = share_by_distributions(np.full(8, 0.4), np.ones(8), design)
    assert (found.low, found.high) == (0.0, 1.0)
    # All of a large variance along the line; and, with no slope at all, little of it.
    rough = np.tile([1.0, -1.0, -1.0, 1.0], 2)
    along = share_by_distributions(x + 0.01 * rough, np.full(8, 1e-8), design)
    assert along.low > 0.99
    across = share_by_distributions(np.tile([1.0, -1.0, -1.0, 1.0], 2), np.full(8, 1e-8), design)
    assert across.low == 0.0 and across.high < 0.6


def _opened(tmp_path, values, *, outcomes=1):
    names = ("peak", "more")[:outcomes]
    for number, value in enumerate(values):
        body = "".join(
            comparison(
                outcome=name,
                standardised=f"{{ value = {value + 0.1 * place:.1f}, se = 0.2, over = 'pre-sd' }}",
            )
            for place, name in enumerate(names)
        )
        more = '[[outcome]]\nid = "more"\nconstruct = "strength"\nunit = "N"\n'
        more = more if outcomes > 1 else ""
        study(tmp_path, f"s{number}", body, year=2000 + number, outcome_more=more)
    question(tmp_path)
    library = open_library(tmp_path)
    return moderate(library.weigh("asked"), library.studies, ["year"], draws=99)


VALUES = (0.1, 0.6, 0.2, 0.9, 0.8, 1.6, 1.0, 1.3)


@pytest.mark.parametrize("outcomes", [1, 2])
def test_a_moderator_of_studies_has_it_from_one_effect_per_study(tmp_path, outcomes):
    found = _opened(tmp_path, VALUES, outcomes=outcomes)
    studies = found.weighing.studies
    design = np.column_stack([np.ones(8), np.arange(8.0)])
    expected = share_by_distributions(
        studies["effect"].to_numpy(), studies["variance"].to_numpy(), design
    )
    assert found.share.low == pytest.approx(min(expected.low, found.fit.r2), abs=1e-6)
    assert found.share.high == pytest.approx(max(expected.high, found.fit.r2), abs=1e-6)
    said = f"(95 % interval {100 * found.share.low:.0f} to {100 * found.share.high:.0f} %"
    assert said in str(found) and "resampled" not in str(found)
    told = found.as_json()["variance_explained"]
    assert (told["low"], told["high"]) == (found.share.low, found.share.high)


def test_studies_that_cannot_tell_say_so(tmp_path):
    found = _opened(tmp_path, (0.1, 0.6, 0.2, 0.7, 0.4, 0.8))
    assert (round(found.share.low, 2), round(found.share.high, 2)) == (0, 1)
    assert "(95 % interval 0 to 100 %, so these studies cannot tell)" in str(found)
