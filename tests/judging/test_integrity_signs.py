"""Printed signs against the direction of the arms: what contradicts, what may well be so."""

from __future__ import annotations

import pytest

from steelyard import open_library
from steelyard.judging.integrity import integrity_findings, suspect_results
from steelyard.records.record_set import load_records
from tests.small_library import comparison, question, result, study

RULES = ("standardised-mismatch", "adjusted-sign", "test-sign")


def signs(folder, body, **words):
    study(folder, "a", body, **words)
    records = load_records(folder)
    assert not [finding for finding in records.findings if finding.severity == "fault"]
    found = integrity_findings(records.studies)
    return [f for f in found if f.rule in RULES and f.severity == "warning"]


def arms(*means, sds=("41.5", "44.0", "39.8", "42.1"), r=None):
    """Before and after with slow lowering, before and after without."""
    more = {} if r is None else {"r": r}
    cells = [f"{{ mean = {mean}, sd = {sd} }}" for mean, sd in zip(means, sds, strict=True)]
    body = result("slow", pre=cells[0], post=cells[1], **more)
    return body + result("usual", pre=cells[2], post=cells[3], **more)


# Changes 24.4 and 11.6 differ by 12.8, scores by 16.5; over the pooled SD of 40.7 before: 0.315.
ARMS = arms("212.0", "236.4", "208.3", "219.9")
# A sprint: 1.0 and 0.3 s faster, changes differ by −0.7, over the pooled SD of 2.05: −0.341.
SPRINT = arms("12.0", "11.0", "12.1", "11.8", sds=("2.0", "2.1", "2.1", "2.0"))


TEN = ("10.9", "10.4", "10.1", "11.9")
OF_CHANGE = ', over = "change-sd"'


def standardised(value, more="", **cells):
    return comparison(standardised=f"{{ value = {value}, se = 0.30{more} }}", **cells)


def test_turned_standardised_effect(tmp_path):
    (finding,) = signs(tmp_path, ARMS + standardised("-0.31", ', over = "pre-sd"'))
    assert (finding.rule, finding.severity) == ("standardised-mismatch", "warning")
    assert "opposite sign of the arms, which give 0.315" in finding.message
    assert "write it as slow less usual, 0.31" in finding.message
    assert "left as it is, the effect is −0.31, the paper's own" in finding.message
    assert "difference of changes: 12.8" in finding.arithmetic
    assert suspect_results([finding]) == {("a", "peak"): "a sign that contradicts the arms"}


def test_what_is_said_to_be_pooled_is_pooled(tmp_path):
    question(tmp_path)
    for body, value, source in (
        (ARMS + standardised("-0.31", ', over = "pre-sd"'), -0.31, "the paper's own"),
        (
            arms("212.0", "236.4", "208.3", "219.9", r="0.9") + standardised("-0.31"),
            0.309,
            "formed from the arms",
        ),
    ):
        (finding,) = signs(tmp_path, body)
        row = open_library(tmp_path).effect_table("asked").rows.iloc[0]
        assert row["effect"] == pytest.approx(value, abs=5e-4)
        shown = f"{value:+.3g}".replace("-", "−")
        assert f"the effect is {shown}, {source}" in finding.message
        assert finding.suspect == (source == "the paper's own")


@pytest.mark.parametrize(
    ("body", "words", "times"),
    [
        (ARMS + standardised("0.31"), {}, 0),
        (ARMS + standardised("0.40"), {}, 0),  # scores after training
        # Lower is better: slow less usual is negative where slow lowering helped.
        (SPRINT + standardised("-0.34"), {"better": "lower"}, 0),
        (SPRINT + standardised("0.34"), {"better": "lower"}, 1),
        # Changes differ by +3.7, scores by −1.3: either sign may be what was tested.
        (arms("212.0", "226.0", "217.0", "227.3") + standardised("-0.03"), {}, 0),
        (arms("212.0", "226.0", "217.0", "227.3") + standardised("-0.20"), {}, 0),
        (arms("212.0", "226.0", "217.0", "227.3") + standardised("-0.20", of='"change"'), {}, 1),
        # Another size as well: still the other side of 0, however it was divided.
        (ARMS + standardised("-0.90"), {}, 1),
        (ARMS + standardised("-0.90", adjusted="true"), {}, 1),
        (ARMS + standardised("-0.01"), {}, 1),
        # Over SDs of change it is the changes that were compared, +3.7 here and −1.3 in scores.
        (arms("212.0", "226.0", "217.0", "227.3") + standardised("0.15", OF_CHANGE), {}, 0),
        (arms("212.0", "226.0", "217.0", "227.3") + standardised("-0.15", OF_CHANGE), {}, 1),
        # Changes differ by −1.2 and scores by +2.2, which turned round would be 0.21 too.
        (arms("56.8", "62.5", "53.4", "60.3", sds=TEN) + standardised("-0.21", OF_CHANGE), {}, 0),
        (arms("56.8", "62.5", "53.4", "60.3", sds=TEN) + standardised("-0.21"), {}, 0),
        # Rounding leaves the sign open.
        (ARMS + standardised("0.0"), {}, 0),
        (arms("212.0", "213.0", "212.0", "213.0") + standardised("-0.20"), {}, 0),
    ],
)
def test_standardised_from_both_sides(tmp_path, body, words, times):
    assert len(signs(tmp_path, body, **words)) == times


def test_lower_is_better_is_told_how_papers_print_it(tmp_path):
    (finding,) = signs(tmp_path, SPRINT + standardised("0.34", ', over = "pre-sd"'), better="lower")
    assert "papers may print a sign that is positive for the better group" in finding.message
    assert "write it as slow less usual, -0.34" in finding.message
    assert "the effect is +0.34" in finding.message
    question(tmp_path)
    row = open_library(tmp_path).effect_table("asked").rows.iloc[0]
    assert row["effect"] == pytest.approx(-0.34)  # the table's sign: against slow lowering


def test_means_alone_tell_a_sign(tmp_path):
    body = result("slow", post="{ mean = 236.4 }") + result("usual", post="{ mean = 219.9 }")
    (finding,) = signs(tmp_path, body + standardised("-0.31"))
    assert "whose means differ by 16.5" in finding.message
    assert not signs(tmp_path, body + standardised("0.31"))


def test_a_figure_is_left_alone(tmp_path):
    assert not signs(tmp_path, ARMS + standardised("-0.31", read_off='"figure"'))


@pytest.mark.parametrize(
    ("value", "times"),
    [
        # Between 12.8 and 16.5, half of 3.7 beyond and a tenth of 40.7 more, with
        # rounding: 6.7 to 22.6.
        ("13.0", 0),
        ("-13.0", 1),
        ("-22.4", 1),
        ("-22.8", 0),  # turned round it would not fit either
        ("-6.6", 0),
        ("-3.0", 0),
    ],
)
def test_adjusted_difference_from_both_sides(tmp_path, value, times):
    body = ARMS + comparison(difference=f"{{ value = {value}, se = 5.0 }}", adjusted="true")
    found = signs(tmp_path, body)
    assert len(found) == times
    if found:
        assert found[0].rule == "adjusted-sign"
        assert f"write it as slow less usual, {value[1:]}" in found[0].message
        assert "difference of changes = 12.8" in found[0].arithmetic


def test_small_adjusted_differences_may_have_either_sign(tmp_path):
    # Changes differ by 1.7, scores by 5.4; a tenth of the SD is 4.1.
    body = arms("212.0", "214.4", "208.3", "209.0")
    for value in ("-1.0", "-3.0"):
        more = comparison(difference=f"{{ value = {value}, se = 5.0 }}", adjusted="true")
        assert not signs(tmp_path, body + more)


def test_a_t_without_its_sign_matters_where_it_is_taken(tmp_path):
    after = result("slow", post="{ mean = 219.9 }") + result("usual", post="{ mean = 236.4 }")
    (finding,) = signs(tmp_path, after + comparison(t="2.1"))
    assert finding.rule == "test-sign"
    assert finding.suspect
    assert "differ by −16.5 in scores after training" in finding.message
    assert not signs(tmp_path, after + comparison(t="-2.1"))
    # With an SD before training the sign comes from the means, and t may stand without one.
    before = "{ mean = 212.0, sd = 41.5 }"
    whole = result("slow", pre=before, post="{ mean = 219.9 }")
    whole += result("usual", pre=before, post="{ mean = 236.4 }")
    assert not signs(tmp_path, whole + comparison(t="2.1"))
