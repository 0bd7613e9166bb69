"""What the shipped recommendations carry is what the weighing says, save one on purpose."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from steelyard import open_library
from steelyard.judging.dose_sums import dose_sum_findings, sets_in_a_week
from steelyard.judging.statement_claims import claims_of
from tests.invented.refresh_told import OLDER, library_for, refresh_told

EVIDENCE = Path(__file__).resolve().parents[2] / "evidence"
NUMBERS = ("estimate", "low", "high", "prediction_low", "prediction_high")


@pytest.fixture(scope="module")
def library():
    return open_library(EVIDENCE)


def _moved(library, recommendation) -> list[str]:
    """What a weighing of this library no longer says as told, at the decimals told."""
    told, now = recommendation.told, library.weigh(recommendation.questions[0])
    certainty = library.certainty(recommendation.questions[0], recommendation=recommendation)
    found = []
    for name in NUMBERS:
        printed = getattr(told, name)
        half = 0.5 * 10.0 ** printed.as_tuple().exponent
        if abs(float(printed) - getattr(now, name)) > half * (1 + 1e-9):
            found.append(name)
    words = {"certainty": certainty.word, "verdict": now.verdict.word}
    words["fingerprint"] = now.fingerprint
    return found + [name for name, word in words.items() if getattr(told, name) != word]


def test_what_was_told_is_what_the_weighing_says(library):
    moved = {
        name: _moved(library, recommendation)
        for name, recommendation in library.recommendations.items()
        if name not in OLDER
    }
    assert not any(moved.values()), moved
    assert len(moved) == 4


def test_told_numbers_have_decimals_enough_to_show_a_move(library):
    """Half a unit in the last place is under a hundredth of the interval's width."""
    for recommendation in library.recommendations.values():
        told = recommendation.told
        unit = 10.0 ** told.estimate.as_tuple().exponent
        assert 0.5 * unit < 0.01 * float(told.high - told.low)


@pytest.mark.parametrize(("name", "later"), OLDER.items())
def test_the_older_one_has_moved_by_its_later_study_and_says_so(library, name, later):
    recommendation = library.recommendations[name]
    moved = _moved(library, recommendation)
    assert "fingerprint" in moved
    assert "estimate" in moved
    assert _moved(library_for(library, name), recommendation) == []
    assert later in recommendation.review_note
    assert later in set(library.weigh(recommendation.questions[0]).studies["study"])


@pytest.mark.parametrize(("name", "later"), OLDER.items())
def test_a_review_names_the_later_study(library, name, later):
    review = library.review().review(name)
    assert review.changed
    assert [mover.study for mover in review.movers] == [later]


def test_refreshing_again_changes_nothing_and_keeps_what_people_wrote(tmp_path):
    folder = tmp_path / "evidence"
    shutil.copytree(EVIDENCE, folder)
    path = folder / "recommendations" / "add-slow-lowering.toml"
    text = path.read_text(encoding="utf-8")
    assert set(refresh_told(folder).values()) == {False}
    told = str(open_library(folder).recommendations["add-slow-lowering"].told.estimate)
    path.write_text(text.replace(f"estimate = {told}", "estimate = 0.99"), encoding="utf-8")
    assert path.read_text(encoding="utf-8") != text
    assert refresh_told(folder)["add-slow-lowering"]
    assert path.read_text(encoding="utf-8") == text


def test_statements_say_what_to_do_and_claim_nothing(library):
    """A heading stands without its certainty, for whoever reads it."""
    for recommendation in library.recommendations.values():
        for tag, text in (
            ("en", recommendation.statement),
            ("de", recommendation.translations["de"].statement),
        ):
            assert claims_of(text, language=tag) == (), text
            assert text.count(".") == 1


def test_doses_add_up_to_the_week_they_name(library):
    assert list(dose_sum_findings(library.recommendations)) == []
    dose = library.recommendations["weekly-sets-thigh"].dose
    assert sets_in_a_week(dose) == tuple(dose.sets_per_week) == (8, 12)


def test_every_recommendation_says_for_whom_at_what_price_and_defers(library):
    for recommendation in library.recommendations.values():
        for name in ("for_whom", "not_for_whom", "cost", "risk", "alternatives", "would_change"):
            assert getattr(recommendation, name), (recommendation.id, name)
        cautions = " ".join(recommendation.cautions)
        assert "physician" in cautions or "physiotherapist" in cautions
