"""Appraisal answers of the invented studies: all in play, and never against their own record."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from steelyard import open_library
from steelyard.judging.appraisal import CONCERNS
from steelyard.judging.appraisal.findings import overruling_findings
from steelyard.records.appraisal import FACTS, NOT_REPORTED

LIBRARY = open_library(Path(__file__).resolve().parents[2] / "evidence")
STUDIES = LIBRARY.studies
ANSWERED = {name: study for name, study in STUDIES.items() if study.appraisal is not None}

# Answers that no study gives. The few studies with two periods or two limbs all drew lots and
# trained both limbs; whether a period carried over into the next is shown by one, silent in one.
NEVER_GIVEN = {
    "order_by": {"a fixed rule", "someone's choice", NOT_REPORTED},
    "limb_by": {"a fixed rule", "someone's choice", NOT_REPORTED},
    "other_limb": {"rested", NOT_REPORTED},
    "back_at_start": {"no"},
    "allocated_by": {NOT_REPORTED},  # every paper at least says what decided
}


@pytest.mark.parametrize("name", list(FACTS))
def test_every_answer_to_every_question_occurs(name):
    given = set()
    for study in ANSWERED.values():
        answer = getattr(study.appraisal, name)
        given |= {answer.answer, *answer.by_outcome.values()} if answer else set()
    expected = {*FACTS[name][1], NOT_REPORTED} - NEVER_GIVEN.get(name, set())
    assert given == expected


@pytest.mark.parametrize("study_id", list(ANSWERED))
def test_answers_agree_with_the_design(study_id):
    study = ANSWERED[study_id]
    said, design = study.appraisal, study.design
    assert (said.allocated_by.answer == "chance") is design.randomised
    expected = "did not know" if design.blinded_assessors else "knew"
    assert said.measured_by.answer in (expected, NOT_REPORTED)
    assert (said.order_by is not None) is (design.kind == "crossover")
    assert (said.limb_by is not None) is (design.kind == "within-person")
    left = any(result.n and result.n < study.arm(result.arm).n for result in study.results)
    assert not (left and said.leavers.answer == "nobody left")
    assert (said.plan_made_public.answer == "before it began") <= design.registered.startswith("Y")
    missing = "not reported" in design.selective_reporting or "Six" in design.selective_reporting
    assert (said.measured_and_reported.answer == "some are missing") is missing


@pytest.mark.parametrize("study_id", list(ANSWERED))
def test_every_answer_but_the_silent_names_its_place(study_id):
    for name in FACTS:
        answer = getattr(ANSWERED[study_id].appraisal, name)
        if answer and answer.answer not in (NOT_REPORTED, "needs no practice"):
            assert answer.where, name


def test_one_pooled_study_is_still_to_be_appraised():
    waiting = {name for name, study in STUDIES.items() if not study.retracted} - ANSWERED.keys()
    assert waiting == {"netherquill-2024"}


def test_overrulings_change_the_rules_word_and_take_effect():
    """Each is read back through the judgement it replaces, with another word by rule."""
    found = list(overruling_findings(STUDIES, today=dt.date(2026, 11, 25)))
    assert found == []
    seen = set()
    for question in LIBRARY.questions:
        for appraised in LIBRARY.certainty(question).concerns.appraised:
            for judgement in appraised.judgements:
                if judgement.overruled is not None:
                    assert judgement.concern != judgement.by_rule
                    seen.add((appraised.study, judgement.domain, judgement.concern))
    assert seen == {
        ("hazelmire-2014", "cross-education", "low"),
        ("juddlebeck-2021", "selective reporting", "some"),
        ("oxmere-2013", "missing data", "high"),
    }


def test_all_three_concerns_carry_weight_in_the_best_studied_question():
    table = LIBRARY.certainty("slow-lowering-strength").concerns.studies
    assert set(table["concern"]) == set(CONCERNS)


@pytest.mark.parametrize(
    ("question", "word"),
    [
        # Settled by many trials, most of them with a flaw: not high, not low.
        ("slow-lowering-strength", "moderate"),
        ("short-rest-size", "moderate"),
        # The interval takes in both what matters and what does not.
        ("weekly-sets-size", "low"),
        ("one-leg-or-two-strength", "low"),
        # Few events, and rowers reported them themselves.
        ("slow-lowering-strains", "very low"),
    ],
)
def test_certainty_differs_between_questions(question, word):
    assert LIBRARY.certainty(question).word == word
