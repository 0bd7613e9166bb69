"""Sizes in a client's unit on the first lines, against the arithmetic by hand."""

from __future__ import annotations

import re
from math import exp

from steelyard.library import open_library
from steelyard.notebook.answer import answer_to
from steelyard.notebook.client_units import in_client_units, next_in_client_units
from steelyard.notebook.page import QuestionPage, RecommendationPage
from steelyard.notebook.stack import Folded

LIBRARY = open_library()


def numbers(text: str) -> list[float]:
    return [float(n) for n in re.findall(r"[+-]?\d+(?:\.\d+)?", text.replace("\u2212", "-"))]


def test_standard_deviations_become_newtons_and_percent_of_the_start():
    answer = answer_to(LIBRARY, "slow-lowering-strength")
    text, weighing = in_client_units(answer), answer.weighing
    # The question names N, a reference SD of 44 N and a start of 209 N.
    wanted = [44 * each for each in (weighing.estimate, weighing.low, weighing.high)]
    average, low, high, percent = numbers(text)
    assert abs(average - wanted[0]) <= 0.5
    assert abs(low - wanted[1]) <= 0.5
    assert abs(high - wanted[2]) <= 0.5
    assert abs(percent - 100 * wanted[0] / 209) <= 0.5
    assert " N (" in text and "% of a usual start" in text


def test_the_next_study_is_told_in_the_same_unit():
    answer = answer_to(LIBRARY, "slow-lowering-strength")
    weighing = answer.weighing
    ends = numbers(next_in_client_units(answer))
    # 44 N a standard deviation, as above.
    wanted = [44 * weighing.prediction_low, 44 * weighing.prediction_high]
    assert max(abs(one - other) for one, other in zip(ends, wanted, strict=True)) <= 0.5
    rows = dict(RecommendationPage.of(LIBRARY, "add-slow-lowering").in_short()._rows())
    assert "probably (95 times in 100) lie from" in rows["next study"]
    assert rows["next study"].endswith(next_in_client_units(answer))
    # 11 of 100 without, times the risk ratio at either end.
    counted = answer_to(LIBRARY, "slow-lowering-strains")
    hundred, *ends = numbers(next_in_client_units(counted))
    wanted = [
        11 * exp(-end)
        for end in (counted.weighing.prediction_high, counted.weighing.prediction_low)
    ]
    assert hundred == 100
    assert max(abs(one - other) for one, other in zip(ends, wanted, strict=True)) <= 0.5
    assert "for every 5 more" in next_in_client_units(answer_to(LIBRARY, "weekly-sets-size"))


def test_counts_become_people_of_100():
    answer = answer_to(LIBRARY, "slow-lowering-strains")
    # 11 of 100 without, and exp(−log risk ratio) of them with.
    hundred, average, *_, without = numbers(in_client_units(answer))
    assert (hundred, without) == (100, 11)
    assert abs(average - 11 * 2.718281828 ** (-answer.weighing.estimate)) <= 0.5


def test_a_dose_is_said_per_step():
    assert "for every 5 more" in in_client_units(answer_to(LIBRARY, "weekly-sets-size"))


def test_it_stands_first_in_the_answer():
    page = RecommendationPage.of(LIBRARY, "add-slow-lowering")
    rows = dict(page.in_short()._rows())
    assert rows["answer"].startswith(in_client_units(page.answers[0]))


def test_without_a_unit_nothing_is_added(tiny_library):
    library = open_library(tiny_library)
    for question in library.questions:
        page = QuestionPage.of(library, question)
        if page.answers[0].question.client.unit is None:
            assert "usual start" not in str(page.in_short())


def test_the_long_table_is_folded_and_counts_its_studies():
    (table,) = RecommendationPage.of(LIBRARY, "add-slow-lowering").studies().parts
    assert isinstance(table, Folded)
    html = table._repr_html_()
    assert html.startswith('<details class="folded"><summary>')
    assert f"{len(table.rows)} studies, in full" in html
    assert "people randomised" in html
