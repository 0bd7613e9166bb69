"""Analysis of covariance over three arms, from summaries, against open data and least squares."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from steelyard.effects import PrePost, adjusted_difference, adjusted_differences
from steelyard.errors import DesignError

# Body weight before and after in three arms (anorexia; Hand et al. 1993): behaviour therapy,
# family therapy, control. Summaries recomputed from the raw open data.
ARMS = PrePost(
    n=np.array([29.0, 17.0, 26.0]),
    pre_mean=np.array([82.68965517241381, 83.22941176470587, 81.5576923076923]),
    pre_sd=np.array([4.845494580947352, 5.0166927235333985, 5.707060404581195]),
    post_mean=np.array([85.6965517241379, 90.49411764705883, 81.10769230769232]),
    post_sd=np.array([8.351923762934616, 8.475071577001229, 4.74425320377596]),
    r=np.array([0.4919693311246252, 0.5382029627095147, -0.1614161460275319]),
)


def test_three_arms_of_open_data():
    found = adjusted_differences(ARMS, comparator=2)
    # Venables & Ripley, Modern Applied Statistics, weight after on weight before and treatment:
    # slope 0.4345 and behaviour therapy against control 4.0971; digits recalled, page not viewed.
    assert found.slope == pytest.approx(0.4345, abs=5e-5)
    assert found.effect[0] == pytest.approx(4.0971, abs=5e-5)
    # By least squares on the raw open data; values in no paper seen.
    assert found.slope == pytest.approx(0.43446115036090305, abs=1e-9)
    assert found.effect == pytest.approx([4.0970655280729025, 8.660128180991666], rel=1e-9)
    se = np.sqrt(np.diag(found.covariance))
    assert se == pytest.approx([1.8934926069669271, 2.1931494116430517], rel=1e-9)
    assert found.covariance[0, 1] == pytest.approx(1.92204821779457, rel=1e-9)
    assert found.mean_square == pytest.approx(48.69503852822961, rel=1e-9)
    assert found.df == 68


def test_two_arms_are_the_adjusted_difference():
    two = PrePost(*(getattr(ARMS, name)[1:] for name in PrePost.__slots__))
    pair = [PrePost(*(getattr(two, name)[i] for name in PrePost.__slots__)) for i in (0, 1)]
    found, plain = adjusted_differences(two, comparator=1), adjusted_difference(*pair)
    assert found.effect[0] == pytest.approx(plain.effect, rel=1e-12)
    assert found.covariance[0, 0] == pytest.approx(plain.variance, rel=1e-12)
    assert found.df == plain.df


@pytest.mark.parametrize("comparator", [0, 2, 3])
def test_four_arms_by_least_squares_on_raw_data(comparator):
    draw = np.random.default_rng(77)
    sizes = [6, 9, 12, 7]
    pre = [draw.normal(200, 25, n) for n in sizes]
    post = [0.9 * x + draw.normal(30 + 5 * i, 12, len(x)) for i, x in enumerate(pre)]
    arms = PrePost(
        np.array(sizes, dtype=float),
        np.array([x.mean() for x in pre]),
        np.array([x.std(ddof=1) for x in pre]),
        np.array([y.mean() for y in post]),
        np.array([y.std(ddof=1) for y in post]),
        np.array([np.corrcoef(x, y)[0, 1] for x, y in zip(pre, post, strict=True)]),
    )
    which = np.repeat(np.arange(4), sizes)
    others = [arm for arm in range(4) if arm != comparator]
    columns = [np.ones(sum(sizes)), *(which == arm for arm in others), np.concatenate(pre)]
    fit = sm.OLS(np.concatenate(post), np.column_stack(columns)).fit()
    found = adjusted_differences(arms, comparator=comparator)
    assert found.effect == pytest.approx(fit.params[1:4], rel=1e-9)
    assert found.covariance == pytest.approx(fit.cov_params()[1:4, 1:4], rel=1e-9)
    assert (found.slope, found.mean_square) == pytest.approx((fit.params[4], fit.mse_resid))
    assert found.df == fit.df_resid


def test_refusals():
    with pytest.raises(DesignError, match="comparator must be from 0 to 2; got 3"):
        adjusted_differences(ARMS, comparator=3)
    with pytest.raises(DesignError, match="two arms or more"):
        adjusted_differences(PrePost(10, 1, 1, 1, 1, 0.5), comparator=0)
