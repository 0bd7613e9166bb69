"""A weekly plan against the recommendations."""

from __future__ import annotations

import pytest
from openpyxl import Workbook

from steelyard import open_library
from steelyard.explaining.plan_check import (
    AGREES,
    BELOW,
    BEYOND,
    MISSING,
    NOTHING,
    PRACTICE,
    plan_check,
)
from steelyard.explaining.plan_table import PlanError, read_plan

PLAN = """exercise,site,sets,reps,load,sessions,rest
Slow lowering leg curl,hamstrings,4,6-8,70-75,2,90
Thigh press,thigh,4,8-12,70,2,60
Biceps curl,biceps,4,8,,3,
Row,back,3,10,,2,
"""


@pytest.fixture(scope="module")
def library():
    return open_library()


def written(folder, text, name="plan.csv"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def said(found, verdict, recommendation=None):
    return [
        each.what
        for each in found.findings
        if each.verdict == verdict and recommendation in (None, each.recommendation)
    ]


def test_what_agrees_goes_beyond_and_is_missing(library, tmp_path):
    found = plan_check(library, read_plan(written(tmp_path, PLAN)))
    assert "sets a week: 8 planned, 4 advised" in said(found, BEYOND, "add-slow-lowering")
    assert "repetitions: 6 to 8 planned, 6 to 8 advised" in said(found, AGREES, "add-slow-lowering")
    assert any("lowering" in what for what in said(found, MISSING, "add-slow-lowering"))
    assert any("nothing in the plan answers to" in what for what in said(found, MISSING))
    assert said(found, NOTHING) == ["neither for nor against"]
    assert "Invented data" in str(found)
    assert "not medical advice" in str(found)


def test_too_little_is_told_from_too_much(library, tmp_path):
    text = "exercise,site,sets,sessions\nThigh press,thigh,2,1\n"
    found = plan_check(library, read_plan(written(tmp_path, text)))
    assert "sets a week: 2 planned, 8 to 12 advised" in said(found, BELOW, "weekly-sets-thigh")


def test_small_muscles_are_common_practice_and_say_so(library, tmp_path):
    found = plan_check(library, read_plan(written(tmp_path, PLAN)))
    (practice,) = [each for each in found.findings if each.verdict == PRACTICE]
    assert practice.exercise == "Biceps curl"
    assert "repetitions: 8 planned, differs from the usual 10 to 20" in practice.what
    assert "sets: 4 planned, differs from the usual 2 to 3" in practice.what
    assert "sessions a week: 3 planned, fits the usual 2 to 3" in practice.what
    assert "end of the session" in practice.what
    assert practice.recommendation == ""
    assert "common practice has no study behind it" in str(found)


def test_semicolons_and_workbooks_read_alike(library, tmp_path):
    plain = read_plan(written(tmp_path, PLAN))
    assert read_plan(written(tmp_path, PLAN.replace(",", ";"), "semi.csv")) == plain
    book = Workbook()
    for line in PLAN.splitlines():
        book.active.append([int(c) if c.isdigit() else c for c in line.split(",")])
    book.save(tmp_path / "plan.xlsx")
    assert read_plan(tmp_path / "plan.xlsx") == plain


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("exercise,sets\nPress,3\n", "no column sessions"),
        ("exercise,sets,sessions\nPress,a few,2\n", "row 2, sets: expected a number .* 'a few'"),
        ("exercise,sets,sessions\nPress,8-6,2\n", "row 2, sets"),
        ("exercise,sets,sessions\n,3,2\n", "row 2, exercise: expected a name"),
        ("exercise,sets,sessions\n", "names no exercise"),
    ],
)
def test_a_plan_that_is_not_understood_is_one_message(tmp_path, text, message):
    with pytest.raises(PlanError, match=message):
        read_plan(written(tmp_path, text))


def test_every_bad_cell_is_named_at_once(tmp_path):
    text = "exercise,sets,sessions,reps\nPress,x,y,z\nRow,3,2,ten\n"
    with pytest.raises(PlanError) as refused:
        read_plan(written(tmp_path, text))
    assert str(refused.value).count("row ") == 4
