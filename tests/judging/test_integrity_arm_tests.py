"""Standard errors, intervals and tests of a paper against what its arms' numbers give."""

from __future__ import annotations

from decimal import Decimal
from math import sqrt

import numpy as np
import pytest
from scipy import stats

from steelyard.judging.integrity import integrity_findings
from steelyard.judging.integrity.change_sds import sd_of_change
from steelyard.judging.integrity.rounded import Rounded
from steelyard.judging.integrity.significance import contradict
from steelyard.records.record_set import load_records
from steelyard.records.study import Study
from tests.small_library import comparison, result, study

UNCERTAIN, TEST, PAIRED = (
    "uncertainty-does-not-follow",
    "test-does-not-follow",
    "paired-test-does-not-follow",
)


def findings(folder, body, rule, **words):
    study(folder, "a", body, **words)
    records = load_records(folder)
    assert not [finding for finding in records.findings if finding.severity == "fault"]
    return [finding for finding in integrity_findings(records.studies) if finding.rule == rule]


def arms(slow="", usual="", *, pre=True):
    """Two arms of 20: before 212.0 and 208.3, after 236.4 and 219.9; changes 24.4 and 11.6."""
    rows = (
        ("slow", ("212.0", "41.5"), ("236.4", "44.0"), slow),
        ("usual", ("208.3", "39.8"), ("219.9", "42.1"), usual),
    )
    body = ""
    for arm, before, after, more in rows:
        cells = {"post": f"{{ mean = {after[0]}, sd = {after[1]} }}"}
        if pre:
            cells["pre"] = f"{{ mean = {before[0]}, sd = {before[1]} }}"
        body += result(arm, **cells) + more
    return body


# SDs of change 15.0 and 14.0: SE √(15² + 14²)/√20 = 4.588, t = 12.8/4.588 = 2.790 on 38 degrees
# of freedom, p = 0.0082, 95 % interval 3.5 to 22.1: recomputed below.
CHANGES = arms("change = { mean = 24.4, sd = 15.0 }\n", "change = { mean = 11.6, sd = 14.0 }\n")
WITH_R = arms("r = 0.90\n", "r = 0.90\n")


def test_the_numbers_of_this_file():
    test = stats.ttest_ind_from_stats(24.4, 15.0, 20, 11.6, 14.0, 20)
    assert test.statistic == pytest.approx(2.790, abs=5e-4)
    assert test.pvalue == pytest.approx(0.0082, abs=5e-5)
    assert sqrt((15.0**2 + 14.0**2) / 20) == pytest.approx(4.588, abs=5e-4)


@pytest.mark.parametrize(
    ("effect", "severity"),
    [
        ("ci95 = [3.5, 22.1]", None),
        ("ci95 = [10.8, 14.8]", "warning"),  # SE 0.99
        ("ci95 = [-27.2, 52.8]", "warning"),  # SE 19.8
        ("se = 4.6", None),
        ("se = 0.46", "warning"),
        ("se = 46", "warning"),
        # 4.588/1.5 = 3.059 and 4.588·1.5 = 6.88, with the rounding of both.
        ("se = 3.1", None),
        ("se = 2.9", "note"),
        ("se = 6.8", None),
        ("se = 7.0", "note"),
    ],
)
def test_uncertainty_from_both_sides(tmp_path, effect, severity):
    body = CHANGES + comparison(difference=f"{{ value = 12.8, {effect} }}")
    found = findings(tmp_path, body, UNCERTAIN)
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    if found:
        assert "√(15² / 20 + 14² / 20) = 4.59" in found[0].arithmetic
        assert not found[0].suspect


def test_uncertainty_reveals_standard_errors(tmp_path):
    # 15.0/√20 = 3.35 and 14.0/√20 = 3.13 typed as SDs: the paper's SE fits only as SEs.
    body = arms("change = { mean = 24.4, sd = 3.35 }\n", "change = { mean = 11.6, sd = 3.13 }\n")
    body += comparison(difference="{ value = 12.8, se = 4.59 }")
    (finding,) = findings(tmp_path, body, UNCERTAIN)
    assert "with the SDs read as standard errors it would be 4.58, which fits" in finding.message


def test_any_plausible_r_explains_an_uncertainty(tmp_path):
    # r 0.5 to 0.9875 for strength: SDs of change 6.7 to 43.5, SEs 1.5 to 9.6.
    for se, times in (("4.6", 0), ("9.0", 0), ("1.5", 0), ("0.5", 1), ("46", 1)):
        body = arms() + comparison(difference=f"{{ value = 12.8, se = {se} }}")
        assert len(findings(tmp_path, body, UNCERTAIN)) == times, se


def test_a_difference_of_scores_is_held_against_scores(tmp_path):
    # 16.5 is that of scores: SE √(44.0² + 42.1²)/√20 = 13.6, though SDs of change are printed.
    for se, times in (("13.6", 0), ("4.6", 1)):
        body = CHANGES + comparison(difference=f"{{ value = 16.5, se = {se} }}")
        assert len(findings(tmp_path, body, UNCERTAIN)) == times, se
    for of, times in (('"post"', 1), ('"change"', 0)):
        body = CHANGES + comparison(difference="{ value = 12.8, se = 4.6 }", of=of)
        assert len(findings(tmp_path, body, UNCERTAIN)) == times, of


def test_an_adjusted_difference_has_a_smaller_error_of_its_own(tmp_path):
    # 13.6·√(1 − 0.9875²) = 2.1 at the least, 13.6 at the most.
    for se, times in (("5.0", 0), ("2.2", 0), ("0.5", 1), ("50", 1)):
        effect = f"{{ value = 14.0, se = {se} }}"
        body = arms() + comparison(difference=effect, adjusted="true")
        assert len(findings(tmp_path, body, UNCERTAIN)) == times, se


def test_a_difference_of_other_data_is_told_once(tmp_path):
    """Only scores after training are printed, the paper compared changes."""
    body = arms(pre=False) + comparison(difference="{ value = 12.8, se = 4.6 }", p="0.008")
    assert findings(tmp_path, body, "difference-mismatch")
    assert not findings(tmp_path, body, UNCERTAIN)
    assert not findings(tmp_path, body, TEST)


@pytest.mark.parametrize("kind", ["within-person", "crossover"])
def test_the_two_sides_of_one_person(tmp_path, kind):
    # SDs of change 15 and 14, r between 0 and 0.9: SEs 1.5 to 4.6.
    for se, times in (("1.6", 0), ("4.5", 0), ("0.3", 1), ("12", 1)):
        body = CHANGES + comparison(difference=f"{{ value = 12.8, se = {se} }}")
        assert len(findings(tmp_path, body, UNCERTAIN, kind=kind)) == times, se
    # With a printed r of 0.6, √(15² + 14² − 2·0.6·15·14)/√20 = 2.91.
    (finding,) = findings(
        tmp_path,
        CHANGES + comparison(difference="{ value = 12.8, se = 0.8 }"),
        UNCERTAIN,
        kind=kind,
        outcome_more="r_between_arms = 0.6\n",
    )
    assert "√((15² + 14² − 2 × 0.6 × 15 × 14) / 20) = 2.91" in finding.arithmetic


def test_clusters_are_left_alone(tmp_path):
    body = CHANGES + comparison(difference="{ value = 12.8, se = 12.0 }")
    assert findings(tmp_path, body, UNCERTAIN)
    assert not findings(
        tmp_path, body, UNCERTAIN, kind="cluster", design_more="cluster_size = 10\n"
    )


def test_p_with_a_printed_r(tmp_path):
    # r 0.90: SDs of change 19.3 and 18.5, t = 2.14, p = 0.039; scores: t = 1.21, p = 0.23.
    for p, times in (("0.039", 0), ("0.23", 0), ("0.45", 0), ("0.9", 1), ("0.0004", 1)):
        assert len(findings(tmp_path, WITH_R + comparison(p=p), TEST)) == times, p
    (finding,) = findings(tmp_path, WITH_R + comparison(p="0.9", of='"change"'), TEST)
    assert "(r 0.9)" in finding.message
    assert "38 degrees of freedom" in finding.arithmetic


def test_p_that_no_plausible_r_gives(tmp_path):
    # Changes 24.4 and 1.6: with r 0.5 to 0.9875 p is 0.1 at the most, of scores 0.06.
    body = arms().replace("219.9", "209.9")
    for p, times in (("0.001", 0), ("0.04", 0), ("0.25", 0), ('"<0.05"', 0), ("0.5", 1)):
        assert len(findings(tmp_path, body + comparison(p=p), TEST)) == times, p
    (finding,) = findings(tmp_path, body + comparison(p="0.5", of='"change"'), TEST)
    assert "(r 0.5 to 0.9875)" in finding.message


def test_two_ps_far_apart_contradict_at_any_size():
    def p(value):
        return Rounded(value, value, value)

    assert contradict(p(0.25), p(0.85))  # normal deviates 1.15 and 0.19
    assert not contradict(p(0.25), p(0.75))  # 1.15 and 0.32
    assert contradict(p(0.01), p(0.04))  # a factor of 4
    assert not contradict(p(0.01), p(0.03))


def alone(change, *, more=""):
    return (
        result(
            "slow",
            pre="{ mean = 212.0, sd = 41.5 }",
            post="{ mean = 236.4, sd = 44.0 }",
            change=f"{{ mean = 24.4, {change} }}",
        )
        + more
    )


@pytest.mark.parametrize(
    ("change", "severity"),
    [
        # 24.4·√20/15.0 = 7.27 on 19 degrees of freedom, p below 0.001.
        ("sd = 15.0, t = 7.3", None),
        ("sd = 15.0, t = -7.3", None),
        ("sd = 15.0, t = 9.0", None),  # a quarter above 7.27
        ("sd = 15.0, t = 9.3", "warning"),
        ('sd = 15.0, p = "<0.001"', None),
        ("sd = 15.0, p = 0.001", None),
        ("sd = 15.0, p = 0.6", "note"),
        ("sd = 15.0, t = 0.6", "warning"),
        ('sd = 15.0, p = ">0.05"', "note"),
        # 15.0·√20 = 67 would be no SD of change beside 41.5 before: no word of it.
        ("sd = 15.0, p = 0.12", "note"),
        # 7.5·√20 = 33.5 would; t is then 24.4/7.5 = 3.25, p = 0.0042.
        ("sd = 7.5, p = 0.004", "warning"),
        ("sd = 7.5, t = 3.25", "warning"),
    ],
)
def test_paired_test_against_change_and_sd(tmp_path, change, severity):
    found = findings(tmp_path, alone(change), PAIRED)
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    if found and "15.0" in change:
        assert "24.4 × √20 / 15 = 7.27" in found[0].arithmetic
    fits = [
        f
        for f in found
        if "with 7.5 read as a standard error t = 3.25 and p = 0.00418" in f.message
    ]
    assert len(fits) == ("7.5" in change)


@pytest.mark.parametrize(
    ("change", "severity"),
    [
        # r 0.5 to 0.9875: SDs of change 7.2 to 42.8, t 2.5 to 15.2; r −1: 85.5, t 1.28, p 0.22.
        ("p = 0.02", None),
        ('p = "<0.001"', None),
        ("t = 3.1", None),
        ("p = 0.2", "note"),
        ("p = 0.9", "warning"),
    ],
)
def test_paired_test_without_an_sd_of_change(tmp_path, change, severity):
    found = findings(tmp_path, alone(change), PAIRED)
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    if severity == "warning":
        assert "no correlation of before and after would" in found[0].message
    if severity == "note":
        assert "r 0.5 to 0.9875" in found[0].message


def test_ranks_cannot_print_a_p_below_theirs(tmp_path):
    # Eight people: the least p of signed ranks is 2/2⁸ = 0.0078; t = 7.27·√(8/20) = 4.6, p 0.0025.
    change = "sd = 15.0, p = 0.012"
    assert not findings(tmp_path, alone(change), PAIRED, n_slow=8)
    assert findings(tmp_path, alone(change), PAIRED, n_slow=20)


def test_t_and_p_of_one_change(tmp_path):
    found = findings(tmp_path, alone("t = 2.10, p = 0.6"), "test-mismatch")
    assert [finding.path for finding in found] == ["result[1].change.p"]
    assert not findings(tmp_path, alone("t = 2.10, p = 0.049"), "test-mismatch")


def test_the_span_of_an_sd_of_change_holds_every_rounding():
    pre, post, r = Rounded(20, 19.5, 20.5), Rounded(22, 21.5, 22.5), Rounded(0.8, 0.5, 0.95)
    span = sd_of_change(pre, post, r)
    grid = [
        sqrt(s1**2 + s2**2 - 2 * each * s1 * s2)
        for s1 in np.linspace(19.5, 20.5, 11)
        for s2 in np.linspace(21.5, 22.5, 11)
        for each in np.linspace(0.5, 0.95, 11)
    ]
    assert span.low == pytest.approx(min(grid), rel=1e-4)  # between two points of the grid
    assert span.low <= min(grid)
    assert span.high == pytest.approx(max(grid))


def printed(values, places=1):
    return {
        "mean": Decimal(f"{values.mean():.{places}f}"),
        "sd": Decimal(f"{values.std(ddof=1):.{places}f}"),
    }


def p_printed(p):
    return Decimal(f"{p:.3f}") if p >= 0.001 else "<0.001"


@pytest.mark.parametrize("layout", ["scores", "scores and paired p", "everything", "r"])
@pytest.mark.parametrize("tested", ["t of changes", "Welch", "ranks", "t of scores"])
def test_drawn_people_are_rarely_doubted(layout, tested):
    """Everything computed from drawn people and rounded, r from 0.5 to 0.98."""
    random = np.random.default_rng(77)
    studies = {}
    for number in range(100):
        name = f"drawn-{number}"
        studies[name] = drawn(random, name, layout, tested)
    rules = (UNCERTAIN, TEST, PAIRED, "test-mismatch", "difference-mismatch", "adjusted-sign")
    found = [f for f in integrity_findings(studies) if f.rule in rules]
    assert len({finding.study for finding in found}) <= 3
    assert sum(finding.severity == "warning" for finding in found) <= 1


def drawn(random, name, layout, tested):
    r = float(np.clip(np.tanh(random.normal(1.4, 0.6)), 0.5, 0.98))
    results, arms, scores = [], [], []
    for arm, gain in (("slow", 18.0), ("usual", 3.0)):
        n = int(random.integers(8, 30))
        first, second = random.normal(size=(2, n))
        before = 100 + 20 * first
        after = 100 + gain + 21 * (r * first + sqrt(1 - r**2) * second)
        change = after - before
        scores.append((after, change))
        row = {"outcome": "peak", "arm": arm, "week": 12}
        row |= {"pre": printed(before), "post": printed(after)}
        p = p_printed(stats.ttest_1samp(change, 0).pvalue)
        if layout == "everything":
            row["change"] = printed(change) | {"p": p}
        elif layout == "scores and paired p":
            row["change"] = {"mean": printed(change)["mean"], "p": p}
        elif layout == "r":
            row["r"] = Decimal(f"{np.corrcoef(before, after)[0, 1]:.2f}")
        results.append(row)
        arms.append({"id": arm, "n": n})
    place = 0 if tested == "t of scores" else 1
    pair = [each[place] for each in scores]
    told = {"outcome": "peak", "intervention": "slow", "comparator": "usual", "week": 12}
    if tested == "ranks":
        told["p"] = p_printed(stats.mannwhitneyu(*pair).pvalue)
    else:
        test = stats.ttest_ind(*pair, equal_var=tested != "Welch")
        limits = test.confidence_interval()
        told["p"] = p_printed(test.pvalue)
        told["difference"] = {
            "value": Decimal(f"{pair[0].mean() - pair[1].mean():.1f}"),
            "ci95": [Decimal(f"{limits.low:.1f}"), Decimal(f"{limits.high:.1f}")],
        }
    return Study.model_validate(
        {
            "schema": 1,
            "id": name,
            "invented": True,
            "source": {"title": f"Drawn study {name}"},
            "design": {"kind": "parallel"},
            "arm": arms,
            "outcome": [{"id": "peak", "construct": "strength", "unit": "N"}],
            "result": results,
            "comparison": [told],
        }
    )
