"""Analysis of covariance from summaries against raw open data and a reference library."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from steelyard.effects import (
    Group,
    PrePost,
    adjusted_difference,
    adjusted_differences,
    change_difference,
    mean_difference,
    standardised_change_difference,
    standardised_difference,
)
from steelyard.effects.standardising import pooled_sd
from steelyard.reporting import r_from_sds

# Summaries and expected values recomputed from the raw open data named beside each: difference
# in changes, its Welch SE, analysis-of-covariance difference and SE by least squares on the raw
# data, Hedges' g after training, Morris' d_ppc2. The data are public, the values in no paper.
OPEN_DATA = {
    # Family therapy against control, body weight (anorexia; Hand et al. 1993).
    "anorexia": (
        PrePost(
            17,
            83.22941176470587,
            5.0166927235333985,
            90.49411764705883,
            8.475071577001229,
            0.5382029627095147,
        ),
        PrePost(
            26,
            81.5576923076923,
            5.707060404581195,
            81.10769230769232,
            4.74425320377596,
            -0.1614161460275319,
        ),
        (
            7.714705882352942,
            2.338384883800298,
            9.033572574444241,
            2.0314862495344097,
            1.4258761510421398,
            1.3899824569866122,
        ),
    ),
    # Computer therapy against usual care, depression score at two months, completers (BtheB;
    # Proudfoot et al. 2003).
    "depression": (
        PrePost(
            52,
            22.53846153846154,
            11.74310233663523,
            14.711538461538462,
            10.123427572814512,
            0.6308986114086557,
        ),
        PrePost(
            45,
            23.866666666666667,
            9.645064682378896,
            19.466666666666665,
            11.075361680940103,
            0.6133364495118192,
        ),
        (
            -3.426923076923078,
            1.9024490896983253,
            -3.9543608158945833,
            1.706660400587111,
            -0.4460989812658199,
            -0.3141541952999687,
        ),
    ),
    # Reading comprehension, DRTA against basal, first test (Baumann & Jones, in Moore & McCabe).
    "reading, first": (
        PrePost(
            22,
            9.727272727272727,
            2.6935870610416988,
            9.772727272727273,
            2.7243490822722998,
            0.6789996833639196,
        ),
        PrePost(
            22, 10.5, 2.972092416687835, 6.681818181818182, 2.766919614995014, 0.5008849249446379
        ),
        (
            3.8636363636363646,
            0.7676174314427097,
            3.5280567004635337,
            0.6865189914911999,
            1.1054977406562945,
            1.337757951326512,
        ),
    ),
    # The same data, strategy against basal, second test.
    "reading, second": (
        PrePost(
            22,
            4.954545454545454,
            1.863873915807068,
            8.363636363636363,
            2.90394566631341,
            0.14396453150861624,
        ),
        PrePost(
            22,
            5.2727272727272725,
            2.76339711883103,
            5.545454545454546,
            2.0407111908602267,
            0.453681065725624,
        ),
        (
            3.136363636363636,
            0.8798881006455397,
            2.913766537378458,
            0.7365221968900191,
            1.1027342887357814,
            1.3067849986001017,
        ),
    ),
}


@pytest.mark.parametrize("name", OPEN_DATA)
def test_open_data(name):
    intervention, comparator, expected = OPEN_DATA[name]
    change = change_difference(intervention, comparator)
    adjusted = adjusted_difference(intervention, comparator)
    after = standardised_difference(
        *(Group(group.n, group.post_mean, group.post_sd) for group in (intervention, comparator))
    )
    found = (
        change.effect,
        np.sqrt(change.variance),
        adjusted.effect,
        np.sqrt(adjusted.variance),
        after.effect,
        standardised_change_difference(intervention, comparator).effect,
    )
    assert found == pytest.approx(expected, rel=1e-10)
    assert adjusted.df == intervention.n + comparator.n - 3


# From the same raw open data: the difference after training and its SE with one SD for both
# groups, and the slope, t and p of the analysis of covariance. Recomputed; in no paper seen.
AFTER_AND_ADJUSTED = {
    "anorexia": (
        9.386425339366493,
        2.0154586680570494,
        0.21107175814813073,
        4.446780073709393,
        6.767779685381858e-05,
    ),
    "depression": (
        -4.755128205128207,
        2.1530671386978684,
        0.6028943664114111,
        -2.317016797562208,
        0.02267423727772503,
    ),
    "reading, first": (
        3.090909090909088,
        0.8278647802938612,
        0.5657204358939869,
        5.139051860459359,
        7.163097453643232e-06,
    ),
    "reading, second": (
        2.818181818181815,
        0.7567094614003745,
        0.30040911747516125,
        3.9561150358833723,
        0.0002952314026674461,
    ),
}


@pytest.mark.parametrize("name", OPEN_DATA)
def test_open_data_after_training_and_the_adjusted_test(name):
    one, other, _ = OPEN_DATA[name]
    after = mean_difference(*(Group(arm.n, arm.post_mean, arm.post_sd) for arm in (one, other)))
    pooled = pooled_sd(one.n, one.post_sd, other.n, other.post_sd)
    both = PrePost(
        *(np.array([getattr(arm, field) for arm in (one, other)]) for field in PrePost.__slots__)
    )
    adjusted = adjusted_difference(one, other)
    t = adjusted.effect / np.sqrt(adjusted.variance)
    found = (
        after.effect,
        pooled * np.sqrt(1 / one.n + 1 / other.n),
        adjusted_differences(both, comparator=1).slope,
        t,
        2 * stats.t.sf(abs(t), adjusted.df),
    )
    assert found == pytest.approx(AFTER_AND_ADJUSTED[name], rel=1e-9)


def _summary(pre, post):
    return PrePost(
        len(pre),
        pre.mean(),
        pre.std(ddof=1),
        post.mean(),
        post.std(ddof=1),
        np.corrcoef(pre, post)[0, 1],
    )


@pytest.mark.parametrize("sizes", [(5, 6), (12, 12), (40, 17)])
def test_simulated_raw_data_by_least_squares(sizes):
    draw = np.random.default_rng(2024)
    pre = [draw.normal(210, 30, n) for n in sizes]
    post = [
        0.8 * scores + draw.normal(shift, 15, len(scores))
        for scores, shift in zip(pre, (65, 45), strict=True)
    ]
    group = np.repeat([1.0, 0.0], sizes)
    design = np.column_stack([np.ones(sum(sizes)), group, np.concatenate(pre)])
    raw = sm.OLS(np.concatenate(post), design).fit()
    found = adjusted_difference(_summary(pre[0], post[0]), _summary(pre[1], post[1]))
    assert found.effect == pytest.approx(raw.params[1], rel=1e-10)
    assert np.sqrt(found.variance) == pytest.approx(raw.bse[1], rel=1e-10)
    assert found.df == raw.df_resid


def test_printed_summary_table():
    # Howell, Statistical Methods for Psychology, ch. 7, Table 7.3, confirmed in a stored page: pre
    # 83.23 (5.02), post 90.49 (8.48), change 7.26 (7.16). The two-decimal SDs give r = 0.5385, the
    # raw data 0.5382.
    from_printed = r_from_sds(5.02, 8.48, 7.16).value
    assert from_printed == pytest.approx(0.5384735, abs=1e-6)
    assert from_printed == pytest.approx(OPEN_DATA["anorexia"][0].r, abs=5e-4)
