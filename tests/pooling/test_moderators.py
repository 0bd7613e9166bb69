"""Moderators from records: published regression, permutation and bootstrap behaviour, words."""

import numpy as np
import pytest

from steelyard import open_library
from steelyard.errors import DesignError
from steelyard.pooling import regress
from steelyard.pooling.moderator_resampling import _moments, permutation_test, share_interval
from steelyard.pooling.moderator_values import moderator_names, moderator_of
from steelyard.pooling.moderators import moderate
from tests.small_library import comparison, question, result, study


def _one_per_study(rng, studies, *, slope=0.0, tau=0.2, variance=0.02):
    x = rng.normal(size=studies)
    v = np.full(studies, variance)
    y = 0.3 + slope * x + rng.normal(size=studies) * np.sqrt(v + tau**2)
    return y, v, np.column_stack([np.ones(studies), x]), np.arange(studies)


def test_a_permutation_test_keeps_its_size():
    # No effect of the moderator: p below 0.05 in 5 % of 400 sets; binomial SD 1.1 points.
    rng = np.random.default_rng(3)
    found = []
    for _ in range(400):
        y, v, design, owner = _one_per_study(rng, 8)
        found.append(permutation_test(y, v, design, tested=[1], study=owner, draws=199, seed=1).p)
    assert 0.02 <= np.mean(np.array(found) <= 0.05) <= 0.085


def test_all_orders_are_gone_through_when_there_are_few():
    y, v, design, owner = _one_per_study(np.random.default_rng(1), 6, slope=0.8, tau=0.05)
    test = permutation_test(y, v, design, tested=[1], study=owner)
    assert (test.exact, test.orders) == (True, 720)
    # A second route: the same orders one by one through the library's own regression, by
    # moments, with the model's t under Knapp and Hartung recomputed by hand.
    from itertools import permutations

    def statistic(x):
        fit = regress(y, v, x, between="dl")
        w = 1 / (v + fit.tau2)
        centred = x - (w * x).sum() / w.sum()
        residual = y - fit.coefficients[0] - fit.coefficients[1] * x
        spread = (w * residual**2).sum() / (y.size - 2)
        return fit.coefficients[1] ** 2 * (w * centred**2).sum() / spread

    x = design[:, 1]
    ours = statistic(x)
    reached = [statistic(x[list(order)]) >= ours * (1 - 1e-9) for order in permutations(range(6))]
    assert test.p == pytest.approx(np.mean(reached), abs=1e-12)


def test_study_level_moderators_change_hands_between_studies_only():
    # Five effects in each of four studies: treating the effects as independent would make the
    # moderator look certain; between four studies there are 24 orders, half of them mirrors.
    rng = np.random.default_rng(5)
    owner = np.repeat(np.arange(4), 5)
    x = np.array([0.0, 0.0, 1.0, 1.0])[owner]
    y = x + np.repeat(rng.normal(0, 0.1, 4), 5) + rng.normal(0, 0.05, 20)
    design = np.column_stack([np.ones(20), x])
    test = permutation_test(y, np.full(20, 0.01), design, tested=[1], study=owner)
    assert test.exact and test.orders == 24
    assert test.p >= 8 / 24 - 1e-12


def test_effect_level_moderators_are_shuffled_inside_studies():
    rng = np.random.default_rng(6)
    owner = np.repeat(np.arange(10), 2)
    x = np.tile([0.0, 1.0], 10)
    y = np.repeat(rng.normal(0, 1, 10), 2) + 0.5 * x + rng.normal(0, 0.1, 20)
    design = np.column_stack([np.ones(20), x])
    test = permutation_test(y, np.full(20, 0.01), design, tested=[1], study=owner, draws=999)
    # Between 2^10 shuffles only the found one and its mirror reach as far.
    assert test.p < 0.01


def test_a_moderator_that_varies_inside_one_study_is_still_dealt_out_between_studies():
    # Fourteen studies, all but the first on one side of the moderator or the other, and far
    # apart: the one study that holds both sides must not be all that is shuffled.
    rng = np.random.default_rng(1)
    owner = np.concatenate([[0], np.arange(14)])
    x = np.concatenate([[1.0], np.tile([0.0, 1.0], 7)])
    y = 0.8 * x + rng.normal(0, 0.1, 15)
    design = np.column_stack([np.ones(15), x])
    variance = np.full(15, 0.01)
    test = permutation_test(y, variance, design, tested=[1], study=owner, draws=999)
    fit = regress(y, variance, x, study=owner)
    assert fit.high[1] < 1.2 and fit.low[1] > 0.4
    assert test.p <= 0.002


def test_a_moderator_at_both_levels_keeps_its_size():
    # No effect, studies that differ, a moderator that varies between and inside them; p below
    # 0.05 in 5 % of 300 sets; binomial SD 1.3 points.
    rng = np.random.default_rng(8)
    owner = np.repeat(np.arange(9), [1, 2, 3] * 3)
    found = []
    for _ in range(300):
        x = rng.normal(size=9)[owner] + rng.normal(size=18)
        y = rng.normal(0, 0.3, 9)[owner] + rng.normal(0, 0.15, 18)
        design = np.column_stack([np.ones(18), x])
        variance = np.full(18, 0.02)
        test = permutation_test(y, variance, design, tested=[1], study=owner, draws=99)
        found.append(test.p)
    assert 0.02 <= np.mean(np.array(found) <= 0.05) <= 0.09


def test_the_share_interval_covers_what_it_should():
    # Truth: slope 0.4 per SD against tau 0.2 makes a share of 0.16/(0.16 + 0.04) = 0.8.
    rng = np.random.default_rng(9)
    inside = 0
    for _ in range(60):
        y, v, design, owner = _one_per_study(rng, 30, slope=0.4, tau=0.2, variance=0.005)
        found = share_interval(y, v, design, study=owner, draws=299)
        inside += found.low <= 0.8 <= found.high
    # Percentile intervals of a bounded share are known to be approximate; 60 sets, SD 2.8 points.
    assert inside / 60 >= 0.83


def test_a_seed_gives_the_same_numbers(shipped):
    weighing = shipped.weigh("slow-lowering-strength")
    one = moderate(weighing, shipped.studies, ["year"], draws=199)
    two = moderate(weighing, shipped.studies, ["year"], draws=199)
    assert str(one) == str(two)


def test_numbers_from_records_match_a_plain_regression(shipped):
    weighing = shipped.weigh("short-rest-size")
    found = moderate(weighing, shipped.studies, ["year"], draws=99)
    rows = weighing.effects[weighing.effects["used"]]
    plain = regress(
        rows["effect"], rows["variance"], rows["year"].astype(float), study=list(rows["study"])
    )
    assert found.fit.coefficients == pytest.approx(plain.coefficients, rel=1e-9)


def test_subgroups_and_contrasts_agree(shipped):
    weighing = shipped.weigh("slow-lowering-strength")
    found = moderate(weighing, shipped.studies, ["measure"], draws=99)
    groups = found.subgroups.set_index("group")["estimate"]
    assert len(found.contrasts) == len(groups) * (len(groups) - 1) / 2
    for row in found.contrasts.itertuples():
        assert row.difference == pytest.approx(groups[row.group] - groups[row.against], abs=1e-9)


def test_shifting_every_effect_moves_no_slope(shipped):
    weighing = shipped.weigh("slow-lowering-strength")
    rows = weighing.effects[weighing.effects["used"]]
    x = moderator_of("duration_weeks", rows, shipped.studies).values.astype(float)
    one = regress(rows["effect"], rows["variance"], x)
    two = regress(rows["effect"] + 5, rows["variance"], x)
    assert two.coefficients[1] == pytest.approx(one.coefficients[1], abs=1e-9)


def test_a_dose_question_is_moderated_through_its_slopes(shipped):
    weighing = shipped.weigh("weekly-sets-size")
    found = moderate(weighing, shipped.studies, ["duration_weeks"], draws=99)
    assert found.fit.k == weighing.k_studies


@pytest.mark.parametrize("name", moderator_names())
def test_every_moderator_is_fitted_or_refused_in_words(shipped, name):
    weighing = shipped.weigh("slow-lowering-strength")
    try:
        found = moderate(weighing, shipped.studies, [name], draws=99)
    except DesignError as refused:
        assert any(
            words in str(refused)
            for words in ("must differ", "no paper", "needs at least 4", "fixed by the others")
        )
        return
    assert found.sentence
    assert all(0 < test.p <= 1 for test in found.permuted.values())


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["no-such-thing"], "no moderator is called"),
        (["site"], "site is hamstrings in all"),
        (["week", "duration_weeks"], "follows from"),
        (["year", "year"], "named once each"),
        ([], "one at least"),
        (["training_status", "equated"], "at least 4 studies per moderator"),
    ],
)
def test_bad_moderators_are_refused(shipped, names, words):
    with pytest.raises(DesignError, match=words):
        moderate(shipped.weigh("slow-lowering-strength"), shipped.studies, names)


def test_a_silent_paper_is_left_out_by_name(tmp_path):
    for number in range(6):
        body = result(
            "slow",
            pre="{ mean = 100.0, sd = 20.0 }",
            post=f"{{ mean = {104 + number}.0, sd = 20.0 }}",
            r=0.9,
        ) + result(
            "usual", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 102.0, sd = 20.0 }", r=0.9
        )
        weeks = f"duration_weeks = {8 + number}" if number else ""
        study(tmp_path, f"s{number}", body, design_more=weeks)
    question(tmp_path)
    library = open_library(tmp_path)
    found = moderate(library.weigh("asked"), library.studies, ["duration_weeks"], draws=99)
    assert "length in weeks is not reported by, and leaves out: s0" in " ".join(found.notes)
    assert found.fit.k == 5
    assert "easily chance" in " ".join(found.fit.notes)
    with pytest.raises(DesignError, match="no paper under this question reports mean age"):
        moderate(library.weigh("asked"), library.studies, ["age_mean"])


def test_a_study_drawn_twice_is_not_two_studies():
    # Second route: sets with a known variance between studies of 1, fitted as one resample of
    # eight studies has them. 4,000 estimates, SD 0.8 or so, put their mean within 0.04 of 1.
    rng = np.random.default_rng(14)
    times = np.array([3.0, 1.0, 2.0, 0.0, 1.0, 1.0, 0.0, 0.0])
    v = rng.uniform(0.001, 0.02, 8)
    design = np.column_stack([np.ones(8), rng.normal(size=8)])
    found = [
        _moments(0.3 + rng.normal(size=8) * np.sqrt(v + 1), v, design[None], times[None])[0]
        for _ in range(4000)
    ]
    assert np.mean(found) == pytest.approx(1, abs=0.05)


@pytest.mark.parametrize(("studies", "rough"), [(8, True), (12, False)])
def test_a_share_from_few_studies_resampled_is_called_rough(tmp_path, studies, rough):
    # Two outcomes a study, measured in two ways: the moderator differs inside studies.
    for number in range(studies):
        kinds = ("free", "machine") if number % 3 else ("machine", "free")
        body, words = "", []
        for place, name in enumerate(("peak", "more")):
            value = (0.1, 0.9, 0.3, 1.3)[number % 4] + 0.2 * place
            cell = f"{{ value = {value:.1f}, se = 0.1, over = 'pre-sd' }}"
            body += comparison(outcome=name, standardised=cell)
            words.append(f'measure = "{kinds[place]}"\n')
        head = '[[outcome]]\nid = "more"\nconstruct = "strength"\nunit = "N"\n'
        study(tmp_path, f"s{number}", body, outcome_more=head.join(words))
    question(tmp_path)
    library = open_library(tmp_path)
    found = moderate(library.weigh("asked"), library.studies, ["measure"], draws=99)
    assert found.share.low == found.share.low and found.share.draws == 1000
    assert ("rough with fewer than 10 studies" in str(found)) == rough


def _groups_of(tmp_path, *, errors):
    for number in range(8):
        arms = "free" if number % 2 else "machine"
        value = 0.3 + 0.02 * number
        body = comparison(
            standardised=f"{{ value = {value:.2f}, se = {errors[number % 2]}, over = 'pre-sd' }}"
        )
        more = f'measure = "{arms}"\n'
        study(tmp_path, f"s{number}", body, outcome_more=more)
    question(tmp_path)
    library = open_library(tmp_path)
    return moderate(library.weigh("asked"), library.studies, ["measure"], draws=99)


def test_groups_tied_to_precision_are_told(tmp_path):
    tied = _groups_of(tmp_path / "tied", errors=(0.1, 0.3))
    assert any("differ 9 times in variance: p permuted may be too small" in n for n in tied.notes)
    alike = _groups_of(tmp_path / "alike", errors=(0.2, 0.3))
    assert not any("in variance" in note for note in alike.notes)
