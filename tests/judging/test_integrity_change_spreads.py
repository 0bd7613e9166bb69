"""A standard error printed as the SD of a change: boundaries, records, printed r, likeness."""

from __future__ import annotations

import pytest

from steelyard import open_library
from steelyard.judging.integrity import integrity_findings, suspect_results
from steelyard.records.record_set import load_records
from tests.small_library import question, result, study

SIZE = """[[outcome]]
id = "thickness"
construct = "muscle-size"
unit = "mm"
"""


def findings(folder, body, rule="small-change-sd", **words):
    study(folder, "a", body, **words)
    found = integrity_findings(load_records(folder).studies)
    return [finding for finding in found if finding.rule == rule]


def arms(slow, usual, *, pre=True, gains=("24.4", "11.6"), after=False, more=""):
    """Changes of two arms of 20, with SDs before training of 41.5 and 39.8."""
    body = ""
    rows = (("slow", "212.0", "41.5", slow), ("usual", "208.3", "39.8", usual))
    for (arm, start, sd, change), gain in zip(rows, gains, strict=True):
        cells = {"change": f"{{ mean = {gain}, {change} }}"}
        if pre:
            cells["pre"] = f"{{ mean = {start}, sd = {sd} }}"
        if after:
            cells["post"] = f"{{ mean = {float(start) + float(gain):.1f}, sd = {sd} }}"
        body += result(arm, **cells) + more
    return body


def test_both_arms_with_only_the_sd_before(tmp_path):
    # (2·41.5² − 4.9²)/(2·41.5²) = 0.99303; 4.9·√20 = 21.91, r = 0.861: own arithmetic.
    found = findings(tmp_path, arms("sd = 4.9", "sd = 4.6"))
    assert [finding.path for finding in found] == ["result[1].change.sd", "result[2].change.sd"]
    assert {finding.severity for finding in found} == {"warning"}
    first = found[0]
    assert "correlation of 0.9930 (one SD stands for before and after)" in first.message
    assert "the SD is 21.9 and the correlation 0.861: write se = 4.9" in first.message
    assert "(41.5² + 41.5² − 4.9²) / (2 × 41.5 × 41.5) = 0.9930" in first.arithmetic
    words = {("a", "peak"): "an SD of change that looks like a standard error"}
    assert suspect_results(found) == words


def test_all_three_sds(tmp_path):
    found = findings(tmp_path, arms("sd = 4.9", "sd = 4.6", after=True))
    assert [finding.severity for finding in found] == ["warning", "warning"]
    assert "stands for" not in found[0].message


@pytest.mark.parametrize(
    "sound",
    [arms("se = 4.9", "se = 4.6"), arms("sd = 21.9", "sd = 20.6"), arms("sd = 9.0", "sd = 8.4")],
)
def test_sound_changes_are_left_alone(tmp_path, sound):
    assert not findings(tmp_path, sound)


def test_one_arm_alone_is_a_note(tmp_path):
    found = findings(tmp_path, arms("sd = 4.9", "sd = 12.0"))
    assert [(finding.path, finding.severity) for finding in found] == [
        ("result[1].change.sd", "note")
    ]
    assert not suspect_results(found)


def test_the_limit_for_both_arms_from_both_sides(tmp_path):
    # r = 1 − s²/(2·41.5²): 0.9875 at s = 6.56, the highest that rounds to 6.5 being 6.55; the
    # usual arm stays far beyond it.
    assert [f.severity for f in findings(tmp_path, arms("sd = 6.5", "sd = 4.6"))] == [
        "warning",
        "warning",
    ]
    found = findings(tmp_path, arms("sd = 6.6", "sd = 4.6"))
    assert {finding.severity for finding in found} == {"note"}


def test_one_arm_from_both_sides(tmp_path):
    # SDs 20 and 20: r = 1 − s²/800, 0.985 at s = √12 = 3.46; n 16 makes 3.4 into 13.6, r .77.
    means = {"pre": "{ mean = 80.0, sd = 20.0 }", "post": "{ mean = 95.0, sd = 20.0 }"}
    small = result("slow", **means, change="{ mean = 15.0, sd = 3.4 }")
    (finding,) = findings(tmp_path, small, n_slow=16)
    assert "write se = 3.4" in finding.message
    plain = result("slow", **means, change="{ mean = 15.0, sd = 3.5 }")
    assert not findings(tmp_path, plain, n_slow=16)


def test_a_square_root_that_does_not_mend_it(tmp_path):
    # 2.0·√4 = 4.0 is r = 0.995 still: n explains nothing.
    assert not findings(tmp_path, arms("sd = 2.0", "sd = 2.0"), n_slow=4, n_usual=4)


def thickness(sd, gains=(2.0, 0.3)):
    body = ""
    for arm, gain in zip(("slow", "usual"), gains, strict=True):
        body += result(
            arm,
            outcome="thickness",
            pre="{ mean = 25.00, sd = 4.00 }",
            change=f"{{ mean = {gain}, sd = {sd} }}",
        )
    return body


def test_muscle_size_needs_a_large_change_too(tmp_path):
    # 0.30: r = 1 − 0.09/32 = 0.9972, and with 0.30·√20 = 1.34 it is 0.944; 2.0/0.30 = 6.7.
    found = findings(tmp_path, thickness("0.30"), outcome_more=SIZE)
    assert {finding.severity for finding in found} == {"warning"}
    assert "the mean change of 2 in slow is 6.67 SDs" in found[0].message
    assert not findings(tmp_path, thickness("0.30", (0.8, 0.1)), outcome_more=SIZE)
    assert not findings(tmp_path, thickness("0.50"), outcome_more=SIZE)  # r 0.9922


def test_a_printed_r_tells_which_of_the_two_it_is(tmp_path):
    # 4.9 means 0.993 and as a standard error 0.861: the paper's 0.86 settles it, in one arm.
    pre, change = "{ mean = 212.0, sd = 41.5 }", "{ mean = 24.4, sd = 4.9 }"
    (finding,) = findings(tmp_path, result("slow", pre=pre, change=change, r="0.86"))
    assert (finding.severity, finding.suspect) == ("warning", True)
    assert "the paper prints r = 0.86" in finding.message
    (finding,) = findings(tmp_path, result("slow", pre=pre, change=change, r="0.99"))
    assert finding.severity == "note"


def test_changes_without_an_sd_before(tmp_path):
    body = arms("sd = 3.4", "sd = 3.3", pre=False, gains=("24.4", "1.6"))
    # 24.4/3.4 = 7.18 and 22.8/3.35 = 6.81, both above 6.
    (finding,) = findings(tmp_path, body)
    assert finding.severity == "note"
    assert "24.4 / 3.4 = 7.18" in finding.arithmetic
    assert not findings(tmp_path, arms("sd = 3.9", "sd = 3.9", pre=False, gains=("24.4", "1.6")))


def test_like_outcomes_stand_in_for_an_sd_before(tmp_path):
    for index in range(5):
        study(tmp_path, f"peer-{index}", result("slow", pre="{ mean = 210.0, sd = 41.0 }"))
    found = findings(tmp_path, arms("sd = 4.9", "sd = 4.6", pre=False))
    assert [finding.severity for finding in found] == ["note", "note"]
    assert "the median SD of like outcomes, 41" in found[0].message
    assert not findings(tmp_path, arms("sd = 12.0", "sd = 11.0", pre=False))


def test_the_answer_is_told_without_it(tmp_path):
    for number, gain in enumerate((20, 24, 18, 12, 26, 15)):
        body = result(
            "slow",
            pre="{ mean = 212.0, sd = 41.0 }",
            post=f"{{ mean = {212 + gain}.0, sd = 44.0 }}",
        )
        body += result(
            "usual", pre="{ mean = 208.0, sd = 39.0 }", post="{ mean = 214.0, sd = 42.0 }"
        )
        study(tmp_path, f"trial-{number}", body)
    study(tmp_path, "a", arms("sd = 4.9", "sd = 4.6"))
    question(tmp_path)
    weighing = open_library(tmp_path).weigh("asked")
    assert weighing.without_suspects is not None
    (tmp_path / "studies" / "a.toml").unlink()
    assert weighing.without_suspects.estimate == pytest.approx(
        open_library(tmp_path).weigh("asked").estimate, abs=1e-9
    )
