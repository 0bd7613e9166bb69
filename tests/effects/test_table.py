"""From records to the effect table: routes, signs, r, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from steelyard import open_library
from tests.small_library import comparison, question, result, study

# Morris (2008), Organ Res Methods 11:364-386, Table 5, study 1 (training data of Carlson &
# Schmidt 1999): d_ppc2 0.77. Published digits recalled, source page not viewed; recomputed from
# the published formula, it agrees: 0.7684649.
MORRIS_SLOW = result(
    "slow", pre="{ mean = 30.6, sd = 15.0 }", post="{ mean = 38.5, sd = 11.6 }", r="0.47"
)
MORRIS_USUAL = result(
    "usual", pre="{ mean = 23.1, sd = 13.8 }", post="{ mean = 19.7, sd = 14.8 }", r="0.47"
)


def rows(folder, body, more="", **words):
    study(folder, "one", body, **words)
    question(folder, more=more)
    return open_library(folder).effect_table("asked")


def only(folder, body, more="", **words):
    table = rows(folder, body, more, **words)
    assert len(table.rows) == 1, table.left_out
    return table.rows.iloc[0]


def test_published_pre_post_control_effect_comes_out_of_a_record(tmp_path):
    row = only(tmp_path, MORRIS_SLOW + MORRIS_USUAL)
    assert round(row["effect"], 2) == 0.77
    assert row["effect"] == pytest.approx(0.7684649335171309, abs=1e-9)
    assert (row["r_from"], row["contrast"], row["flags"]) == ("reported", "change", "")


def test_lower_is_better_turns_the_sign(tmp_path):
    assert only(tmp_path, MORRIS_SLOW + MORRIS_USUAL, better="lower")["effect"] < 0


def test_r_is_derived_from_three_sds_before_it_is_assumed(tmp_path):
    # s_change = sqrt(15² + 11.6² − 2·0.47·15·11.6) = 13.9805, the same for the other arm below
    slow = result(
        "slow",
        pre="{ mean = 30.6, sd = 15.0 }",
        post="{ mean = 38.5, sd = 11.6 }",
        change="{ mean = 7.9, sd = 13.98 }",
    )
    usual = result(
        "usual",
        pre="{ mean = 23.1, sd = 13.8 }",
        post="{ mean = 19.7, sd = 14.8 }",
        change="{ mean = -3.4, sd = 14.75 }",
    )
    row = only(tmp_path, slow + usual)
    assert row["r_from"] == "derived"
    assert row["r_used"] == pytest.approx(0.47, abs=0.005)


def test_assumed_r_is_said_and_flagged(tmp_path):
    body = MORRIS_SLOW.replace("r = 0.47", "") + MORRIS_USUAL.replace("r = 0.47", "")
    row = only(tmp_path, body, "[assume]\nr_pre_post = 0.6\n")
    assert (row["r_from"], row["r_used"]) == ("assumed", 0.6)
    assert "assumed r" in row["flags"]
    assert "0.60 assumed by the question" in row["route"]


def test_raw_change_matches_its_own_arithmetic(tmp_path):
    row = only(tmp_path, MORRIS_SLOW + MORRIS_USUAL, 'metric = "raw"')
    variance = (15.0**2 + 11.6**2 - 2 * 0.47 * 15.0 * 11.6) / 20
    variance += (13.8**2 + 14.8**2 - 2 * 0.47 * 13.8 * 14.8) / 20
    assert row["effect"] == pytest.approx((38.5 - 30.6) - (19.7 - 23.1))
    assert row["variance"] == pytest.approx(variance)


def test_percent_is_the_log_ratio_of_post_to_pre(tmp_path):
    row = only(tmp_path, MORRIS_SLOW + MORRIS_USUAL, 'metric = "percent"')
    assert row["effect"] == pytest.approx(math.log(38.5 / 30.6) - math.log(19.7 / 23.1))


def test_standard_error_is_converted_with_its_route(tmp_path):
    slow = result("slow", post="{ mean = 38.5, se = 2.0 }")
    usual = result("usual", post="{ mean = 30.0, sd = 9.0 }")
    row = only(tmp_path, slow + usual, 'contrast = "post"\nmetric = "raw"')
    assert row["variance"] == pytest.approx(2.0**2 + 9.0**2 / 20)
    assert "SE 2 × √20" in row["route"]


def test_adjusted_contrast_is_the_analysis_of_covariance(tmp_path):
    # MASS anorexia (Hand et al. 1993), family therapy against control: least squares on the raw
    # open data set gives 8.9116 ± 1.9283 (recomputed from the data; no published figure).
    slow = result(
        "slow",
        pre="{ mean = 83.22941176470587, sd = 5.0166927235333985 }",
        post="{ mean = 90.49411764705883, sd = 8.475071577001229 }",
        r="0.5382029627095147",
    )
    usual = result(
        "usual",
        pre="{ mean = 81.55769230769232, sd = 5.707060103097648 }",
        post="{ mean = 81.10769230769232, sd = 4.744252815932155 }",
        r="-0.0529",
    )
    row = only(
        tmp_path, slow + usual, 'contrast = "adjusted"\nmetric = "raw"', n_slow=17, n_usual=26
    )
    assert row["contrast"] == "adjusted"
    post_difference = 90.49411764705883 - 81.10769230769232
    assert 0 < post_difference - row["effect"] < 1


def test_group_by_time_f_gives_the_standard_error_of_the_difference(tmp_path):
    slow = result("slow", pre="{ mean = 30.6, sd = 15.0 }", post="{ mean = 38.5 }")
    usual = result("usual", pre="{ mean = 23.1, sd = 13.8 }", post="{ mean = 19.7 }")
    row = only(tmp_path, slow + usual + comparison(f="6.25"), 'metric = "raw"')
    assert row["effect"] == pytest.approx(11.3)
    assert row["variance"] == pytest.approx((11.3 / 2.5) ** 2)
    assert row["contrast"] == "as reported"


def test_threshold_p_is_marked_as_a_bound_and_ns_is_refused(tmp_path):
    body = comparison(difference="{ value = 12.1 }", p='"<0.05"')
    assert "p as a bound" in only(tmp_path / "a", body, 'metric = "raw"')["flags"]
    body = comparison(difference="{ value = 12.1 }", p='">0.05"')
    table = rows(tmp_path / "b", body, 'metric = "raw"')
    assert table.rows.empty
    assert "0.05" in table.left_out[0].reason


def test_comparison_turned_round_has_the_other_sign(tmp_path):
    body = comparison(standardised="{ value = 0.4, se = 0.2, over = 'pre-sd' }")
    one = only(tmp_path / "a", body)
    turned = body.replace('intervention = "slow"', 'intervention = "usual"').replace(
        'comparator = "usual"', 'comparator = "slow"'
    )
    other = only(tmp_path / "b", turned)
    assert one["effect"] == -other["effect"] == 0.4


def test_change_inside_one_group_is_refused_with_the_reason(tmp_path):
    path = study(tmp_path, "alone", "", kind="single-group", n_slow=20)
    text = path.read_text().replace('[[arm]]\nid = "usual"\ntags = ["usual"]\nn = 20\n', "")
    path.write_text(text + MORRIS_SLOW)
    question(tmp_path)
    table = open_library(tmp_path).effect_table("asked")
    assert table.rows.empty
    assert "not an effect of training" in table.left_out[0].reason


def test_post_only_without_randomisation_is_refused(tmp_path):
    slow = result("slow", post="{ mean = 38.5, sd = 9.0 }")
    usual = result("usual", post="{ mean = 30.0, sd = 9.0 }")
    row = only(tmp_path / "a", slow + usual)
    assert "post only" in row["flags"]
    table = rows(tmp_path / "b", slow + usual, randomised="false")
    assert "started apart" in table.left_out[0].reason


def test_counts_match_their_published_example(tmp_path):
    # Borenstein et al. (2009), Introduction to Meta-Analysis, ch. 5, Tables 5.1-5.2: ln RR
    # −0.6931, variance 0.2800. Published digits recalled, source page not viewed; agrees.
    body = result("slow", events="5") + result("usual", events="10")
    words = {"n_slow": 100, "n_usual": 100, "better": "lower"}
    row = only(tmp_path, body, 'metric = "risk-ratio"', **words)
    assert row["effect"] == pytest.approx(0.6931, abs=5e-5)
    assert row["variance"] == pytest.approx(0.28)


def test_clusters_widen_the_variance(tmp_path):
    plain = only(tmp_path / "a", MORRIS_SLOW + MORRIS_USUAL)
    more = "cluster_size = 11\ncluster_icc = 0.1"
    widened = only(tmp_path / "b", MORRIS_SLOW + MORRIS_USUAL, kind="cluster", design_more=more)
    assert widened["variance"] == pytest.approx(2 * plain["variance"])


def test_limbs_of_one_person_use_the_correlation_between_limbs(tmp_path):
    low = only(
        tmp_path / "a",
        MORRIS_SLOW + MORRIS_USUAL,
        'metric = "raw"',
        kind="within-person",
        outcome_more="r_between_arms = 0.0",
    )
    high = only(
        tmp_path / "b",
        MORRIS_SLOW + MORRIS_USUAL,
        'metric = "raw"',
        kind="within-person",
        outcome_more="r_between_arms = 0.8",
    )
    independent = only(tmp_path / "c", MORRIS_SLOW + MORRIS_USUAL, 'metric = "raw"')
    assert low["variance"] == pytest.approx(independent["variance"])
    change_sds = [
        math.sqrt(a**2 + b**2 - 2 * 0.47 * a * b) for a, b in ((15.0, 11.6), (13.8, 14.8))
    ]
    shared = 2 * 0.8 * change_sds[0] * change_sds[1] / 20
    assert high["variance"] == pytest.approx(independent["variance"] - shared)


def test_reading_error_widens_the_variance(tmp_path):
    body = MORRIS_SLOW.replace("sd = 11.6", "sd = 11.6, reading_error = 1.5")
    plain = only(tmp_path / "a", MORRIS_SLOW + MORRIS_USUAL, 'metric = "raw"')
    read = only(tmp_path / "b", body + MORRIS_USUAL, 'metric = "raw"')
    assert read["variance"] == pytest.approx(plain["variance"] + 1.5**2)


def test_last_week_all_weeks_or_named_weeks(tmp_path):
    body = MORRIS_SLOW + MORRIS_USUAL
    body += result("slow", week=24, post="{ mean = 40.0, sd = 12.0 }", r="0.4")
    body += result("usual", week=24, post="{ mean = 21.0, sd = 14.0 }", r="0.4")
    assert only(tmp_path / "a", body)["week"] == 24
    assert len(rows(tmp_path / "b", body, 'time = "all"').rows) == 2
    assert only(tmp_path / "c", body, "time = { weeks = [12] }")["week"] == 12


def test_every_row_has_the_columns_that_travel(tmp_path):
    table = rows(tmp_path, MORRIS_SLOW + MORRIS_USUAL).rows
    wanted = (
        "study comparison outcome construct site week metric contrast effect variance "
        "n_intervention n_comparator shares r_used r_from route flags"
    ).split()
    assert list(table.columns[: len(wanted)]) == wanted
    assert np.isfinite(table[["effect", "variance"]].to_numpy(float)).all()
