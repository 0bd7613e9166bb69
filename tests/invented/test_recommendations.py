"""What the shipped recommendations carry is what the weighing says, save one on purpose."""

from __future__ import annotations

from pathlib import Path

import pytest

from steelyard import open_library

EVIDENCE = Path(__file__).resolve().parents[2] / "evidence"
OLDER = "rest-between-sets"  # told before the newest study came in, and its review note says so
PRINTED = 0.00006  # told numbers have four decimals


@pytest.fixture(scope="module")
def library():
    return open_library(EVIDENCE)


def _told_and_now(library, recommendation):
    told = recommendation.told
    now = library.weigh(recommendation.questions[0])
    names = ("estimate", "low", "high", "prediction_low", "prediction_high")
    return [(float(getattr(told, name)), getattr(now, name)) for name in names], now


def test_told_numbers_are_those_of_the_weighing(library):
    checked = 0
    for recommendation in library.recommendations.values():
        if recommendation.id == OLDER:
            continue
        pairs, now = _told_and_now(library, recommendation)
        for told, found in pairs:
            assert told == pytest.approx(found, abs=PRINTED), recommendation.id
        assert recommendation.told.fingerprint == now.fingerprint, recommendation.id
        checked += 1
    assert checked == 4


def test_the_older_one_has_moved_and_says_why(library):
    recommendation = library.recommendations[OLDER]
    pairs, now = _told_and_now(library, recommendation)
    assert recommendation.told.fingerprint != now.fingerprint
    assert any(abs(told - found) > PRINTED for told, found in pairs)
    assert "yarrowick-2024" in recommendation.review_note
    assert "yarrowick-2024" in set(now.studies["study"])


@pytest.mark.parametrize(
    ("recommendation", "words"),
    [
        ("add-slow-lowering", "by enough to matter"),
        ("hamstring-strain-caution", "too few to settle it"),
        ("rest-between-sets", "comes to the same"),
        ("weekly-sets-thigh", "is not settled"),
        ("one-leg-work", "is not settled"),
    ],
)
def test_statements_claim_no_more_than_the_verdict(library, recommendation, words):
    found = library.recommendations[recommendation]
    verdict = library.weigh(found.questions[0]).verdict
    claim = {"better": "by enough to matter", "equivalent": "comes to the same"}.get(verdict.word)
    assert words in found.statement
    assert claim is None or claim in found.statement
    assert claim is not None or "settle" in found.statement


def test_every_recommendation_says_for_whom_at_what_price_and_defers(library):
    for recommendation in library.recommendations.values():
        for name in ("for_whom", "not_for_whom", "cost", "risk", "alternatives", "would_change"):
            assert getattr(recommendation, name), (recommendation.id, name)
        cautions = " ".join(recommendation.cautions)
        assert "physician" in cautions or "physiotherapist" in cautions
