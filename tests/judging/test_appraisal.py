"""A study appraised: facts from the record, a concern by rule, a person's overruling."""

from __future__ import annotations

import datetime as dt

import pytest

from steelyard import open_library
from steelyard.errors import UsageError
from steelyard.judging.appraisal import appraisal_rules, appraise, concern_weights
from steelyard.judging.appraisal.facts import baseline_gap, share_analysed
from steelyard.judging.appraisal.findings import overruling_findings
from steelyard.judging.conditions import first_that_holds
from tests.small_library import comparison, question, result, study

RULES = appraisal_rules()
JUST = 1e-6
SOUND = {
    "randomised": "yes",
    "allocated_by": "chance",
    "next_place": "hidden",
    "baseline_gap": 0.1,
    "counted_where_allocated": "yes",
    "sessions_attended": "most in every arm",
    "training_beside": "the same",
    "share_analysed": 1.0,
    "leavers": "not answered",
    "measured_by": "did not know",
    "tried_before": "yes",
    "repeatability": "not reported",
    "plan_made_public": "before it began",
    "measured_and_reported": "all",
    "order_by": "chance",
    "back_at_start": "yes",
    "limb_by": "chance",
    "other_limb": "trained too",
    "crosses": "no",
}
UNTIED = {"leavers": "not tied to the training"}
CASES = [
    *((name, {}, "low") for name in RULES.domain_names()),
    ("allocation", {"randomised": "no"}, "high"),
    ("allocation", {"allocated_by": "a fixed rule"}, "high"),
    ("allocation", {"allocated_by": "someone's choice"}, "high"),
    ("allocation", {"next_place": "could be told"}, "high"),
    ("allocation", {"baseline_gap": 0.5 + JUST}, "some"),
    ("allocation", {"baseline_gap": 0.5}, "low"),
    ("allocation", {"baseline_gap": None}, "low"),
    ("allocation", {"allocated_by": "not reported"}, "some"),
    ("allocation", {"next_place": "not answered"}, "some"),
    ("deviations and adherence", {"training_beside": "different"}, "high"),
    ("deviations and adherence", {"counted_where_allocated": "no"}, "some"),
    ("deviations and adherence", {"sessions_attended": "few in an arm"}, "some"),
    (
        "deviations and adherence",
        {"counted_where_allocated": "no", "sessions_attended": "few in an arm"},
        "high",
    ),
    ("deviations and adherence", {"counted_where_allocated": "not reported"}, "some"),
    ("deviations and adherence", {"sessions_attended": "not answered"}, "some"),
    ("missing data", {"leavers": "tied to the training"}, "high"),
    ("missing data", {"share_analysed": 0.70 - JUST}, "high"),
    ("missing data", {"share_analysed": 0.70}, "some"),
    (
        "missing data",
        {"share_analysed": 0.85 - JUST, "leavers": "not tied to the training"},
        "some",
    ),
    ("missing data", {"share_analysed": 0.85, "leavers": "not tied to the training"}, "low"),
    ("missing data", {"share_analysed": 0.95 - JUST}, "some"),
    ("missing data", {"share_analysed": 0.95}, "low"),
    ("missing data", {"share_analysed": None}, "some"),
    ("missing data", {"share_analysed": None, "leavers": "nobody left"}, "low"),
    ("measurement", {"measured_by": "knew", "tried_before": "no"}, "high"),
    ("measurement", {"measured_by": "knew"}, "some"),
    ("measurement", {"measured_by": "not reported"}, "some"),
    ("measurement", {"tried_before": "no"}, "some"),
    ("measurement", {"tried_before": "not answered"}, "some"),
    ("measurement", {"tried_before": "not answered", "repeatability": "printed"}, "low"),
    ("selective reporting", {"measured_and_reported": "some are missing"}, "high"),
    ("selective reporting", {"plan_made_public": "later"}, "some"),
    ("selective reporting", {"measured_and_reported": "not reported"}, "some"),
    ("period and carry-over", {"back_at_start": "no"}, "high"),
    ("period and carry-over", {"order_by": "a fixed rule"}, "high"),
    ("period and carry-over", {"back_at_start": "not reported"}, "some"),
    ("period and carry-over", {"order_by": "not answered"}, "some"),
    ("cross-education", {"crosses": "yes", "other_limb": "rested"}, "high"),
    ("cross-education", {"crosses": "no", "other_limb": "rested"}, "low"),
    ("cross-education", {"limb_by": "someone's choice"}, "high"),
    ("cross-education", {"crosses": "yes"}, "some"),
    ("cross-education", {"limb_by": "not reported"}, "some"),
]


def rules_of(name):
    return next(domain for domain in RULES.domains if domain.name == name).rules


@pytest.mark.parametrize(("name", "changes", "concern"), CASES)
def test_concern_of_each_branch(name, changes, concern):
    assert first_that_holds(rules_of(name), SOUND | changes).gives == concern


def test_every_rule_has_a_case_that_it_decides():
    hit = {id(first_that_holds(rules_of(name), SOUND | changes)) for name, changes, _ in CASES}
    missed = [
        f"{domain.name}: {rule.in_words()}"
        for domain in RULES.domains
        for rule in domain.rules
        if id(rule) not in hit
    ]
    assert not missed


PAIR = result("slow", pre="{ mean = 10, sd = 2 }", post="{ mean = 12, sd = 2 }") + result(
    "usual", pre="{ mean = 10.5, sd = 2 }", post="{ mean = 11, sd = 2 }"
)
GOOD = """[appraisal]
allocated_by = { answer = "chance", where = "p. 3" }
next_place = "hidden"
counted_where_allocated = "yes"
sessions_attended = "most in every arm"
training_beside = "the same"
leavers = "nobody left"
measured_by = { answer = "did not know", where = "p. 4", by_outcome = { jump = "knew" } }
tried_before = "yes"
plan_made_public = "before it began"
measured_and_reported = "all"
"""


def only_study(folder):
    library = open_library(folder)
    assert not library.records.faults
    return library.studies["one"]


def test_a_study_without_answers_still_gets_a_judgement(tmp_path):
    study(tmp_path, "one", PAIR, design_more="blinded_assessors = true")
    found = appraise(only_study(tmp_path), "peak")
    assert found.concern == "some"
    assert not found.answered
    assert found.judgement("cross-education") is None
    assert "not answered" in str(found)


def test_answers_lower_concern_and_keep_their_place(tmp_path):
    study(tmp_path, "one", PAIR + GOOD)
    found = appraise(only_study(tmp_path), "peak")
    assert found.concern == "low"
    facts = {fact.name: fact for fact in found.judgement("allocation").facts}
    assert facts["allocated_by"].where == "p. 3"
    assert facts["baseline_gap"].value == pytest.approx(0.25)


def test_an_answer_may_differ_for_one_outcome(tmp_path):
    jump = '[[outcome]]\nid = "jump"\nconstruct = "strength"\nunit = "cm"\n'
    more = result("slow", outcome="jump", post="{ mean = 1, sd = 2 }")
    study(tmp_path, "one", jump + PAIR + more + GOOD)
    one = only_study(tmp_path)
    assert appraise(one, "peak").judgement("measurement").concern == "low"
    assert appraise(one, "jump").judgement("measurement").concern == "some"
    with pytest.raises(UsageError, match="no outcome 'height'"):
        appraise(one, "height")


def test_an_answer_that_is_none_of_those_offered_is_a_fault(tmp_path):
    study(tmp_path, "one", PAIR + '[appraisal]\nallocated_by = "luck"\n')
    library = open_library(tmp_path)
    assert "one" not in library.studies
    (fault,) = library.records.faults
    assert "'chance'" in fault.message
    assert "'luck'" in fault.message


OVERRULING = """[[appraisal_overruling]]
domain = "measurement"
concern = "high"
reason = "the device broke and was changed halfway (p. 6)"
by = "T. Fell"
date = 2024-02-01
"""


def test_an_overruling_counts_and_both_words_are_kept(tmp_path):
    study(tmp_path, "one", PAIR + GOOD + OVERRULING)
    found = appraise(only_study(tmp_path), "peak").judgement("measurement")
    assert (found.concern, found.by_rule) == ("high", "low")
    for words in ("device broke", "T. Fell", "2024-02-01", "the rules say low"):
        assert words in found.text()


def test_an_overruling_without_a_reason_is_a_fault(tmp_path):
    study(tmp_path, "one", PAIR + OVERRULING.replace("reason", "# reason"))
    (fault,) = open_library(tmp_path).records.faults
    assert fault.path == "appraisal_overruling[1].reason"


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ('"measurement"', '"luck"', "unknown-domain"),
        ("2024-02-01", "2999-01-01", "date-in-the-future"),
        ("by =", 'outcome = "height"\nby =', "unknown-outcome"),
    ],
)
def test_an_overruling_that_cannot_count_is_told(tmp_path, old, new, rule):
    study(tmp_path, "one", PAIR + OVERRULING.replace(old, new))
    library = open_library(tmp_path)
    found = overruling_findings(library.studies, today=dt.date(2026, 1, 1))
    assert [finding.rule for finding in found] == [rule]
    assert rule in {finding.rule for finding in library.check()}


@pytest.mark.parametrize(
    ("registered", "value"),
    [("Yes, entry 12 (p. 2)", "date not given"), ("No register entry given", "never")],
)
def test_the_plan_follows_from_the_register_field(tmp_path, registered, value):
    study(tmp_path, "one", PAIR, design_more=f'registered = "{registered}"')
    found = appraise(only_study(tmp_path), "peak").judgement("selective reporting")
    assert {fact.name: fact.value for fact in found.facts}["plan_made_public"] == value


def test_share_analysed_counts_people_at_the_last_week(tmp_path):
    body = result("slow", week=6, n="20", post="{ mean = 11, sd = 2 }")
    body += result("slow", n="15", post="{ mean = 12, sd = 2 }")
    body += result("usual", n="18", post="{ mean = 11, sd = 2 }")
    study(tmp_path, "one", body)
    assert share_analysed(only_study(tmp_path), "peak") == pytest.approx(33 / 40)
    study(tmp_path, "one", body, design_more="[population]\nn_randomised = 44")
    assert share_analysed(only_study(tmp_path), "peak") == pytest.approx(33 / 44)


def test_share_analysed_in_a_crossover_counts_people_once(tmp_path):
    body = result("slow", n="18", post="{ mean = 12, sd = 2 }")
    body += result("usual", n="18", post="{ mean = 11, sd = 2 }")
    study(tmp_path, "one", body, kind="crossover")
    one = only_study(tmp_path)
    assert share_analysed(one, "peak") == pytest.approx(18 / 20)
    assert baseline_gap(one, "peak") is None
    assert appraise(one, "peak").judgement("period and carry-over").concern == "some"


def test_weight_by_concern_adds_up_and_follows_the_gravest_outcome(tmp_path):
    study(
        tmp_path,
        "one",
        comparison(standardised="{ value = 0.3, se = 0.1, over = 'pre-sd' }") + GOOD,
    )
    study(tmp_path, "two", comparison(standardised="{ value = 0.3, se = 0.1, over = 'pre-sd' }"))
    study(
        tmp_path,
        "three",
        comparison(standardised="{ value = 0.3, se = 0.1, over = 'pre-sd' }"),
        randomised="false",
    )
    question(tmp_path, more="smallest_worthwhile = 0.1")
    library = open_library(tmp_path)
    found = concern_weights(library.weigh("asked"), library.studies)
    assert [found.share(word) for word in ("low", "some", "high")] == pytest.approx([1 / 3] * 3)
    assert found.share("high", domain="allocation") == pytest.approx(1 / 3)
    assert found.unanswered == pytest.approx(2 / 3)
    totals = found.shares[["low", "some", "high"]].sum(axis=1)
    assert totals.to_list() == pytest.approx([1.0] * len(totals))


def test_a_printed_score_is_shown_and_changes_nothing(tmp_path):
    study(tmp_path, "one", PAIR + GOOD, design_more='scores = { "PEDro" = 3 }')
    found = appraise(only_study(tmp_path), "peak")
    assert found.concern == "low"
    assert "3, as printed; not used" in str(found)
