"""Strength of advice by its table; doses against the evidence and common practice."""

from __future__ import annotations

import itertools

import pytest

from steelyard import open_library
from steelyard.errors import DesignError
from steelyard.judging import pictures_dose
from steelyard.judging.dose import BEYOND, INSIDE, PARTLY, UNKNOWN, UNUSUAL, check_dose, usual_dose
from steelyard.judging.strength import advice_table, size_of, strength_of_advice
from tests.small_library import comparison, question, study

CERTAINTIES = ("high", "moderate", "low", "very low")
COSTS = ("small", "medium", "large")
SIZES = ("matters", "leans", "same", "open", "leans against", "against")
ORDER = (
    *("do it", "worth trying", "whichever suits", "whichever costs less", "optional"),
    *("try it and see", "let liking decide", "let liking and cost decide"),
    *("only if you like it better", "not for this reason", "leave it"),
)


def test_the_table_has_every_cell_in_known_words():
    table = advice_table()
    for size, certainty, cost in itertools.product(SIZES, CERTAINTIES, COSTS):
        assert table[size][certainty][cost] in ORDER


@pytest.mark.parametrize("size", ["matters", "leans", "same", "open"])
def test_less_certainty_or_more_cost_never_makes_advice_stronger(size):
    table = advice_table()[size]
    for cost in COSTS:
        found = [ORDER.index(table[word][cost]) for word in CERTAINTIES]
        assert found == sorted(found)
    for word in CERTAINTIES:
        found = [ORDER.index(table[word][cost]) for cost in COSTS]
        assert found == sorted(found)


@pytest.mark.parametrize("size", SIZES)
def test_advice_never_forbids_what_the_evidence_leaves_open(size):
    """What two options side by side leave to a person, the strength of advice leaves too."""
    for cell in advice_table()[size].values():
        assert ("leave it" in cell.values()) <= (size == "against")
    unsure = advice_table()[size]["very low"]
    assert not set(unsure.values()) & {"do it", "worth trying", "optional", "leave it"}
    if size == "open":
        words = {word for cell in advice_table()[size].values() for word in cell.values()}
        assert not words & {"try it and see", "optional"}


def weighing_of(folder, value, se):
    study(
        folder, "one", comparison(standardised=f"{{ value = {value}, se = {se}, over = 'pre-sd' }}")
    )
    question(folder, more="smallest_worthwhile = 0.2")
    return open_library(folder).weigh("asked")


@pytest.mark.parametrize(
    ("value", "se", "size"),
    [
        (0.5, 0.1, "matters"),
        (0.3, 0.1, "leans"),
        (0.0, 0.05, "same"),
        (0.1, 0.3, "open"),
        (-0.3, 0.1, "leans against"),
        (-0.5, 0.1, "against"),
    ],
)
def test_size_by_where_the_interval_lies(tmp_path, value, se, size):
    assert size_of(weighing_of(tmp_path, value, se)) == size


def test_advice_names_its_grounds_and_an_unrated_cost(tmp_path):
    weighing = weighing_of(tmp_path, 0.5, 0.1)
    found = strength_of_advice(weighing, "high", cost="small")
    assert found.word == "do it"
    assert found.cost_rated
    assert "cost not rated" in strength_of_advice(weighing, "high").sentence
    # A statement may advise the other side, or caution: the strength says whose it is.
    assert found.sentence == (
        "for slow rather than usual, as to strength: do it "
        "(high certainty, better by enough to matter, small cost)"
    )
    with pytest.raises(DesignError, match="certainty"):
        strength_of_advice(weighing, "sure")
    with pytest.raises(DesignError, match="cost"):
        strength_of_advice(weighing, "high", cost="free")


DOSE = "dose = { sets_per_week = 8, reps = [6, 10], sessions_per_week = 2 }"
RECOMMENDATION = """id = "lower"
statement = "Lower slowly."
questions = ["asked"]
{more}
[dose]
{dose}
"""


def found_in(folder, dose, more="", usual=None):
    path = study(
        folder, "one", comparison(standardised="{ value = 0.5, se = 0.1, over = 'pre-sd' }")
    )
    text = path.read_text(encoding="utf-8")
    text = text.replace('tags = ["slow"]', f'tags = ["slow"]\n{DOSE}')
    if usual is not None:
        text = text.replace(
            'tags = ["usual"]', f'tags = ["usual"]\ndose = {{ sets_per_week = {usual} }}'
        )
    path.write_text(text, encoding="utf-8")
    question(folder)
    place = folder / "recommendations" / "lower.toml"
    place.parent.mkdir(exist_ok=True)
    place.write_text(RECOMMENDATION.format(more=more, dose=dose), encoding="utf-8")
    library = open_library(folder)
    return check_dose(library.recommendations["lower"], library.weigh("asked"), library.studies)


def checks(folder, dose, more=""):
    return {(check.part, check.mark) for check in found_in(folder, dose, more)}


@pytest.mark.parametrize(
    ("dose", "part", "mark"),
    [
        ("sets_per_week = [8, 8]", "sets_per_week", INSIDE),
        ("sets_per_week = [8, 9]", "sets_per_week", PARTLY),
        ("sets_per_week = [7, 8]", "sets_per_week", PARTLY),
        ("sets_per_week = [9, 10]", "sets_per_week", BEYOND),
        ("sets_per_week = [6, 7]", "sets_per_week", BEYOND),
        ("reps = [6, 10]", "reps", INSIDE),
        ("reps = [6, 11]", "reps", PARTLY),
        ("reps = [4, 12]", "reps", PARTLY),
        ("reps = [11, 12]", "reps", BEYOND),
        ("rest_s = [60, 90]", "rest_s", UNKNOWN),
        ("sets = [2, 3]\nexercises = [2, 2]", "sets_per_session", UNKNOWN),
    ],
)
def test_a_dose_is_held_against_what_was_tested(tmp_path, dose, part, mark):
    assert (part, mark) in checks(tmp_path, dose)


@pytest.mark.parametrize(
    ("usual", "sets", "mark", "added"),
    [
        # The slow arm did 8 sets: 3 more than 5, as many as 8, 2 fewer than 10.
        (5, "[3, 3]", INSIDE, True),
        (5, "[3, 4]", PARTLY, True),
        (5, "[1, 2]", BEYOND, False),
        (5, "[8, 8]", INSIDE, False),
        (5, "[3, 8]", PARTLY, False),
        (8, "[3, 3]", BEYOND, False),
        (10, "[2, 2]", BEYOND, False),
    ],
)
def test_added_sets_are_held_against_what_the_arms_differ_by(tmp_path, usual, sets, mark, added):
    (found,) = found_in(tmp_path, f"sets_per_week = {sets}", usual=usual)
    assert (found.mark, found.added) == (mark, added)
    assert found.sentence.startswith("added sets a week") == added


@pytest.mark.parametrize(
    ("slow", "usual", "rest", "mark", "sides"),
    [
        (60, 180, "[60, 180]", INSIDE, ((60, 60), (180, 180))),
        (60, 180, "[180, 180]", INSIDE, ((60, 60), (180, 180))),
        (60, 180, "[60, 60]", INSIDE, None),
        (60, 180, "[60, 150]", PARTLY, None),
        (60, 180, "[90, 120]", BEYOND, None),
        # Where both arms rested alike, rest is not what was compared.
        (120, 120, "[60, 120]", PARTLY, None),
    ],
)
def test_what_the_studies_compared_was_tested_on_both_sides(
    tmp_path, slow, usual, rest, mark, sides
):
    path = study(
        tmp_path, "one", comparison(standardised="{ value = 0.5, se = 0.1, over = 'pre-sd' }")
    )
    text = path.read_text(encoding="utf-8")
    for tag, seconds in (("slow", slow), ("usual", usual)):
        there = f'tags = ["{tag}"]'
        text = text.replace(there, f"{there}\ndose = {{ rest_s = {seconds} }}")
    path.write_text(text, encoding="utf-8")
    question(tmp_path)
    place = tmp_path / "recommendations" / "lower.toml"
    place.parent.mkdir(exist_ok=True)
    place.write_text(RECOMMENDATION.format(more="", dose=f"rest_s = {rest}"), encoding="utf-8")
    library = open_library(tmp_path)
    (found,) = check_dose(library.recommendations["lower"], library.weigh("asked"), library.studies)
    assert (found.mark, found.sides) == (mark, sides)
    assert ("compared, 60 against 180 in 1 study" in found.sentence) == (sides is not None)
    compared = pictures_dose.tested_in_words(found) == "compared: 60 against 180 in 1 study"
    assert compared == (sides is not None)


def test_sets_a_session_of_added_work_are_not_held_against_whole_sessions(tmp_path):
    more = "sets_per_week = [3, 3]\nsets = [2, 2]\nexercises = [1, 1]"
    found = {check.part: check for check in found_in(tmp_path, more, usual=5)}
    assert found["sets_per_week"].mark == INSIDE
    for part in ("exercises", "sets_per_session"):
        assert (found[part].mark, found[part].tested, found[part].added) == (UNKNOWN, None, True)


@pytest.mark.parametrize(
    ("dose", "unusual"),
    [
        ("reps = [10, 20]", set()),
        ("reps = [9, 20]", {"reps"}),
        ("reps = [10, 21]", {"reps"}),
        ("sets = [2, 3]\nsessions_per_week = [2, 3]\nexercises = [2, 3]", set()),
        ("sets = [1, 3]\nsessions_per_week = [2, 4]", {"sets", "sessions_per_week"}),
    ],
)
def test_isolation_of_a_small_muscle_is_held_against_common_practice(tmp_path, dose, unusual):
    found = checks(tmp_path, dose, more="small_muscle_isolation = true")
    assert {part for part, mark in found if mark == UNUSUAL} == unusual
    plain = checks(tmp_path, dose)
    assert not {part for part, mark in plain if mark == UNUSUAL}


def test_common_practice_says_that_it_has_no_source():
    assert usual_dose()["source"] == "common practice, no source"
    assert usual_dose()["reps"] == "10 to 20"
