"""What a coach may type wrongly: one clear message each, and nothing guessed in silence."""

from __future__ import annotations

import pytest

from steelyard.errors import DesignError, RecordError, UsageError
from steelyard.explaining.plan_table import PlanError, plan_of
from steelyard.notebook.explain import check_plan, explain


@pytest.fixture(scope="module")
def page():
    return explain("add-slow-lowering")


@pytest.mark.parametrize("before", ["195", None, ["a"], [], float("nan")])
def test_results_that_are_no_numbers(page, before):
    with pytest.raises(DesignError, match="before must hold"):
        page.own_result(before, 230, typical_error=9)


@pytest.mark.parametrize("error", [None, 0, -1, "x"])
def test_a_typical_error_that_is_none(page, error):
    with pytest.raises(DesignError, match="typical_error must be a number above 0"):
        page.own_result(195, 230, typical_error=error)


def test_a_start_far_outside_the_studies_is_said_with_the_result(page):
    assert "far outside the studies" in str(page.own_result(19.5, 40, typical_error=9))
    assert "far outside" not in str(page.own_result(195, 230, typical_error=9))


def test_people_counted_have_no_own_result():
    found = explain("hamstring-strain-caution").own_result(1, 2, typical_error=1)
    assert "counts people" in str(found)


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ({"training_status": "elite"}, "training_status"),
        ({"age": "old"}, "expected a number, found 'old'"),
        ({"agee": 5}, "unknown key"),
    ],
)
def test_a_profile_that_is_not_understood(known, said):
    with pytest.raises(RecordError, match=said):
        explain("add-slow-lowering", **known)


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ({"cares_about": "kayaking"}, "cares_about: the library has no construct 'kayaking'"),
        ({"cares_about": "strenght"}, "nearest known: strength; there are"),
        ({"does_now_tags": ["slow-lowerin"]}, "no tag 'slow-lowerin'; nearest known: slow-lower"),
    ],
)
def test_a_profile_with_words_the_library_lacks(known, said):
    with pytest.raises(UsageError, match=said):
        explain("add-slow-lowering", **known)


def test_a_start_without_unit_is_said():
    said = str(explain("add-slow-lowering", baseline=195))
    assert "came without a unit: we took it to be in N" in said


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ("three, 2, 70", "row 2, sets: expected a number such as 8, or 6-8, found 'three'"),
        ("2, 2, 60 kg", "row 2, load: expected percent of the heaviest single lift"),
        ("0, 2, 70", "row 2, sets: expected a number"),
        ("2 s, 2, 70", "row 2, sets: expected a number"),
    ],
)
def test_a_plan_with_cells_that_are_not_understood(cells, said):
    with pytest.raises(PlanError) as refused:
        plan_of(f"exercise, sets, sessions, load\nleg curl, {cells}")
    assert said in str(refused.value)


def test_an_empty_plan():
    with pytest.raises(PlanError, match="the plan is empty"):
        check_plan("")
