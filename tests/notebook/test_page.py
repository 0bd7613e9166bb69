"""What cells show: the weighing's numbers, the same in the terminal and the notebook, escaped."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape

import pytest
from IPython.core.formatters import DisplayFormatter

from steelyard.explaining.page_caution import GENERAL_CAUTIONS
from steelyard.judging.dose import check_dose
from steelyard.judging.pictures_dose import dose_sentence
from steelyard.library import open_library
from steelyard.notebook.answer import answer_to
from steelyard.notebook.overview import Overview
from steelyard.notebook.page import QuestionPage, RecommendationPage
from steelyard.pooling.answer import answer_sentence
from steelyard.show import Table

LIBRARY = open_library()
PARTS = ("asked", "studies", "weighing", "would_change", "rests_on", "says", "in_short")
COACH = ("how_big", "how_sure", "for_whom", "how_much", "turns_on", "missing")
# No study of strains compared amounts, and its recommendation names no dose.
NO_PICTURE = {("hamstring-strain-caution", "how_much")}


@pytest.fixture(params=sorted(LIBRARY.recommendations))
def page(request) -> RecommendationPage:
    return RecommendationPage.of(LIBRARY, request.param)


def words(html: str) -> list[str]:
    """The words of a piece of HTML, without its tags."""
    return unescape(re.sub(r"<[^>]*>", " ", html)).split()


@pytest.mark.parametrize("part", PARTS)
def test_terminal_and_notebook_say_the_same(page, part):
    shown = getattr(page, part)()
    in_html = {word.strip(";") for word in words(shown._repr_html_())}
    in_text = {word.strip(";") for word in str(shown).split()}
    # A table too wide for a terminal names each row by its first cell, without that heading.
    assert in_text <= in_html <= in_text | {"study", "assumption", "domain"}


@pytest.mark.parametrize("part", PARTS)
def test_invented_data_is_said_in_every_part(page, part):
    assert page.invented
    assert "nvented" in str(getattr(page, part)())


def test_every_answer_is_the_weighings(page):
    for answer in page.answers:
        weighing = answer.weighing
        assert answer_sentence(weighing) in str(page.in_short())
        assert answer_sentence(weighing) in str(page.says())
        assert weighing.text(weighing.estimate) in str(page.weighing())
        assert weighing.span(weighing.low, weighing.high) in repr(page.forest())


def test_smallest_worthwhile_effect_has_its_source(page):
    for answer in page.answers:
        assert str(answer.question.smallest_worthwhile) in str(page.asked())
        assert answer.question.smallest_worthwhile_source in str(page.asked())


def test_studies_table_has_every_study_that_touches_the_question(page):
    for answer, table in zip(page.answers, page.studies().parts, strict=True):
        weighing = answer.weighing
        touched = {*weighing.effects["study"], *(out.study for out in weighing.left_out)}
        assert len(table.rows) == len(touched)
        pooled = [row for row in table.rows if "not pooled" not in row[-1]]
        assert len(pooled) == weighing.k_studies
        shares = [float(row[-1].split(" %")[0]) for row in pooled]
        # Each share is rounded to 0.1, so their sum is off by at most 0.05 each.
        assert sum(shares) == pytest.approx(100, abs=0.05 * len(shares))


def test_everything_left_out_is_listed_with_its_reason(page):
    text = str(page.rests_on())
    for answer in page.answers:
        for out in answer.weighing.left_out:
            assert out.reason in text
        for assumption in answer.weighing.assumptions:
            assert assumption in text


def test_recommendation_always_carries_the_cautions(page):
    for caution in (*page.recommendation.cautions, *GENERAL_CAUTIONS):
        assert caution in str(page.says())


def test_overview_has_a_line_per_recommendation_and_question():
    lines = Overview(LIBRARY).lines()
    records = LIBRARY.recommendations.values()
    assert len(lines) >= sum(len(record.questions) for record in records)
    text = str(Overview(LIBRARY)).replace("\u00a0", " ")
    for line in lines:
        weighing = line.answer.weighing
        assert weighing.span(weighing.low, weighing.high) in text
        assert f"{weighing.people:,} people" in text


@pytest.mark.parametrize("part", COACH)
def test_a_coachs_question_gets_sentence_picture_and_table(page, part):
    told = getattr(page, part)()
    bare = (page.recommendation.id, part) in NO_PICTURE
    assert told.sentence.endswith(".")
    assert bool(told.pictures) == bool(told.tables) == (not bare)
    for picture in told.pictures:
        assert "nvented" in picture._repr_mimebundle_()["image/svg+xml"]
    for table in told.tables:
        in_html = {word.strip(";") for word in words(table._repr_html_())}
        in_text = {word.strip(";") for word in str(table).split()}
        assert (
            in_text
            <= in_html
            <= in_text | {"study", "part", "of", "the", "dose", "domain", "design"}
        )
    assert not bare or "No dose is recommended" in told.sentence


def test_only_the_certainty_stands_open(page):
    for part in COACH:
        told = getattr(page, part)()
        unfolded = [table for table in told.tables if isinstance(table, Table)]
        assert len(unfolded) == (part == "how_sure")


def test_the_recommended_dose_is_held_against_what_was_tested(page):
    told = page.how_much()
    checks = check_dose(page.recommendation, page.answers[0].weighing, LIBRARY.studies)
    if checks:
        assert dose_sentence(checks) in told.sentence
        assert [row[3] for row in told.tables[-1].rows] == [check.mark for check in checks]


def test_designs_that_pull_an_answer_are_named():
    told = RecommendationPage.of(LIBRARY, "one-leg-work").how_sure()
    assert "two limbs of the same people (2 studies)" in told.sentence
    assert "training one limb makes the other stronger" in str(told)


def test_several_questions_are_answered_one_after_another():
    page = RecommendationPage.of(LIBRARY, "one-leg-work")
    other = answer_to(LIBRARY, "short-rest-size")
    both = replace(page, answers=(*page.answers, other)).how_big()
    assert [part.about for part in both.parts] == [
        page.answers[0].question.asks,
        other.question.asks,
    ]
    assert repr(both).count("Forest plot") == 2


@pytest.mark.parametrize("part", [*PARTS, "overview"])
def test_markup_in_records_is_shown_and_not_obeyed(tiny_library, part):
    library = open_library(tiny_library)
    page = QuestionPage.of(library, "slow-strength")
    shown = Overview(library) if part == "overview" else getattr(page, part)()
    html = shown._repr_html_()
    for tag in ("<script", "<b>", "<i>", "<em>", "<u>", "Table <2>"):
        assert tag not in html
    if part == "studies":
        assert "&lt;script&gt;alert" in html


def test_question_with_nothing_to_pool_says_why(tiny_library):
    page = QuestionPage.of(open_library(tiny_library), "slow-size")
    for part in ("weighing", "rests_on", "in_short"):
        assert "no study has arms and outcomes that it asks for" in str(getattr(page, part)())
    assert "No plot" in repr(page.forest())


@pytest.mark.parametrize("part", PARTS)
def test_a_cell_saves_words_and_table_and_no_innards(page, part):
    shown = getattr(page, part)()
    bundle, _ = DisplayFormatter().format(shown)
    assert bundle["text/plain"] == str(shown)
    assert bundle["text/html"] == shown._repr_html_()
