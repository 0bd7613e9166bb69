"""Printed log ratios, risk and odds ratios against the arms' means, counts and SDs."""

from __future__ import annotations

from decimal import Decimal
from math import log

import numpy as np
import pytest

from steelyard import open_library
from steelyard.judging.integrity import integrity_findings
from steelyard.records.record_set import load_records
from steelyard.records.study import Study
from tests.small_library import comparison, question, result, study

RULE = "ratio-mismatch"
ARMS = result("slow", pre="{ mean = 212.0, sd = 41.5 }", post="{ mean = 236.4, sd = 44.0 }")
ARMS += result("usual", pre="{ mean = 208.3, sd = 39.8 }", post="{ mean = 219.9, sd = 42.1 }")
# ln(236.4/212.0) − ln(219.9/208.3) = 0.0547; ln(236.4/219.9) = 0.0724: recomputed below.
COUNTS = result("slow", events="4") + result("usual", events="10")
# ln((4/20)/(10/20)) = −0.916; ln((4·10)/(16·10)) = −1.386; 0.2 − 0.5 = −0.3: recomputed below.


def findings(folder, body, **words):
    study(folder, "a", body, **words)
    records = load_records(folder)
    assert not [finding for finding in records.findings if finding.severity == "fault"]
    return [finding for finding in integrity_findings(records.studies) if finding.rule == RULE]


def one(name, value, more="", **cells):
    return comparison(**{name: f"{{ value = {value}, se = 0.05{more} }}"}, **cells)


def test_the_numbers_of_this_file():
    assert log(236.4 / 212.0) - log(219.9 / 208.3) == pytest.approx(0.0547, abs=5e-5)
    assert log(236.4 / 219.9) == pytest.approx(0.0724, abs=5e-5)
    assert log((4 / 20) / (10 / 20)) == pytest.approx(-0.916, abs=5e-4)
    assert log((4 * 10) / (16 * 10)) == pytest.approx(-1.386, abs=5e-4)


@pytest.mark.parametrize(
    ("value", "severity"),
    [
        ("0.055", None),
        ("0.072", None),  # scores after training
        ("0.10", None),  # people's own logs: 0.03 beyond 0.0724
        ("0.024", None),
        ("0.12", "note"),
        ("0.50", "warning"),
        ("-0.055", "warning"),
        ("1.056", "warning"),  # the ratio itself, e^0.0547
        ("5.6", "warning"),  # in percent
    ],
)
def test_log_ratio_of_means_from_both_sides(tmp_path, value, severity):
    found = findings(tmp_path, ARMS + one("log_ratio_of_means", value))
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    if found:
        assert "changes: 0.0547; scores after training: 0.0724" in found[0].arithmetic
    if value == "-0.055":
        assert "opposite sign of the 0.0547" in found[0].message
        assert "write it as slow less usual, 0.055" in found[0].message
    if value == "1.056":
        assert "write its logarithm, 0.0545" in found[0].message
    if value == "5.6":
        assert "write ln(1 + percent/100), 0.0545" in found[0].message


def test_percent_changes_of_the_arms_count_too(tmp_path):
    body = result("slow", change_percent="{ mean = 14.0 }")
    body += result("usual", change_percent="{ mean = 5.0 }")
    # ln 1.14 − ln 1.05 = 0.0822
    assert not findings(tmp_path, body + one("log_ratio_of_means", "0.082"))
    assert findings(tmp_path, body + one("log_ratio_of_means", "0.20"))


def test_adjusted_ratios_are_left_alone(tmp_path):
    body = ARMS + one("log_ratio_of_means", "0.50", adjusted="true")
    assert not findings(tmp_path, body)


@pytest.mark.parametrize(
    ("name", "value", "severity"),
    [
        ("log_risk_ratio", "-0.916", None),
        ("log_risk_ratio", "-0.92", None),
        ("log_risk_ratio", "-0.90", None),
        ("log_risk_ratio", "-0.85", "note"),
        ("log_risk_ratio", "0.92", "warning"),
        ("log_risk_ratio", "0.40", "warning"),  # the risk ratio itself
        ("log_risk_ratio", "-1.39", "warning"),  # their log odds ratio
        ("log_odds_ratio", "-1.386", None),
        ("log_odds_ratio", "-0.916", "warning"),
        ("log_odds_ratio", "0.25", "warning"),
        ("risk_difference", "-0.30", None),
        ("risk_difference", "-0.35", "note"),
        ("risk_difference", "0.30", "warning"),
    ],
)
def test_counts_from_both_sides(tmp_path, name, value, severity):
    found = findings(tmp_path, COUNTS + one(name, value))
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    if found:
        assert "4 of 20 and 10 of 20" in found[0].arithmetic
    if value == "0.40":
        assert "write its logarithm, −0.916" in found[0].message
    if value == "-1.39":
        assert "it is their log odds ratio: write it as log_odds_ratio" in found[0].message


def test_people_analysed_or_all_of_them(tmp_path):
    body = result("slow", events="4", n="16") + result("usual", events="10", n="18")
    # ln((4/16)/(10/18)) = −0.799 of those analysed, −0.916 of all.
    assert not findings(tmp_path, body + one("log_risk_ratio", "-0.80"))
    assert not findings(tmp_path, body + one("log_risk_ratio", "-0.92"))
    assert findings(tmp_path, body + one("log_risk_ratio", "-1.05"))


def test_an_empty_cell(tmp_path):
    body = result("slow", events="0") + result("usual", events="4")
    # With one half added, ln((0.5/21)/(4.5/21)) = −2.197; without, none exists.
    assert not findings(tmp_path, body + one("log_risk_ratio", "-2.20"))
    assert findings(tmp_path, body + one("log_risk_ratio", "-0.90"))
    assert not findings(tmp_path, body + one("risk_difference", "-0.20"))


def test_ratios_of_sds(tmp_path):
    # ln(44.0/42.1) = 0.0441; less ln(41.5/39.8) = 0.0023.
    assert not findings(tmp_path, ARMS + one("log_sd_ratio", "0.04"))
    assert not findings(tmp_path, ARMS + one("log_sd_ratio", "0.00"))
    assert [f.severity for f in findings(tmp_path, ARMS + one("log_sd_ratio", "0.9"))] == [
        "warning"
    ]


def test_what_is_said_to_be_taken_is_taken(tmp_path):
    question(tmp_path, more='metric = "risk-ratio"')
    (finding,) = findings(tmp_path, COUNTS + one("log_risk_ratio", "0.40"))
    row = open_library(tmp_path).effect_table("asked").rows.iloc[0]
    value = f"{row['effect']:+.3g}".replace("-", "−")
    assert f"the effect is {value.lstrip('+') if row['effect'] < 0 else value}" in finding.message


def test_logs_of_drawn_people_are_rarely_doubted():
    """Papers that analysed people's own logs, printed beside means and SDs."""
    random = np.random.default_rng(5)
    studies = {}
    for number in range(200):
        results, logs = [], []
        for arm, gain in (("slow", 0.20), ("usual", 0.05)):
            level, size = random.normal(size=(2, 14))
            before = 100 * np.exp(0.23 * level)
            after = before * np.exp(gain + 0.10 * size)
            logs.append((np.log(after), np.log(after / before)))
            row = {"outcome": "peak", "arm": arm, "week": 12}
            for name, each in (("pre", before), ("post", after)):
                row[name] = {
                    "mean": Decimal(f"{each.mean():.1f}"),
                    "sd": Decimal(f"{each.std(ddof=1):.1f}"),
                }
            results.append(row)
        of = number % 2
        value = logs[0][of].mean() - logs[1][of].mean()
        told = {"outcome": "peak", "intervention": "slow", "comparator": "usual", "week": 12}
        told["log_ratio_of_means"] = {"value": Decimal(f"{value:.3f}"), "se": Decimal("0.05")}
        studies[f"drawn-{number}"] = Study.model_validate(
            {
                "schema": 1,
                "id": f"drawn-{number}",
                "invented": True,
                "source": {"title": f"Drawn study {number}"},
                "design": {"kind": "parallel"},
                "arm": [{"id": "slow", "n": 14}, {"id": "usual", "n": 14}],
                "outcome": [{"id": "peak", "construct": "strength", "unit": "N"}],
                "result": results,
                "comparison": [told],
            }
        )
    found = [finding for finding in integrity_findings(studies) if finding.rule == RULE]
    assert len(found) <= 4
    assert not [finding for finding in found if finding.severity == "warning"]
