"""What would change an answer, held against making the change."""

from __future__ import annotations

import pytest

from steelyard import open_library
from steelyard.judging.would_change import would_change
from tests.judging.reviewed_library import effect
from tests.small_library import question, study


def found(folder):
    library = open_library(folder)
    return would_change(library.weigh("asked"), library.certainty("asked"))


@pytest.fixture
def folder(tmp_path):
    for name, value in {"ash": 0.2, "birch": 0.25, "cedar": 0.3, "elder": 0.9}.items():
        study(tmp_path, name, effect(value))
    question(tmp_path, more="smallest_worthwhile = 0.14")
    return tmp_path


def test_the_study_that_moves_it_most_is_the_one_whose_removal_does(folder):
    whole = open_library(folder).weigh("asked")
    one = found(folder).without_one
    assert one.study == "elder"
    for name in ("ash", "birch", "cedar", "elder"):
        others = {k: v for k, v in open_library(folder).studies.items() if k != name}
        left = open_library(folder).weigh_question(whole.question, studies=others)
        assert abs(left.estimate - whole.estimate) <= abs(one.estimate - whole.estimate) + 1e-9
    (folder / "studies" / "elder.toml").unlink()
    without = open_library(folder).weigh("asked")
    assert one.estimate == pytest.approx(without.estimate)
    assert (one.low, one.high) == pytest.approx((without.low, without.high))
    assert one.verdict == without.verdict.word


def test_studies_on_which_the_verdict_hangs_are_those_without_which_it_is_another(tmp_path):
    folder = tmp_path
    for name, value in {"ash": 0.45, "birch": 0.5, "cedar": 0.55, "elder": -0.1}.items():
        study(folder, name, effect(value))
    question(folder, more="smallest_worthwhile = 0.14")
    whole = open_library(folder).weigh("asked")
    one, turns = found(folder).without_one, set()
    for name, left in open_library(folder).studies.items():
        others = {k: v for k, v in open_library(folder).studies.items() if k != name}
        word = open_library(folder).weigh_question(whole.question, studies=others).verdict.word
        if word != whole.verdict.word:
            turns.add(left.label)
    assert set(one.turns) == turns
    assert turns == {open_library(folder).studies["elder"].label}


def test_so_many_more_studies_do_settle_it(folder):
    # Further studies at the estimate, with the variance they are supposed to have: with as many
    # as are named the question is settled. They also lower the spread between studies, so fewer
    # may do in the end, and one less need not leave it open.
    result = found(folder).to_settle
    assert result.now == "not settled"
    whole = open_library(folder).weigh("asked")
    for number in range(result.studies):
        study(folder, f"new-{number}", effect(round(whole.estimate, 4)))
    assert open_library(folder).weigh("asked").verdict.word == result.towards
    said = str(found(folder))
    assert "the interval already says 'better', if these studies are sound" in said
    assert "it is settled" not in said


def test_tipping_points_are_those_that_change_the_word(folder):
    result = found(folder)
    assert result.tipping
    assert all(tip.word != result.certainty for tip in result.tipping)
    text = str(result)
    for tip in result.tipping:
        assert tip.sentence.removeprefix(f"{tip.domain}: ") in text


def test_one_study_and_no_worthwhile_effect_leave_less_to_say(tmp_path):
    study(tmp_path, "ash", effect(0.4))
    question(tmp_path)
    result = found(tmp_path)
    assert result.without_one is None
    assert result.to_settle is None
    assert "a further study" in str(result)
