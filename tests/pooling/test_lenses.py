"""Lenses refit the question; each agrees with weighing the narrowed question by itself."""

import pytest

from steelyard import open_library
from steelyard.judging.integrity import suspect_results
from steelyard.pooling.lenses import SHARES, equated_class, lenses
from tests.small_library import question, result, study


def looked(library, question_id):
    return lenses(
        library.weigh(question_id),
        library.studies,
        vocabulary=library.vocabulary,
        suspects=suspect_results(library.integrity),
    )


def test_equated_is_a_filter_that_refits(shipped):
    weighing = shipped.weigh("slow-lowering-strength")
    through = {each.group: each for each in looked(shipped, "slow-lowering-strength").found}
    for group, each in through.items():
        if each.weighing is None:
            continue
        fewer = {name: one for name, one in shipped.studies.items() if equated_class(one) == group}
        again = shipped.weigh_question(weighing.question, studies=fewer)
        assert each.weighing.k_studies == again.k_studies
        assert each.weighing.estimate == pytest.approx(again.estimate, rel=1e-9)
        another = again.verdict.sentence != weighing.verdict.sentence
        assert each.turned == (another and again.k_studies >= 4)


def test_sets_in_passing_counted_in_full_are_the_printed_ones(shipped):
    # Where a paper tells both, its printed number is their sum, so counting all changes nothing.
    weighing = shipped.weigh("weekly-sets-size")
    found = looked(shipped, "weekly-sets-size")
    by_share = dict(zip(SHARES, (each for each in found.found if each.lens == "sets"), strict=True))
    assert by_share[1].weighing.estimate == pytest.approx(weighing.estimate, rel=1e-12)
    # Fewer counted sets for the same growth: each counted set brings more.
    assert by_share[0].weighing.estimate > by_share[0.5].weighing.estimate > weighing.estimate
    assert "2 studies tell sets in passing" in str(found)


def test_direct_and_indirect_sets_add_up(shipped):
    told = 0
    for each in shipped.studies.values():
        for arm in each.arms:
            dose = arm.dose
            if dose.direct_sets_per_week is not None:
                told += 1
                assert dose.direct_sets_per_week + dose.indirect_sets_per_week == dose.sets_per_week
    assert told == 7


def test_nothing_to_look_through_is_said(tmp_path):
    for number in range(3):
        body = result(
            "slow", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 109.0, sd = 20.0 }", r=0.9
        ) + result(
            "usual", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 103.0, sd = 20.0 }", r=0.9
        )
        study(tmp_path, f"s{number}", body)
    question(tmp_path)
    assert "nothing to look through" in looked(open_library(tmp_path), "asked").sentence


def test_a_lens_of_two_studies_turns_no_verdict(tmp_path):
    # Six studies that agree, two of them equated by sessions: two alone settle nothing, which
    # says nothing about what was equated.
    for number in range(6):
        body = result(
            "slow",
            pre="{ mean = 100.0, sd = 20.0 }",
            post=f"{{ mean = {116 + number}.0, sd = 20.0 }}",
            r=0.9,
        ) + result(
            "usual", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 103.0, sd = 20.0 }", r=0.9
        )
        equated = "sessions" if number in (0, 5) else "sets"
        study(tmp_path, f"s{number}", body, design_more=f'equated = "{equated}"')
    question(tmp_path, more="smallest_worthwhile = 0.2")
    found = looked(open_library(tmp_path), "asked")
    through = {each.group: each for each in found.found}
    assert through["sessions"].weighing.verdict.word != found.weighing.verdict.word
    assert not through["sessions"].turned
    assert found.sentence == (
        "Through none of these lenses is the verdict another. "
        "Too few studies to tell through: equated sessions."
    )
    assert "2 studies: too few to tell" in str(found)
