"""An arm whose n is blank or unreadable: the rest still shows, and the message stands beside it."""

from __future__ import annotations

import pytest

from steelyard.effects.table import build_table
from steelyard.effects.whole_study import whole_study
from steelyard.library import open_library
from steelyard.notebook.entry.live import LiveLibrary
from tests.notebook.entry.conftest import EVIDENCE
from tests.notebook.entry.driving import put, words_of
from tests.notebook.entry.test_form import fill


@pytest.fixture(scope="module")
def library():
    return open_library(EVIDENCE)


def two_outcomes(form) -> None:
    """The second outcome has n of its own beside its results."""
    fill(form)
    form.state.add_outcome()
    form.draw_outcomes()
    put(form, "outcome.o2.label", "squat")
    for arm, n, after in (("a1", "20", "110 ± 21"), ("a2", "21", "104 ± 20")):
        put(form, f"cell.o2.{arm}.pre", "100 ± 20")
        put(form, f"cell.o2.{arm}.post@12", after)
        put(form, f"detail.o2.{arm}.12.n", n)


@pytest.mark.parametrize("arm", ["a1", "a2"])
@pytest.mark.parametrize("n", ["", "twenty", "–"])
def test_every_other_outcome_still_shows(arm, n, page):
    form = page.form
    two_outcomes(form)
    put(form, f"arm.{arm}.n", n)
    says = words_of(form.live_view.says)
    assert "<h4>squat</h4>" in form.live_view.says.value and "against usual, week 12" in says
    assert "Look again" in words_of(form.live_view.asks)
    assert "No effect yet: knee flexion" in says and "is missing" in says
    assert "with it" in words_of(form.live_view.does)
    message = words_of(form.fields[f"arm.{arm}.n"].message)
    assert message == (
        "expected a number, found 'twenty'"
        if n == "twenty"
        else "Give n: without it no effect follows from this arm’s numbers."
    )
    put(form, f"arm.{arm}.n", "22")
    assert words_of(form.fields[f"arm.{arm}.n"].message) == ""
    assert "<h4>knee flexion</h4>" in form.live_view.says.value
    assert "usual, week 12" in words_of(form.live_view.says)


def test_an_arm_with_n_beside_its_results_needs_none_of_its_own(page):
    form = page.form
    fill(form)
    put(form, "arm.a1.n", "")
    put(form, "detail.o1.a1.12.n", "20")
    assert words_of(form.fields["arm.a1.n"].message) == ""


def test_messages_stay_beside_their_results_where_an_earlier_one_is_left_out(page):
    form = page.form
    fill(form)
    # Not a spread at all: the first result is left out of what is looked at.
    put(form, "cell.o1.a1.pre", "200 ± 0")
    put(form, "cell.o1.a2.post@12", "215.0 ± 31")
    put(form, "detail.o1.a2.12.n", "40")
    assert "above the arm's n 21" in words_of(form.fields["detail.o1.a2.12.n"].message)
    assert "above the arm's" not in words_of(form.fields["detail.o1.a1.12.n"].message)


def test_a_printed_effect_that_needs_no_n_still_shows(page):
    form = page.form
    fill(form)
    form.state.add_outcome()
    comparison = form.state.add_comparison()
    comparison.outcome, comparison.week = "o2", "12"
    comparison.effects = [{"kind": "standardised", "text": "0.6 (0.1 to 1.1)"}]
    form.draw_outcomes()
    put(form, "outcome.o2.label", "squat")
    put(form, "outcome.o2.construct", "strength")
    put(form, "arm.a1.n", "")
    says = words_of(form.live_view.says)
    assert "<h4>squat</h4>" in form.live_view.says.value and "+0.60 SD" in says
    assert "No effect yet: knee flexion" in says


def test_no_n_anywhere_in_any_study_leaves_it_to_be_looked_at(library):
    """Each arm's n in turn taken out of each shipped study."""
    looked = 0
    questions = library.questions.values()
    for study in library.studies.values():
        for gone in study.arms:
            arms = tuple(
                arm.model_copy(update={"n": None}) if arm is gone else arm for arm in study.arms
            )
            results = tuple(
                result.model_copy(update={"n": None}) if result.arm == gone.id else result
                for result in study.results
            )
            partial = study.model_copy(update={"arms": arms, "results": results})
            for metric in ("standardised", "raw", "percent", "risk-ratio"):
                whole_study(
                    partial, questions=questions, metric=metric, vocabulary=library.vocabulary
                )
            for question in questions:
                build_table(question, [partial], library.vocabulary)
            looked += 1
    assert looked > 80
    study = library.studies["oxmere-2013"]
    arms = tuple(arm.model_copy(update={"n": None}) for arm in study.arms)
    live = LiveLibrary(library, study.id).look(
        study.model_copy(update={"arms": arms}), library.vocabulary
    )
    assert live.effects == () and all("is missing" in reason for reason in live.not_formed)
