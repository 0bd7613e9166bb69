"""The form's state: what it becomes, what it says is wrong, and what it leaves alone."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from steelyard.library import open_library
from steelyard.notebook.entry.build import build
from steelyard.notebook.entry.loading import form_of_study
from steelyard.notebook.entry.state import FormState, OutcomeForm
from steelyard.records.difference import changes, differences
from steelyard.records.reading import parse

EVIDENCE = Path(__file__).resolve().parents[3] / "evidence"
STUDIES = sorted((EVIDENCE / "studies").glob("*.toml"))


@pytest.fixture(scope="module")
def library():
    return open_library(EVIDENCE)


def filled() -> FormState:
    """A two-arm study, typed."""
    state = FormState.blank()
    state.source |= {"title": "Invented", "author": "Marsh, A.; Fell, B.", "issued": "2024"}
    state.design |= {"kind": "parallel", "randomised": "yes", "duration_weeks": "12"}
    for arm, label, tag in zip(
        state.arms, ("slow", "usual"), ("slow-lowering", "usual lifting"), strict=True
    ):
        arm.label, arm.tags, arm.n = label, tag, "20"
        arm.dose |= {"reps": "6–8", "rest_s": "120"}
    one = state.outcomes[0]
    one.label, one.construct, one.site, one.unit, one.weeks = (
        *("knee flexion", "strength", "hamstrings", "N", "12"),
    )
    one.cells |= {
        "a1|pre": "200.40 ± 30.1",
        "a1|post@12": "231,0 (32,5)",
        "a2|pre": "204.0 ± 30.0",
        "a2|post@12": "215.0 ± 31.0",
    }
    one.where = "Table 2"
    return state


def messages(state: FormState, library, *, kind: str = "bad") -> dict[str, str]:
    built = build(state, library.vocabulary, taken=library.studies)
    return {p.field: p.message for p in built.problems if p.kind == kind}


@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.stem)
def test_every_shipped_study_goes_through_the_form_unchanged(path, library):
    text = path.read_text(encoding="utf-8")
    state = form_of_study(text, mark="m")
    again = FormState.from_json(json.loads(json.dumps(state.as_json())))
    assert again == state
    built = build(again, library.vocabulary)
    before = parse(text, file="x")
    assert differences(before, built.values) == () and changes(before, built.values) == {}
    assert built.study == library.studies[path.stem] and built.ready


def test_what_was_typed_is_what_comes_out(library):
    built = build(filled(), library.vocabulary)
    assert built.ready and built.values["id"] == "marsh-2024"
    one, other = built.study.results
    assert str(one.pre.mean) == "200.40" and one.post.sd == Decimal("32.5")
    assert (one.week, one.where) == (Decimal(12), "Table 2")
    arm = built.study.arms[1]
    assert arm.tags == ("usual-lifting",) and arm.dose.reps == (Decimal(6), Decimal(8))
    assert other.post.mean == Decimal("215.0")


def test_one_changed_cell_is_one_change(library):
    text = (EVIDENCE / "studies" / "oxmere-2013.toml").read_text(encoding="utf-8")
    state = form_of_study(text, mark="m")
    state.outcomes[1].cells["a2|post@12"] = "80.9 ± 4.99"
    built = build(state, library.vocabulary)
    assert changes(parse(text, file="x"), built.values) == {"result[4].post.se": Decimal("4.99")}


def test_taking_an_arm_away_takes_its_results(library):
    text = (EVIDENCE / "studies" / "oxmere-2013.toml").read_text(encoding="utf-8")
    state = form_of_study(text, mark="m")
    state.remove_arm("a2")
    values = build(state, library.vocabulary).values
    assert [arm["id"] for arm in values["arm"]] == ["added"]
    assert {result["arm"] for result in values["result"]} == {"added"}


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        (lambda s: s.source.update(issued="last year"), "source.issued", "number"),
        (lambda s: s.source.update(issued="3024"), "source.issued", "at most 2200"),
        (lambda s: s.source.update(DOI="none"), "source.DOI", "expected a DOI"),
        (lambda s: s.population.update(age_mean="-4"), "population.age_mean", "above 0"),
        (lambda s: setattr(s.arms[0], "n", "twenty"), "arm.a1.n", "expected a number"),
        (lambda s: setattr(s.arms[0], "n", "1"), "arm.a1.n", "2 or more"),
        (lambda s: setattr(s.arms[0], "n", "20.5"), "arm.a1.n", "whole number"),
        (lambda s: setattr(s.arms[0], "tags", "slow-lowerin"), "arm.a1.tags", "slow-lowering"),
        (lambda s: s.arms[0].dose.update(rest_s="2 min"), "arm.a1.dose.rest_s", "number"),
        (lambda s: setattr(s.outcomes[0], "weeks", "soon"), "outcome.o1.weeks", "number"),
        (lambda s: setattr(s.outcomes[0], "weeks", "-2"), "outcome.o1.weeks", "between 0"),
        (lambda s: s.outcomes[0].cells.update({"a1|pre": "200 ± 0"}), "cell.o1.a1.pre", "above 0"),
        (
            lambda s: s.outcomes[0].cells.update({"a1|pre": "200 (95 % CI 210 to 190)"}),
            "cell.o1.a1.pre",
            "low below high",
        ),
        (
            lambda s: s.outcomes[0].details.update({"a1|12": {"r": "1.2"}}),
            "detail.o1.a1.12.r",
            "between −1 and 1",
        ),
        (lambda s: setattr(s, "study_id", "oxmere-2013"), "study_id", "already"),
    ],
)
def test_a_bad_value_is_said_beside_its_field(change, field, said, library):
    state = filled()
    change(state)
    found = messages(state, library)
    assert said in found[field]
    assert not build(state, library.vocabulary, taken=library.studies).ready


def test_blank_boxes_are_needs_and_not_faults(library):
    state = FormState.blank()
    assert messages(state, library) == {}
    needs = messages(state, library, kind="needed")
    assert {"source.title", "design.kind", "arm.a1.label", "outcome.o1.label"} <= set(needs)


def test_numbers_can_be_looked_at_before_the_rest_is_there(library):
    state = filled()
    state.source, state.design = {}, {}
    state.outcomes[0].set_weeks("")
    built = build(state, library.vocabulary)
    assert not built.ready and len(built.study.results) == 2
    assert built.study.results[0].pre.mean == Decimal("200.40")


def test_one_bad_result_does_not_hide_the_others(library):
    state = filled()
    state.outcomes[0].cells["a1|pre"] = "200 (95 % CI 210 to 190)"
    assert [r.arm for r in build(state, library.vocabulary).study.results] == ["usual"]


def test_weeks_that_change_take_their_numbers_along():
    outcome = OutcomeForm("o1", weeks="12", prints=["pre", "post"])
    outcome.cells["a1|post@12"] = "1 ± 2"
    outcome.set_weeks("6, 12")
    assert outcome.cells == {"a1|post@12": "1 ± 2"}
    outcome.set_weeks("6, 14")
    assert outcome.cells == {"a1|post@14": "1 ± 2"}
    assert outcome.columns() == ["pre", "post@6", "post@14"]


def test_two_weeks_and_a_change_with_its_own_spread(library):
    state = filled()
    one = state.outcomes[0]
    one.prints = ["pre", "post", "change"]
    one.set_weeks("12; 24")
    one.styles |= {"change@24": "ci95"}
    one.cells |= {"a1|change@24": "33.1 (20 to 46.2)", "a2|change@24": "12 (2 to 22)"}
    results = build(state, library.vocabulary).study.results
    assert [(r.arm, r.week, r.pre is not None) for r in results] == [
        *(("slow", 12, True), ("usual", 12, True), ("slow", 24, False), ("usual", 24, False)),
    ]
    assert results[2].change.ci95 == (Decimal(20), Decimal("46.2"))


def test_counts_of_people(library):
    state = filled()
    one = state.outcomes[0]
    one.construct, one.prints, one.cells = "muscle-strain", ["events"], {}
    one.cells |= {"a1|events@12": "3 (15 %)", "a2|events@12": "5"}
    assert [r.events for r in build(state, library.vocabulary).study.results] == [3, 5]
    one.cells["a1|events@12"] = "3/19"
    assert "19 as n" in messages(state, library)["cell.o1.a1.events@12"]


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"arms": 7, "outcomes": "x", "source": [], "study_id": 4},
        {"arms": [{"key": 1}, {"key": "a1", "dose": 3, "n": 4}], "outcomes": [{"key": "o1"}]},
        {
            "outcomes": [
                {"key": "o1", "cells": {"a": 1}, "styles": {"pre": "made up"}, "prints": [9]}
            ]
        },
    ],
)
def test_a_draft_of_another_shape_opens(values, library):
    build(FormState.from_json(values), library.vocabulary)
