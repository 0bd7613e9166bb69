"""Share of weight that matches a person, facet by facet."""

from __future__ import annotations

import pytest

from steelyard import open_library
from steelyard.errors import DesignError
from steelyard.judging.directness import directness
from steelyard.judging.person import Person, person, person_of
from steelyard.judging.pictures_nearness import near_alone
from tests.small_library import comparison, question, study

SAME = comparison(standardised="{ value = 0.3, se = 0.1, over = 'pre-sd' }")


def people(*, status="trained", age=50, sex="mixed", weeks=12):
    return (
        f"duration_weeks = {weeks}\n[population]\n"
        f'training_status = "{status}"\nage_mean = {age}\nsex = "{sex}"\n'
    )


@pytest.fixture
def library(tmp_path):
    """Four studies of equal weight; one each is untrained, old and short."""
    study(tmp_path, "near", SAME, design_more=people(), outcome_more='site = "hamstrings"')
    study(
        tmp_path,
        "untrained",
        SAME.replace("0.3", "0.9"),
        design_more=people(status="untrained"),
        outcome_more='site = "hamstrings"',
    )
    study(tmp_path, "old", SAME, design_more=people(age=70), outcome_more='site = "hamstrings"')
    study(tmp_path, "short", SAME, design_more=people(weeks=5), outcome_more='site = "quadriceps"')
    question(tmp_path, more='smallest_worthwhile = 0.14\n[model]\nbetween = "common"')
    return open_library(tmp_path)


def near(library, **words):
    return directness(library.weigh("asked"), library.studies, person=person(**words))


def test_shares_per_facet(library):
    found = near(library, training_status="trained", age=50, duration_weeks=12, sex="female")
    expected = {"training status": 0.75, "age": 0.75, "length": 0.75, "sex": 1.0, "outcome": 1.0}
    assert found.shares == pytest.approx(expected)
    assert found.together == pytest.approx(0.5)
    assert set(found.matching) == {"near", "short"}


def test_what_was_compared_is_named_and_what_was_not(library):
    found = near(library, age=50)
    assert found.sentence == (
        "75 % of the weight comes from studies like what is asked about in age and outcome. Not "
        "compared, since nothing is asked of it: training status (untrained and trained in these "
        "studies)."
    )
    assert "3 studies like it in age and outcome alone" in near_alone(found, library.weigh("asked"))
    found = near(library, training_status="trained")
    assert "in training status and outcome. Not compared" in found.sentence
    assert "age (mean 50 to 70 in these studies)" in found.sentence
    whole = near(library, age=50, training_status="trained")
    assert "Not compared" not in whole.sentence
    steps = library.certainty("asked", person=person(age=50)).steps
    (step,) = (each for each in steps if each.domain == "indirectness")
    assert step.sentence == "75 % of the weight matches the person asked about in age and outcome"


def test_the_pool_of_the_near_ones_leaves_the_others_out(library):
    found = near(library, training_status="trained")
    assert found.near.estimate == pytest.approx(0.3)
    assert library.weigh("asked").estimate == pytest.approx(0.45)


def test_at_none_the_text_says_so(library):
    found = near(library, training_status="highly-trained")
    assert found.together == 0
    assert found.near is None
    assert "None of the weight" in found.sentence


@pytest.mark.parametrize(
    ("age", "share"),
    [(60, 1.0), (60.001, 0.25), (40, 0.75), (39.999, 0.0), (80, 0.25), (80.001, 0.0)],
)
def test_age_counts_within_ten_years(library, age, share):
    assert near(library, age=age).shares["age"] == pytest.approx(share)


@pytest.mark.parametrize(
    ("weeks", "share"), [(10, 1.0), (10.001, 0.75), (24, 0.75), (24.001, 0.0), (6, 1.0)]
)
def test_length_counts_between_half_and_double(library, weeks, share):
    assert near(library, duration_weeks=weeks).shares["length"] == pytest.approx(share)


def test_what_a_paper_does_not_report_does_not_match(library):
    found = near(library, sets_per_week=8, equated="weekly sets")
    assert found.shares["weekly sets"] == 0
    assert found.shares["held equal"] == 0


def test_other_parts_of_the_body_are_marked_as_carried_over(library):
    found = near(library, site="hamstrings")
    assert found.carried_over == ("quadriceps",)
    assert found.shares["part of the body"] == pytest.approx(0.75)
    assert "25 % of the weight is carried over" in found.sentence
    elsewhere = near(library, site="calves")
    assert set(elsewhere.carried_over) == {"hamstrings", "quadriceps"}


def test_nobody_asked_about_is_said(library):
    found = directness(library.weigh("asked"), library.studies)
    assert not found.person.described
    assert "Nobody in particular" in found.sentence


def test_the_person_comes_from_the_question_else_from_eligibility(tmp_path):
    study(tmp_path, "near", SAME, design_more=people())
    question(tmp_path, "told", '[person]\ntraining_status = "trained"\nage = 52\nsex = "female"')
    question(tmp_path, "let", '[eligible]\ntraining_status = ["trained"]\nage_min = 40')
    questions = open_library(tmp_path).questions
    assert person_of(questions["told"]) == Person(("trained",), "female", 52.0, 52.0)
    assert person_of(questions["let"]) == Person(("trained",), None, 40.0, None)


def test_a_person_of_unknown_words_is_refused():
    with pytest.raises(DesignError, match="height"):
        person(height=180)


@pytest.mark.parametrize(
    ("constructs", "share"),
    [
        ('["muscle-activation"]', 1.0),
        ('["soreness"]', 0.0),
        ('["soreness", "strength"]', 1.0),
    ],
)
def test_stand_ins_are_known_without_a_vocabulary(tmp_path, constructs, share):
    measured = constructs.split('"')[1]
    path = study(tmp_path, "one", SAME)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('construct = "strength"', f'construct = "{measured}"'))
    asked = question(tmp_path)
    asked.write_text(asked.read_text(encoding="utf-8").replace('["strength"]', constructs))
    library = open_library(tmp_path)
    found = directness(library.weigh("asked"), library.studies)
    assert found.surrogate == share
    assert ("only stands in" in found.sentence) == bool(share)
