"""A standard error taken for an SD: cited example, simulation, boundaries, records."""

from __future__ import annotations

from math import log, sqrt

import numpy as np
import pytest

from steelyard.judging.integrity import integrity_findings, suspect_results
from steelyard.judging.integrity.beside import Beside, chance_of_ratio
from steelyard.judging.integrity.peers import Typical
from steelyard.judging.integrity.sd_judged import judge_sd, taken_together
from steelyard.records.record_set import load_records
from tests.small_library import result, study

SIZE = """[[outcome]]
id = "thickness"
construct = "muscle-size"
unit = "mm"
"""


def lognormal(random, median, low, high, size):
    """Draws with a given median and quartile ratio; 1.349 = Φ⁻¹(.75) − Φ⁻¹(.25)."""
    return median * np.exp(random.normal(0, log(high / low) / 1.349, size))


@pytest.fixture(scope="module")
def strength_arms():
    """2,000 arms as trials report them.

    Coefficients of variation: median 23 %, quartiles 18-30 %; gains: median 24 %, 16-36 %;
    own computation from the open extraction table behind Steele et al. (2023), J Sports Sci,
    1RM. 8 to 20 people an arm: own choice around that table's median of 11-12.
    """
    random = np.random.default_rng(20240611)
    k = 2000
    return zip(
        lognormal(random, 23, 18, 30, k),
        lognormal(random, 24, 16, 36, k),
        random.integers(8, 21, k),
        strict=True,
    ), k


def test_caught_and_accused_in_a_hundred(strength_arms):
    arms, k = strength_arms
    caught = accused = suspected = 0
    for sd, gain, n in arms:
        told = {"n": int(n), "mean": 100.0, "gain": gain, "construct": "strength"}
        caught += judge_sd(sd / sqrt(n), **told).accused
        sound = judge_sd(sd, **told)
        accused += sound.accused
        suspected += sound.strong
    # Required of the check: at least 65 of 100 caught, at most 2 of 100 sound ones accused.
    assert caught / k >= 0.65
    assert accused / k <= 0.02
    assert suspected <= accused


def test_cited_inflation():
    # SE mistaken for SD inflates by exactly √n: 52 against 50, SD 6, n 16; identity, from
    # memory, recomputed from formula only.
    se = 6 / sqrt(16)
    assert se == pytest.approx(1.5, abs=1.5e-6)
    assert 2 / 6 == pytest.approx(0.3333333333333333, abs=1e-6)
    assert 2 / se == pytest.approx(1.3333333333333333, abs=1.3e-6)
    held = judge_sd(se, n=16, mean=50.0, gain=2.0, construct="strength")
    assert held.as_sd == pytest.approx(6.0)
    assert held.accused
    # A true standardised difference of 0.75 shows as 3 with n 16; a hair more is flagged.
    assert not judge_sd(1.5, n=16, gain=4.5, mean=20.0).signs
    assert judge_sd(1.5, n=16, gain=4.51, mean=20.0).accused


@pytest.mark.parametrize("smd", [11, 14])
def test_extreme_published_differences_are_caught(smd):
    # Kadlec, Sainani & Nimphius (2023) Sports Med 53:313-325, doi 10.1007/s40279-022-01766-0,
    # name pooled standardised differences of 11 and 14: confirmed in a stored public page.
    # Here with a gain of 60 %, n 16: own numbers.
    held = judge_sd(60 / smd, n=16, mean=100.0, gain=60.0, construct="strength")
    assert held.accused
    assert held.strong


@pytest.mark.parametrize(
    ("construct", "telling", "limit"), [("strength", 7.3, 8.0), ("muscle-size", 5.0, 5.0)]
)
def test_coefficient_of_variation_from_both_sides(construct, telling, limit):
    # 8 % and 5 %: own computation from the table behind Steele et al. (2023); 7.3 %: own rule.
    told = {"n": 12, "mean": 100.0, "gain": 5.0, "construct": construct}
    assert judge_sd(telling - 0.01, **told).accused
    assert not judge_sd(telling - 0.01, **told).strong  # one sign alone
    assert not judge_sd(telling, **told).accused
    assert judge_sd(limit - 0.01, **told).signs
    assert not judge_sd(limit, **told).signs


def test_like_outcomes_move_the_limit():
    # 0.32 × 24 % = 7.68 %; within 0.925 to 1.165 times 7.3 %: own arithmetic.
    told = {"n": 12, "mean": 100.0, "construct": "strength"}
    for variation, limit in ((0.24, 7.68), (0.10, 6.75), (0.60, 8.50)):
        many = Typical(10.0, variation, studies=20)
        assert judge_sd(limit - 0.01, **told, typical=many).accused
        assert not judge_sd(limit + 0.01, **told, typical=many).accused
    few = Typical(10.0, 0.60, studies=19)
    assert not judge_sd(7.3, **told, typical=few).accused


@pytest.mark.parametrize("key", ["gain", "gap"])
def test_difference_above_three_from_both_sides(key):
    told = {"n": 9, "mean": 100.0, "construct": "strength"}
    assert not judge_sd(9.9, **told, **{key: 29.7}).signs
    assert judge_sd(9.9, **told, **{key: -29.8}).accused


@pytest.mark.parametrize("key", ["gain", "gap"])
def test_a_large_change_alone_does_not_accuse(key):
    # 10 % of the mean is not small for strength: a quarter above the limit of 8 %.
    told = {"n": 9, "mean": 100.0, "construct": "strength"}
    held = judge_sd(10.0, **told, **{key: -30.1})
    assert held.signs
    assert not held.accused
    # Where no limit is known, it is all there is to go by.
    held = judge_sd(10.0, n=9, mean=100.0, **{key: -30.1})
    assert held.accused
    assert held.strong


def test_a_gap_is_held_against_the_pooled_sd():
    # 33 is 3.3 of this arm's SD of 10, 1.5 of the pooled 22.
    told = {"n": 9, "mean": 100.0, "gap": 33.0}
    assert judge_sd(10.0, **told).signs
    assert not judge_sd(10.0, **told, gap_sd=22.0).signs


def test_the_mean_before_training_is_the_base():
    # 8.5 is 7.1 % of 120 after training, yet 8.5 % of the 100 before it.
    told = {"n": 12, "construct": "strength"}
    assert judge_sd(8.5, mean=120.0, **told).signs
    assert not judge_sd(8.5, mean=120.0, start=100.0, **told).signs


def test_sds_beside_it_speak_for_or_against():
    told = {"n": 12, "mean": 100.0, "gain": 5.0, "construct": "strength"}
    assert judge_sd(7.2, **told).accused
    assert not judge_sd(7.2, **told, others_fit=False).accused
    two_signs = told | {"gain": 30.0}
    assert judge_sd(7.9, **two_signs, others_fit=False).accused


def test_a_sign_counts_where_before_and_after_show_it():
    told = {"n": 12, "start": 100.0, "construct": "strength"}
    narrow, plain = (judge_sd(sd, **told) for sd in (7.2, 8.1))
    assert taken_together([narrow, narrow], [7.2, 7.2]).accused
    assert not taken_together([narrow, plain], [7.2, 8.1]).signs
    # SDs a factor of 3 apart are not printed by one hand: each speaks for itself.
    assert taken_together([judge_sd(24.0, **told), narrow], [24.0, 7.2]).accused


def test_no_accusation_where_the_square_root_does_not_mend_it():
    # 16 % of the mean times √9 is 48 %: wider than groups are, so √n explains nothing.
    wide = judge_sd(16.0, n=9, mean=100.0, gain=50.0, construct="strength")
    assert wide.signs
    assert not wide.accused
    # 2 % times √9 is 6 %, still too narrow.
    assert not judge_sd(2.0, n=9, mean=100.0, construct="strength").accused


def test_far_below_like_outcomes_from_both_sides():
    typical = Typical(25.0, 0.25)
    told = {"n": 9, "mean": 100.0, "construct": "strength", "typical": typical}
    assert not judge_sd(10.0, **told).signs  # 25 / 2.5
    assert judge_sd(9.9, **told).signs
    assert not judge_sd(9.9, **told).accused  # alone, it is a note
    assert judge_sd(9.9, **told, gain=30.0).strong
    assert judge_sd(9.9, **told | {"construct": "power"}).accused  # no limit of its own
    small_muscle = judge_sd(9.9, n=16, mean=40.0, construct="strength", typical=typical)
    assert not small_muscle.signs  # 25 % of its own mean
    assert judge_sd(5.0, n=16, typical=typical).accused  # no mean: SD·√n = 20 against 25
    assert not judge_sd(1.0, n=16, typical=typical).accused


def findings(folder, body, rule, **words):
    study(folder, "a", body, **words)
    found = integrity_findings(load_records(folder).studies)
    return [finding for finding in found if finding.rule == rule]


def test_record_says_what_to_write(tmp_path):
    body = result("slow", pre="{ mean = 80.0, sd = 4.1 }", post="{ mean = 93.5, sd = 4.4 }")
    (finding,) = findings(tmp_path, body, "standard-error-as-sd", n_slow=19)
    assert finding.path == "result[1].pre.sd"
    assert finding.severity == "warning"
    # 4.1·√19 = 17.87: own arithmetic.
    assert "if 4.1 is a standard error, the SD is 17.9" in finding.message
    assert "write se = 4.1" in finding.message
    assert "4.1 × √19 = 17.9" in finding.arithmetic
    assert finding.suspect  # 13.5/4.1 = 3.3 as well
    assert suspect_results([finding]) == {("a", "peak"): "an SD that looks like a standard error"}


def test_record_with_a_declared_standard_error_is_left_alone(tmp_path):
    body = result("slow", pre="{ mean = 80.0, se = 4.1 }", post="{ mean = 93.5, se = 4.4 }")
    assert not findings(tmp_path, body, "standard-error-as-sd", n_slow=19)


def test_sd_written_as_standard_error_from_both_sides(tmp_path):
    # 18·√19 = 78.5, 98 % of 80; 10·√19 = 43.6, 54 %: own arithmetic around the limit of 60 %.
    body = result("slow", pre="{ mean = 80.0, se = 18.0 }")
    (finding,) = findings(tmp_path, body, "sd-as-standard-error", n_slow=19)
    assert "write sd = 18.0" in finding.message
    body = result("slow", pre="{ mean = 80.0, se = 10.0 }")
    assert not findings(tmp_path, body, "sd-as-standard-error", n_slow=19)


@pytest.mark.parametrize(("after", "times"), [("{ mean = 281 }", 1), ("{ mean = 280 }", 0)])
def test_gain_out_of_reach_from_both_sides(tmp_path, after, times):
    # +250 % in 1RM is the largest gain of one person in 12 weeks, n 585: Hubal et al. (2005),
    # seen in a stored public page. 80 to 280 is +250 %.
    body = result("slow", pre="{ mean = 80, sd = 20 }", post=after)
    assert len(findings(tmp_path, body, "gain-out-of-reach")) == times


def test_muscle_size_has_its_own_limits(tmp_path):
    def of(sd):
        return result("slow", outcome="thickness", pre=f"{{ mean = 25.0, sd = {sd} }}")

    assert findings(tmp_path, of("1.2"), "standard-error-as-sd", n_slow=12, outcome_more=SIZE)
    assert not findings(tmp_path, of("1.3"), "standard-error-as-sd", n_slow=12, outcome_more=SIZE)


def test_like_outcomes_of_the_library_are_asked(tmp_path):
    for index in range(5):
        study(tmp_path, f"peer-{index}", result("slow", pre="{ mean = 100.0, sd = 30.0 }"))
    body = result("slow", pre="{ mean = 100.0, sd = 9.0 }", post="{ mean = 127.1, sd = 9.0 }")
    (finding,) = findings(tmp_path, body, "standard-error-as-sd", n_slow=12)
    assert "median SD of 30" in finding.message
    assert finding.suspect
    alone = result("slow", pre="{ mean = 100.0, sd = 9.0 }", post="{ mean = 126.9, sd = 9.0 }")
    assert not findings(tmp_path, alone, "standard-error-as-sd", n_slow=12)
    (note,) = findings(tmp_path, alone, "implausible-spread", n_slow=12)
    assert note.severity == "note"
    (tmp_path / "studies" / "peer-4.toml").unlink()  # four others are too few
    (finding,) = findings(tmp_path, body, "standard-error-as-sd", n_slow=12)
    assert "median SD" not in finding.message


def arms(slow_sd, usual_sd, *, slow=112.0, n=12):
    """Two arms whose SDs stand in one table; `n` people each."""
    cells = ((100.0, slow, slow_sd), (102.0, 104.0, usual_sd))
    return "".join(
        result(
            arm,
            pre=f"{{ mean = {before}, sd = {sd} }}",
            post=f"{{ mean = {after}, sd = {sd} }}",
            n=str(n),
        )
        for arm, (before, after, sd) in zip(("slow", "usual"), cells, strict=True)
    )


def test_another_arm_s_sd_that_fits_the_root_speaks_for_a_standard_error(tmp_path):
    # 8.3·√12 = 28.8; (28.4/8.3)² = 11.7, F with 11 and 11: own arithmetic.
    (finding,) = findings(tmp_path, arms("8.3", "28.4"), "standard-error-as-sd")
    assert (finding.path, finding.severity) == ("result[1].pre.sd", "warning")
    assert "the other arm's SD is 28.4; 8.3 × √12 = 28.8" in finding.message
    assert "(28.4 / 8.3)² = 11.7, p 0.00015" in finding.arithmetic
    # With 12.0 beside it, or an SD of 8.5 % and more, it stays unsaid.
    assert not findings(tmp_path, arms("8.3", "12.0"), "standard-error-as-sd")
    assert not findings(tmp_path, arms("8.5", "28.4"), "standard-error-as-sd")
    # Groups that chance did not form may differ.
    of_choice = arms("8.3", "28.4")
    assert not findings(tmp_path, of_choice, "standard-error-as-sd", randomised="false")


def test_one_narrow_arm_beside_a_wider_one_is_noted_not_accused(tmp_path):
    # 13.5·√20 = 60.4, 59.2 % of 102; 14·√20 = 62.6, 61.4 %: that SD is no standard error, and
    # it is nearer to 7.2 (1.94 times) than to 7.2·√20 = 32.2 (2.3 times).
    body = arms("7.2", "14.0", n=20)
    assert not findings(tmp_path, body, "standard-error-as-sd")
    (note,) = findings(tmp_path, body, "implausible-spread")
    assert (note.severity, note.suspect) == ("note", False)
    assert "14.0 beside it cannot be a standard error" in note.message
    assert "14.0 × √20 would be 61.4 % of the mean" in note.arithmetic
    assert len(findings(tmp_path, arms("7.2", "13.0", n=20), "standard-error-as-sd")) == 1


@pytest.mark.parametrize("wrong", ["pre", "post"])
def test_one_cell_of_the_same_people(tmp_path, wrong):
    # 6.1·√12 = 21.1 beside 21.4, in people whose spread the other cell tells.
    sds = {"pre": "21.4", "post": "21.4"} | {wrong: "6.1"}
    body = result(
        "slow",
        pre=f"{{ mean = 100.0, sd = {sds['pre']} }}",
        post=f"{{ mean = 112.0, sd = {sds['post']} }}",
    )
    (finding,) = findings(tmp_path, body, "standard-error-as-sd", n_slow=12)
    assert finding.path == f"result[1].{wrong}.sd"
    when = "after" if wrong == "pre" else "before"
    assert f"the SD {when} training is 21.4; 6.1 × √12 = 21.1" in finding.message
    assert finding.suspect
    doubled = body.replace("6.1", "10.7")  # √n does not mend it: 37.1 beside 21.4
    assert not findings(tmp_path, doubled, "standard-error-as-sd", n_slow=12)


def test_arms_that_start_too_far_apart(tmp_path):
    # SDs of 11 with 12 people: one standard error of the gap is 11·√(2/12) = 4.49, so 14 are
    # 3.12 of them, and 14/(11·√2) = 0.9 were they standard errors: own arithmetic.
    def body(start):
        return "".join(
            result(
                arm,
                pre=f"{{ mean = {mean}, sd = 11.0 }}",
                post=f"{{ mean = {mean + 5}, sd = 11.0 }}",
            )
            for arm, mean in (("slow", 100.0), ("usual", start))
        )

    people = {"n_slow": 12, "n_usual": 12}
    found = findings(tmp_path, body(114.0), "standard-error-as-sd", **people)
    assert [finding.path for finding in found] == ["result[1].pre.sd", "result[2].pre.sd"]
    assert "start 14 apart, 3.12 standard errors by such SDs and 0.9 if" in found[0].message
    assert "14 / √(11² / 12 + 11² / 12) = 3.12" in found[0].arithmetic
    assert not findings(tmp_path, body(110.0), "standard-error-as-sd", **people)


@pytest.mark.parametrize("r", [None, 0.7])
def test_chance_of_a_ratio_by_drawn_people(r):
    """Second route: how often 40,000 drawn samples of alike people reach a ratio of 2.

    With a known r the t is near, and rather too careful; of other people F is exact.
    """
    random = np.random.default_rng(11)
    one, other = random.normal(size=(2, 40_000, 10))
    if r is not None:
        other = r * one + sqrt(1 - r**2) * other
    ratio = other.std(axis=1, ddof=1) / one.std(axis=1, ddof=1)
    chance = chance_of_ratio(1.0, 10, Beside("", "2", 2.0, 10, r))
    seen = float((ratio >= 2).mean())
    noise = 3 * sqrt(chance / 40_000)
    assert seen <= chance + noise
    assert seen >= (chance if r is None else chance / 2) - noise


def test_a_large_change_in_a_sound_arm_is_noted_not_accused(tmp_path):
    body = arms("12.0", "12.5", slow=137.0)
    assert not findings(tmp_path, body, "standard-error-as-sd")
    found = findings(tmp_path, body, "implausible-spread")
    assert {finding.severity for finding in found} == {"note"}
    assert "3.08 such SDs" in found[0].message


def groups(*sds, n=10):
    """Women and men printed apart, before and after training."""
    cells = {}
    for name, gain in (("pre", 0.0), ("post", 28.0)):
        rows = ", ".join(
            f"{{ n = {n}, mean = {mean + gain}, sd = {sd} }}"
            for mean, sd in zip((212.0, 215.0), sds, strict=True)
        )
        cells[name] = f"{{ groups = [{rows}] }}"
    return result("slow", **cells, n=str(2 * n))


def test_subgroups_printed_with_standard_errors(tmp_path):
    # 9.3 / 212 = 4.39 %; 28 / 9.3 = 3.01; 9.3·√10 = 29.4, the group's n and not the arm's.
    (finding,) = findings(tmp_path, groups("9.3", "9.3"), "standard-error-as-sd")
    assert finding.path == "result[1].pre.groups[1].sd"
    assert finding.suspect
    assert "write sd = 29.4" in finding.message  # a subgroup has no place for an se
    assert "9.3 × √10 = 29.4" in finding.arithmetic
    assert not findings(tmp_path, groups("29.4", "29.4"), "standard-error-as-sd")


def test_small_spread_without_an_explanation_from_both_sides(tmp_path):
    # 2.0 of 100 is 2 %, and times √9 only 6 %: too small either way. 2.7·√9 is 8.1 %.
    body = result("slow", pre="{ mean = 100.0, sd = 2.0 }")
    (finding,) = findings(tmp_path, body, "implausible-spread", n_slow=9)
    assert (finding.severity, finding.suspect) == ("note", False)
    body = result("slow", pre="{ mean = 100.0, sd = 2.7 }")
    assert not findings(tmp_path, body, "implausible-spread", n_slow=9)
    assert findings(tmp_path, body, "standard-error-as-sd", n_slow=9)


def test_every_planted_standard_error_is_found_in_records(tmp_path):
    """Second route, from drawn people to records: SDs printed as SEs in one half of them."""
    random = np.random.default_rng(99)
    planted = set()
    for index in range(60):
        as_se = index % 2 == 0
        body, people = "", {}
        for number, (arm, factor) in enumerate((("slow", 1.24), ("usual", 1.0)), 1):
            n = people[f"n_{arm}"] = int(random.integers(8, 21))
            before = random.normal(100, 23, n)
            after = before * factor + random.normal(0, 10, n)
            root = sqrt(n) if as_se else 1.0
            if as_se:
                planted.add((f"drawn-{index}", f"result[{number}]"))
            cells = {
                name: f"{{ mean = {each.mean():.1f}, sd = {each.std(ddof=1) / root:.1f} }}"
                for name, each in (("pre", before), ("post", after))
            }
            body += result(arm, **cells)
        study(tmp_path, f"drawn-{index}", body, **people)
    found = integrity_findings(load_records(tmp_path).studies)
    accused = {
        (finding.study, finding.path.split(".")[0])
        for finding in found
        if finding.rule == "standard-error-as-sd"
    }
    assert len(accused & planted) >= 0.65 * len(planted)
    assert len(accused - planted) <= 0.02 * 60 + 1
