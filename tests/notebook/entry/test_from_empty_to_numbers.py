"""The whole way without a browser: an empty form, cell by cell, to numbers, a file and back."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal

import pytest

from steelyard.library import open_library
from steelyard.notebook import enter_study
from steelyard.records import load_records
from steelyard.records.difference import differences
from steelyard.records.reading import parse
from tests.notebook.entry.driving import put, type_all, unfold, words_of

QUESTION = "slow-lowering-strength"
OPENED = ("juddlebeck-2021", "eskerholt-2019", "peverstone-2012")
STUDIES = (
    *OPENED,
    *("ottermouth-2024", "drumlaw-2018", "marrowdale-2015", "overby-2019", "nettlewater-2023"),
)
HEAD = {
    "source.title": "Invented: slow lowering at Tarnside",
    "source.author": "Marsh, A.",
    "source.issued": "2024",
    "design.kind": "parallel",
    "design.randomised": "yes",
    "arm.a1.label": "slow",
    "arm.a1.tags": "slow-lowering",
    "arm.a1.n": "20",
    "arm.a2.label": "usual",
    "arm.a2.tags": "usual-lifting",
    "arm.a2.n": "21",
    "outcome.o1.label": "knee flexion",
    "outcome.o1.construct": "strength",
    "outcome.o1.site": "hamstrings",
    "outcome.o1.unit": "N",
    "outcome.o1.weeks": "12",
}
CELLS = {
    "cell.o1.a1.pre": "200.0 ± 6.7",
    "cell.o1.a1.post@12": "231.0 ± 7.2",
    "cell.o1.a2.pre": "204.0 ± 6.5",
    "cell.o1.a2.post@12": "215.0 ± 6.8",
}

BAD = [
    ("comparison.c1.p", "not significant", "words hold no number"),
    ("comparison.c1.p", "1.2", "expected p"),
    ("comparison.c1.f", "-3", "0 or more"),
    ("comparison.c1.t", "two", "expected a number"),
    ("comparison.c1.effect.1", "12.1 (23.2 to 1.0)", "inside"),
    ("comparison.c1.effect.1", "12.1 (p 0.03)", "boxes of their own"),
    ("comparison.c1.n_intervention", "1", "2 or more"),
    ("comparison.c1.week", "-1", "between 0 and 2000"),
    ("comparison.c1.comparator", "a1", "two different arms"),
    ("outcome.o1.reliability.icc", "1.4", "between −1 and 1"),
    ("outcome.o1.reliability.cv_percent", "0", "above 0"),
    ("outcome.o1.r_between_arms", "1", "below 1"),
    ("outcome.o1.items", "2.5", "whole number"),
    ("arm.a1.dose.direct_sets_per_week", "−2", "0 to 1,000"),
    ("design.cluster_icc", "-0.1", "from 0 to 1"),
    ("design.cluster_icc", "5", "from 0 to 1"),
    ("comparison.c1.p", "0.000", "such as <0.001"),
]


@pytest.fixture
def folder(folder):
    """Eight shipped studies and the one question asked here, so that a keystroke weighs little."""
    for path in (folder / "studies").glob("*.toml"):
        if path.stem not in STUDIES:
            path.unlink()
    for name in ("questions", "recommendations"):
        for path in (folder / name).glob("*.toml"):
            if path.stem != QUESTION:
                path.unlink()
    return folder


def answers(form) -> dict[str, str]:
    """The live table's two rows: without the study and with it."""
    rows = re.findall(
        r'<th scope="row">(.*?)</th><td>(.*?)</td>', form.live_view.does.value, re.DOTALL
    )
    return dict(rows)


def test_from_an_empty_form_to_its_numbers(page, folder):
    form = page.form
    assert "Nothing yet" in form.live_view.says.value
    type_all(form, HEAD)
    put(form, "style.o1.pre", "se")
    assert form.fields["cell.o1.a1.pre"].box.placeholder == "90.5 ± 3.2"
    put(form, "style.o1.post@12", "se")
    last = "cell.o1.a2.pre"
    type_all(form, CELLS | {last: "204.0", "cell.o1.a2.post@12": "215.0"})
    assert "No effect yet: knee flexion, week 12, slow against usual" in words_of(
        form.live_view.says
    )
    type_all(form, {name: CELLS[name] for name in (last, "cell.o1.a2.post@12")})
    said = words_of(form.live_view.says)
    assert "No effect yet" not in said and "cannot" not in said
    # SD = SE × √n = 6.7 × √20 = 29.96, and 6.5 × √21 = 29.79; Cochrane Handbook, 6.5.2.2.
    assert "SE 6.7 × √20 = SD 29.96" in said and "SE 6.5 × √21 = SD 29.79" in said
    assert "assumed" in said

    library = open_library(folder)
    before = library.weigh(QUESTION)
    live = answers(form)
    assert live["without it"].startswith(before.text(before.estimate))
    form.saving.save()
    after = open_library(folder).weigh(QUESTION)
    assert after.k_studies == before.k_studies + 1
    assert live["with it"].startswith(after.text(after.estimate))
    assert live["with it"].endswith(f"{after.k_studies} studies")
    study = load_records(folder).studies["marsh-2024"]
    printed = [(str(r.pre.mean), str(r.pre.se), str(r.post.se)) for r in study.results]
    assert printed == [("200.0", "6.7", "7.2"), ("204.0", "6.5", "6.8")]

    again = enter_study("marsh-2024").form
    for name, text in CELLS.items():
        assert again.fields[name].box.value == text
    again.saving.save()
    assert "Nothing had changed" in again.saving.message.value


def test_the_new_boxes_reach_the_record_and_come_back(page, folder):
    form = page.form
    type_all(form, HEAD | CELLS)
    unfold(form)
    form.comparisons._add()
    typed = {
        "arm.a1.dose.order": "last, after the rowing",
        "arm.a1.dose.direct_sets_per_week": "4",
        "outcome.o1.reliability.sem": "14",
        "outcome.o1.reliability.icc": "0.93",
        "outcome.o1.reliability.where": "Methods, p. 4",
        "outcome.o1.r_between_arms": "0.55",
        "comparison.c1.effect.1": "12,1 (1,0 to 23,2)",
        "comparison.c1.t": "2.20",
        "comparison.c1.p": "p = 0.034",
        "comparison.c1.of": "change",
        "comparison.c1.adjusted": "yes",
        "comparison.c1.where": "Table 3",
        "answer.measured_by.answer": "did not know",
        "answer.measured_by.where": "Methods, p. 3",
        "scores.PEDro": "6 of 10",
        "scores.TESTEX": "9",
    }
    type_all(form, typed)
    form.saving.save()
    assert "Saved" in form.saving.message.value
    study = load_records(folder).studies["marsh-2024"]
    assert study.arms[0].dose.order == "last, after the rowing"
    assert study.arms[0].dose.direct_sets_per_week == 4
    outcome = study.outcomes[0]
    assert (outcome.reliability.sem, outcome.reliability.icc) == (14, Decimal("0.93"))
    assert outcome.r_between_arms == Decimal("0.55")
    (one,) = study.comparisons
    assert (one.outcome, one.intervention, one.comparator) == ("knee-flexion", "slow", "usual")
    assert (one.week, one.difference.value) == (12, Decimal("12.1"))
    assert one.difference.ci95 == (Decimal("1.0"), Decimal("23.2"))
    assert (str(one.t), one.p, one.of, one.adjusted) == ("2.20", Decimal("0.034"), "change", True)
    assert study.appraisal.measured_by.where == "Methods, p. 3"
    assert study.design.scores == {"PEDro": "6 of 10", "TESTEX": 9}

    path = folder / "studies" / "marsh-2024.toml"
    before = path.read_text(encoding="utf-8")
    # Going on in the same form, and opening it anew, both change one line only.
    for anew, t in ((False, "2.25"), (True, "2.20")):
        opened = enter_study("marsh-2024").form if anew else form
        unfold(opened)
        put(opened, "comparison.c1.t", t)
        opened.saving.save()
        after = path.read_text(encoding="utf-8")
        changed = set(after.splitlines()) ^ set(before.splitlines())
        assert changed == {"t = 2.20", "t = 2.25"}
        before = after


def test_a_comparison_alone_makes_an_effect(page):
    form = page.form
    type_all(form, HEAD)
    unfold(form)
    form.comparisons._add()
    put(form, "comparison.c1.t", "2.0")
    # g = J · t · √(1/n + 1/n) with t 2.0, n 20 and 21: 0.6249 × 0.9806 = 0.61; worked by hand.
    assert "+0.61 SD" in words_of(form.live_view.says)
    assert "No effect yet" not in words_of(form.live_view.says)


def test_a_ratio_is_kept_as_its_logarithm(page, folder):
    form = page.form
    type_all(form, HEAD)
    unfold(form)
    form.comparisons._add()
    put(form, "comparison.c1.effect.1.kind", "risk_ratio")
    put(form, "comparison.c1.effect.1", "0.50 (0.25 to 1.00)")
    assert "as logarithm" in form.fields["comparison.c1.effect.1"].message.value
    form.saving.save()
    printed = load_records(folder).studies["marsh-2024"].comparisons[0].log_risk_ratio
    # ln 0.5 = −0.6931, ln 0.25 = −1.3863.
    assert (printed.value, *printed.ci95) == tuple(map(Decimal, ("-0.6931", "-1.3863", "0.0000")))
    put(form, "comparison.c1.effect.1", "0.50 (SE 0.3)")
    assert "belongs to the logarithm" in form.fields["comparison.c1.effect.1"].message.value
    put(form, "comparison.c1.effect.1", "−0.50 (−1 to 2)")
    assert "above 0" in form.fields["comparison.c1.effect.1"].message.value


def test_a_bad_value_in_a_new_box_is_said_beside_it(page):
    form = page.form
    type_all(form, HEAD | CELLS)
    unfold(form)
    form.comparisons._add()
    put(form, "comparison.c1.t", "1.5")
    back: dict[str, str] = {}
    for name, text, said in BAD:
        good = back[name] if name in back else form.fields[name].box.value
        type_all(form, back | {name: text})
        assert said in words_of(form.fields[name].message), name
        assert "SD (" in words_of(form.live_view.says)
        # One bad value at a time: the last one is good again by now.
        assert {problem.field for problem in form.built.problems if problem.kind == "bad"} == {name}
        assert not form.built.ready
        back = {name: good}
    type_all(form, back)
    assert form.built.ready


def test_correlations_of_results_have_boxes(page, folder):
    form = page.form
    type_all(form, HEAD)
    form.outcomes._printing(form.state.outcomes[0], "correlation")(True)
    type_all(form, {"cell.o1.a1.correlation@12": "0.45", "cell.o1.a2.correlation@12": "1.0"})
    assert "below 1" in form.fields["cell.o1.a2.correlation@12"].message.value
    put(form, "cell.o1.a2.correlation@12", ",39")
    form.saving.save()
    results = load_records(folder).studies["marsh-2024"].results
    assert [str(result.correlation) for result in results] == ["0.45", "0.39"]


def test_judgement_follows_the_answers_and_can_be_overruled_with_a_reason(page, folder):
    form = page.form
    type_all(form, HEAD | CELLS)
    unfold(form)
    measurement = form.appraisal._judged["measurement"]
    assert "some concern: whether the measurer knew the group: not answered" in words_of(
        measurement
    )
    assert "chance" in form.fields["answer.allocated_by.answer"].message.value
    put(form, "answer.measured_by.answer", "knew")
    put(form, "answer.tried_before.answer", "no")
    assert "high concern: whoever measured knew the group" in words_of(measurement)
    assert "where in the paper" in form.fields["answer.measured_by.where"].message.value
    assert "high concern" in words_of(form.appraisal._in_all)
    form.appraisal._overrule("measurement")
    measurement = form.appraisal._judged["measurement"]
    put(form, "overruling.v1.concern", "low")
    assert "without a reason" in form.fields["overruling.v1.reason"].message.value
    assert "high concern" in words_of(measurement)
    form.saving.save()
    assert "Not saved" in form.saving.message.value
    put(form, "overruling.v1.reason", "a machine counts the repetitions")
    put(form, "overruling.v1.by", "the coach")
    assert "low concern, overruled by the coach" in words_of(measurement)
    assert "the rules say high" in words_of(measurement)
    form.saving.save()
    (overruling,) = load_records(folder).studies["marsh-2024"].overrulings
    assert (overruling.concern, overruling.date) == ("low", dt.date.today())
    form.appraisal._take_back("v1")
    form.saving.save()
    assert load_records(folder).studies["marsh-2024"].overrulings == ()


def test_answers_may_differ_for_one_outcome(folder):
    form = enter_study("ottermouth-2024").form
    unfold(form)
    number = next(
        n for n, each in enumerate(form.state.exceptions, 1) if each["fact"] == "measured_by"
    )
    assert form.fields[f"exception.{number}.answer"].box.value == "knew"
    put(form, f"exception.{number}.answer", "not reported")
    form.saving.save()
    study = load_records(folder).studies["ottermouth-2024"]
    assert study.appraisal.measured_by.by_outcome == {"hamstring-strain": "not reported"}
    assert study.appraisal.measured_by.answer == "did not know"


def test_questions_follow_the_design(page):
    form = page.form
    type_all(form, HEAD)
    unfold(form)
    assert "answer.limb_by.answer" not in form.fields
    put(form, "design.kind", "within-person")
    assert "answer.limb_by.answer" in form.fields
    put(form, "answer.limb_by.answer", "chance")
    put(form, "design.kind", "crossover")
    assert "answer.order_by.answer" in form.fields
    assert form.fields["answer.limb_by.answer"].box.value == "chance"


@pytest.mark.parametrize("failure", [KeyError("secret"), ZeroDivisionError("secret")])
def test_what_goes_wrong_is_said_in_words(failure, page, monkeypatch):
    form = page.form
    type_all(form, HEAD | CELLS)

    def fails(*_):
        raise failure

    with monkeypatch.context() as broken:
        broken.setattr(form.live, "look", fails)
        put(form, "arm.a1.n", "19")
        assert "cannot be worked out" in form.live_view.says.value
        broken.setattr(form.outcomes, "rename_arms", fails)
        put(form, "arm.a1.label", "slower")
        assert "That did not work" in form.saving.message.value
    for shown in (form.live_view.says.value, form.saving.message.value):
        assert "secret" not in shown and "Error" not in shown
    put(form, "arm.a1.label", "slow")
    assert "knee flexion" in form.live_view.says.value
    assert "did not work" not in form.saving.message.value


@pytest.mark.parametrize("study_id", OPENED)
def test_opening_every_part_of_a_study_changes_nothing(study_id, folder):
    form = enter_study(study_id).form
    unfold(form)
    base = parse(form.state.base, file=study_id)
    held = {"comparison", "appraisal_overruling"} & set(base)
    assert held or any("correlation" in each for each in base["result"])
    assert differences(base, form.built.values) == () and form.built.ready
