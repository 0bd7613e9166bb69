"""The typical values that questions state as the library's own are the library's own."""

from __future__ import annotations

from pathlib import Path
from statistics import median

import pytest

from steelyard.records import load_records

RECORDS = load_records(Path(__file__).resolve().parents[2] / "evidence")
MISLABELLED = "inchmarsh-2021"


def _before(outcome: str, name: str) -> list[float]:
    return [
        float(getattr(result.pre, name))
        for study in RECORDS.studies.values()
        for result in study.results
        if study.id != MISLABELLED and result.outcome == outcome and result.pre is not None
        if getattr(result.pre, name) is not None
    ]


@pytest.mark.parametrize(
    ("question", "outcome"),
    [
        ("slow-lowering-strength", "knee-flexion-peak"),
        ("short-rest-size", "thigh-thickness"),
        ("weekly-sets-size", "thigh-thickness"),
        ("one-leg-or-two-strength", "one-leg-press-1rm"),
    ],
)
def test_reference_sd_and_baseline_are_the_medians(question, outcome):
    client = RECORDS.questions[question].client
    # Both are stated to two or three digits, so to within two in a hundred.
    assert float(client.reference_sd) == pytest.approx(median(_before(outcome, "sd")), rel=0.02)
    assert float(client.baseline) == pytest.approx(median(_before(outcome, "mean")), rel=0.02)


def test_the_usual_share_of_strains_is_that_of_the_usual_groups():
    events = people = 0
    for study in RECORDS.studies.values():
        for result in study.results:
            if result.outcome == "hamstring-strain" and result.arm == "usual":
                events += result.events
                people += result.n or study.arm("usual").n
    stated = RECORDS.questions["slow-lowering-strains"].client.baseline
    assert float(stated) == pytest.approx(events / people, abs=0.005)


def test_every_smallest_worthwhile_effect_and_every_assumption_is_stated():
    for question in RECORDS.questions.values():
        assert question.smallest_worthwhile is not None
        assert question.smallest_worthwhile_source
        assert question.assume.r_between_outcomes is not None
        assert question.client.unit
        assert question.client.baseline_source
