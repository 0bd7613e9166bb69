"""Means and SDs of whole-number scores: cited cases, enumeration, and records."""

from __future__ import annotations

from decimal import Decimal
from itertools import combinations_with_replacement
from statistics import mean, stdev

import pytest

from steelyard.judging.integrity import integrity_findings
from steelyard.judging.integrity.whole_numbers import possible_sums, sd_possible
from steelyard.records.record_set import load_records
from tests.small_library import result, study

WHOLE = "whole_numbers = true\nitems = 1"

# Each case with its source and how well that source was seen.
CITED = [
    # Brown & Heathers (2017) Soc Psychol Personal Sci 8:363-369, opening example: recomputed
    # from the published formula and agrees with the published figure; digits recalled, page
    # not viewed.
    ("5.19", 28, 145.32, False),
    # Encyclopedia article on the test, 20 dice rolls: confirmed in a stored public page.
    ("3.48", 20, 69.6, False),
    # Possible neighbour of the first case (146/28): from memory, recomputed from the formula.
    ("5.21", 28, 145.88, True),
    # Tie: 1.125 may print as 1.12 or 1.13, so both can be: tie rule confirmed in a stored
    # public page.
    ("1.12", 8, 8.96, True),
    ("1.13", 8, 9.04, True),
]


@pytest.mark.parametrize(("printed", "n", "product", "possible"), CITED)
def test_cited_means(printed, n, product, possible):
    assert float(printed) * n == pytest.approx(product, rel=1e-6)
    assert bool(possible_sums(Decimal(printed), n=n)) is possible


def test_items_make_the_mean_finer():
    # 5.19 with 28 people is impossible; on 4 items 581/112 = 5.1875 prints as 5.19.
    assert not possible_sums(Decimal("5.19"), n=28, items=1)
    assert list(possible_sums(Decimal("5.19"), n=28, items=4)) == [581]


def test_decimals_decide():
    assert possible_sums(Decimal("3.5"), n=20)
    assert not possible_sums(Decimal("3.48"), n=20)
    assert possible_sums(Decimal("-3.50"), n=20) == range(-70, -69)


@pytest.mark.parametrize(("n", "items", "top"), [(3, 1, 6), (5, 1, 4), (4, 3, 4)])
def test_no_real_data_are_refused(n, items, top):
    """Every data set of n whole-number totals from 0 to top passes with its own mean and SD."""
    seen = set()
    for people in combinations_with_replacement(range(top * items + 1), n):
        scores = [total / items for total in people]
        if len(set(scores)) == 1:
            continue
        printed = (Decimal(f"{mean(scores):.2f}"), Decimal(f"{stdev(scores):.2f}"))
        seen.add(printed)
        assert possible_sums(printed[0], n=n, items=items), people
        assert sd_possible(*printed, n=n, items=items), people
    assert len(seen) > 50


def test_sds_that_no_data_have_are_refused():
    """Enumeration as a second route: of the SDs that no 5 answers of 0-8 give, many are refused."""
    attained = {
        (f"{mean(people):.2f}", f"{stdev(people):.2f}")
        for people in combinations_with_replacement(range(9), 5)
    }
    means = {printed for printed, _ in attained}
    never = [
        (printed, f"{hundredths / 100:.2f}")
        for printed in sorted(means)
        for hundredths in range(50, 200)
        if (printed, f"{hundredths / 100:.2f}") not in attained
    ]
    refused = [case for case in never if not sd_possible(Decimal(case[0]), Decimal(case[1]), n=5)]
    assert len(refused) > 0.8 * len(never)


def test_sd_parity_from_both_sides():
    # Scores 1, 2, 3, 4: S = 10, Q = 30 (both even), SD = √(5/3) = 1.29. With S = 10, Q = 29
    # (odd) SD would be √(4/3) = 1.15, Q = 28 gives 1.00: own arithmetic.
    assert sd_possible(Decimal("2.50"), Decimal("1.29"), n=4)
    assert not sd_possible(Decimal("2.50"), Decimal("1.15"), n=4)
    assert sd_possible(Decimal("2.50"), Decimal("1.00"), n=4)


def test_sd_below_the_evenest_scores():
    # 10 people, S = 5: the evenest scores are five 0 and five 1, Q = 5, SD = 0.527; Q = 3 has
    # the right parity and would give 0.24, but no whole numbers do: own arithmetic.
    assert sd_possible(Decimal("0.5"), Decimal("0.53"), n=10)
    assert not sd_possible(Decimal("0.50"), Decimal("0.24"), n=10)


def rules(folder, body, **words):
    study(folder, "a", body, **words)
    return {
        (finding.rule, finding.path): finding
        for finding in integrity_findings(load_records(folder).studies)
    }


def test_record_with_an_impossible_mean(tmp_path):
    body = result("slow", post="{ mean = 5.19, sd = 1.35 }", read_off='"table"')
    found = rules(tmp_path, body, n_slow=28, outcome_more=WHOLE)
    finding = found["impossible-mean", "result[1].post.mean"]
    assert finding.severity == "warning"
    assert not finding.suspect
    assert "5.18 or 5.21" in finding.message  # 145/28 and 146/28
    assert "145.32" in finding.arithmetic


@pytest.mark.parametrize(
    ("words", "more"),
    [
        ({"post": "{ mean = 5.21, sd = 1.35 }"}, WHOLE),  # possible
        ({"post": "{ mean = 5.19, sd = 1.35 }"}, ""),  # not whole numbers
        ({"post": "{ mean = 5.19, sd = 1.35 }", "read_off": '"figure"'}, WHOLE),
        ({"post": "{ mean = 5.2, sd = 1.4 }"}, WHOLE),  # one decimal: every mean possible
    ],
)
def test_records_without_an_impossible_mean(tmp_path, words, more):
    found = rules(tmp_path, result("slow", **words), n_slow=28, outcome_more=more)
    assert not [rule for rule, _ in found if rule == "impossible-mean"]


def test_starting_mean_may_be_of_all_who_started(tmp_path):
    # 23/7 = 3.29 with all 7 who started, not with the 6 analysed: own arithmetic.
    body = result(
        "slow", n="6", pre="{ mean = 3.29, sd = 1.11 }", post="{ mean = 3.29, sd = 1.11 }"
    )
    found = rules(tmp_path, body, n_slow=7, outcome_more=WHOLE)
    assert ("impossible-mean", "result[1].pre.mean") not in found
    assert ("impossible-mean", "result[1].post.mean") in found


def test_record_with_an_impossible_sd(tmp_path):
    body = result("slow", post="{ mean = 2.50, sd = 1.15 }")
    found = rules(tmp_path, body, n_slow=4, outcome_more=WHOLE)
    finding = found["impossible-sd", "result[1].post.sd"]
    assert "even" in finding.message
    body = result("slow", post="{ mean = 2.50, sd = 1.29 }")
    assert not rules(tmp_path, body, n_slow=4, outcome_more=WHOLE).keys() & {
        ("impossible-sd", "result[1].post.sd")
    }
