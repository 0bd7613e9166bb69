"""A standardised effect whose paper does not say which SD it is in: last choice, and flagged."""

import pytest

from steelyard.effects.formed import SCALE_OPEN
from tests.effects.test_assumed_ends import ARMS
from tests.small_library import comparison, only

PRINTED = "{ value = 0.9, se = 0.3 }"


def test_arms_with_an_assumed_r_go_before_it(tmp_path):
    alone = only(tmp_path / "alone", comparison(standardised=PRINTED))
    assert SCALE_OPEN in alone["flags"] and alone["effect"] == 0.9
    both = only(tmp_path / "both", ARMS + comparison(standardised=PRINTED))
    arms = only(tmp_path / "arms", ARMS)
    assert both["effect"] == arms["effect"] and both["variance"] == arms["variance"]
    assert SCALE_OPEN not in both["flags"] and "assumed r" in both["flags"]
    said = comparison(standardised='{ value = 0.9, se = 0.3, over = "pre-sd" }')
    assert only(tmp_path / "said", ARMS + said)["effect"] == 0.9


def test_the_papers_own_difference_over_a_printed_sd_goes_before_it(tmp_path):
    # 6 ± 2 over the SD before, 10, with J = 1 − 3/(4·38 − 1): the scale is known.
    body = ARMS + comparison(standardised=PRINTED, difference="{ value = 6, se = 2 }")
    row = only(tmp_path, body)
    assert row["effect"] == pytest.approx(0.6 * (1 - 3 / 151))
    assert SCALE_OPEN not in row["flags"] and row["tier"] == "derived"


def test_a_test_of_nobody_knows_which_scores_is_one_too(tmp_path):
    tested = only(tmp_path / "open", comparison(t="2.4"))
    assert SCALE_OPEN in tested["flags"]
    assert SCALE_OPEN not in only(tmp_path / "said", comparison(t="2.4", of='"post"'))["flags"]


def test_an_exact_test_beside_a_bound_of_p_is_exact(tmp_path):
    # t is printed, and its p as a threshold too: the paper's own test is no bound.
    body = ARMS + comparison(difference="{ value = 6 }", t="2.4", p='"< 0.05"')
    row = only(tmp_path, body, 'metric = "raw"')
    assert row["variance"] == pytest.approx((6 / 2.4) ** 2)
    assert row["flags"] == ""
