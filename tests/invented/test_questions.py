"""The typical values that questions state as the library's own are the library's own."""

from __future__ import annotations

from pathlib import Path
from statistics import median

import pytest

from steelyard.records import load_records
from steelyard.records.question import COUNT_METRICS

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


def test_every_question_has_what_its_metric_needs_to_be_put_in_a_unit():
    """A standardised effect needs an SD, a percent a start, counts a share between 0 and 1."""
    for question in RECORDS.questions.values():
        client = question.client
        if question.metric in COUNT_METRICS:
            assert 0 < client.baseline < 1, question.id
        else:
            assert client.reference_sd > 0, question.id
            assert client.reference_sd_source, question.id
            assert client.baseline > 0, question.id
