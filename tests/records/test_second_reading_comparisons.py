"""What a paper prints of two arms is read twice, held cell by cell and settled with a note."""

from __future__ import annotations

import tomllib
from decimal import Decimal

import pytest

from steelyard.errors import RecordError, UsageError
from steelyard.records import load_records
from steelyard.records.disagreement import disagreements, turned
from steelyard.records.read_once import single_read
from steelyard.records.saving import bring_back, remove_study
from steelyard.records.second_reading import ask_second_reading, find_reading, keep_second_reading
from steelyard.records.settling import settle
from tests.records.test_second_reading import second_results

COMPARISON = """
# What the authors compared themselves.
[[comparison]]
outcome = "knee-flexion"
intervention = "added"
comparator = "usual"
week = 12
difference = { value = 12.1, ci95 = [1.0, 23.2] }   # Table 3
t = 2.20
adjusted = true  # for the start
where = "Table 3"
notes = { model = "analysis of covariance" }

[appraisal]
measured_by = "knew"
"""
SIDES = {"outcome": "knee-flexion", "intervention": "added", "comparator": "usual", "week": 12}
AGREES = SIDES | {
    "difference": {"value": Decimal("12.1"), "ci95": [Decimal("1.0"), Decimal("23.2")]},
    "t": Decimal("2.20"),
    "adjusted": True,
}


@pytest.fixture
def compared(library):
    path = library / "studies" / "good-one.toml"
    path.write_text(path.read_text(encoding="utf-8") + COMPARISON, encoding="utf-8")
    return library


def text_of(library) -> str:
    return (library / "studies" / "good-one.toml").read_text(encoding="utf-8")


def study_of(library):
    return load_records(library).studies["good-one"]


def read_again(library, *comparisons):
    study = study_of(library)
    ask_second_reading(library, study, by="Ada")
    keep_second_reading(library, study, second_results(), comparisons=comparisons, by="Ben")


def apart(library):
    return disagreements(study_of(library), find_reading(library, "good-one"))


def cells(library):
    return [(each.cell, each.first, each.second) for each in apart(library)]


def settle_all(library, keep):
    """Settle one after the other; every settling leaves a library without a fault."""
    while left := apart(library):
        settle(library, left[0], study_id="good-one", keep=keep, note="looked again", by="Cy")
        assert load_records(library).faults == ()


def said(library):
    found = single_read({"good-one": study_of(library)}, folder=library)
    return [(finding.rule, finding.message) for finding in found]


def rules(library):
    return [rule for rule, _ in said(library)]


def test_from_asking_to_settled(compared):
    assert said(compared)[0][1].startswith("only one person has read all of its results")
    read_again(compared, AGREES | {"t": Decimal("2.02"), "p": "<0.05"})
    assert cells(compared) == [("t", "2.20", "2.02"), ("p", "", '"<0.05"')]
    message = "knee-flexion, added against usual, week 12, t differently, 2.20 and 2.02: settle it"
    assert rules(compared) == ["read-differently"] * 2 and message in said(compared)[0][1]
    one, other = apart(compared)
    before = text_of(compared)
    settle(compared, one, study_id="good-one", keep="second", note="2.02 in Table 3", by="Cy")
    assert text_of(compared) == before.replace("t = 2.20", "t = 2.02")
    settle(compared, other, study_id="good-one", keep="first", note="p is of another test")
    assert text_of(compared) == before.replace("t = 2.20", "t = 2.02")
    assert rules(compared) == []
    settled = find_reading(compared, "good-one").settled
    assert [(s.arm, s.against, s.cell, s.keep) for s in settled] == [
        *(("added", "usual", "t", "second"), ("added", "usual", "p", "first")),
    ]


def test_two_that_agree_leave_nothing_to_say(compared):
    read_again(compared, AGREES)
    assert cells(compared) == [] and rules(compared) == []


def test_an_effect_may_be_the_second_readers_in_part(compared):
    read_again(compared, AGREES | {"difference": {"value": Decimal("12.1"), "se": Decimal("5.5")}})
    assert cells(compared) == [("difference.ci95", "[1.0, 23.2]", ""), ("difference.se", "", "5.5")]
    settle_all(compared, "second")
    difference = study_of(compared).comparisons[0].difference
    assert difference.ci95 is None and str(difference.se) == "5.5"
    assert "# Table 3" in text_of(compared) and "# for the start" in text_of(compared)
    assert rules(compared) == []


def test_another_kind_of_effect(compared):
    other = {"value": Decimal("0.41"), "se": Decimal("0.2"), "over": "pre-sd"}
    read_again(compared, SIDES | {"standardised": other, "adjusted": True})
    assert [cell for cell, _, _ in cells(compared)] == [
        *("difference.value", "difference.ci95", "t"),
        *("standardised.value", "standardised.over", "standardised.se"),
    ]
    settle_all(compared, "second")
    (after,) = study_of(compared).comparisons
    assert (after.difference, after.t) == (None, None)
    assert str(after.standardised.value) == "0.41" and after.standardised.over == "pre-sd"
    assert after.notes == {"model": "analysis of covariance"} and rules(compared) == []


def test_the_second_reader_found_nothing_for_it(compared):
    read_again(compared, SIDES)
    assert cells(compared) == [
        ("difference.value", "12.1", ""),
        ("difference.ci95", "[1.0, 23.2]", ""),
        ("t", "2.20", ""),
        ("adjusted", "true", ""),
    ]
    before = study_of(compared)
    settle_all(compared, "first")
    assert study_of(compared) == before and rules(compared) == []


def test_a_comparison_the_paper_does_not_print_goes(compared):
    read_again(compared, SIDES)
    settle_all(compared, "second")
    assert study_of(compared).comparisons == () and "comparison" not in tomllib.loads(
        text_of(compared)
    )
    assert "measured_by" in text_of(compared) and "# Table 2" in text_of(compared)
    assert rules(compared) == []


def test_a_comparison_only_the_second_reader_has(library):
    read_again(library, AGREES)
    assert [(cell, first) for cell, first, _ in cells(library)] == [
        (cell, "") for cell in ("difference.value", "difference.ci95", "t", "adjusted")
    ]
    before = study_of(library)
    one = apart(library)[0]
    settle(library, one, study_id="good-one", keep="second", note="Table 3")
    after = study_of(library)
    assert after.results == before.results and rules(library) == []
    assert str(after.comparisons[0].t) == "2.20" and after.comparisons[0].adjusted
    assert text_of(library).startswith("# Demo data, invented.")
    assert len(find_reading(library, "good-one").settled) == 4


def test_of_a_comparison_only_the_second_has_some_may_be_wrong(library):
    read_again(library, AGREES)
    by_cell = {each.cell: each for each in apart(library)}
    settle(library, by_cell["t"], study_id="good-one", keep="first", note="of other people")
    settle(library, by_cell["difference.value"], study_id="good-one", keep="second", note="p. 7")
    (made,) = study_of(library).comparisons
    assert made.t is None and made.difference is not None
    assert cells(library) == [] and rules(library) == []


def test_nothing_of_a_study_is_left_only_where_a_study_is_left(library):
    path = library / "studies" / "good-one.toml"
    head, _, _ = path.read_text(encoding="utf-8").partition("[[result]]")
    path.write_text(head + COMPARISON, encoding="utf-8")
    study = study_of(library)
    ask_second_reading(library, study)
    keep_second_reading(library, study, [], comparisons=[SIDES], by="Ben")
    with pytest.raises(RecordError, match="at least one result or comparison") as refused:
        settle_all(library, "second")
    said = str(refused.value)
    assert "Nothing has changed." in said and "Remove this study" in said
    (left,) = study_of(library).comparisons
    assert left.difference is not None or left.t is not None
    # What the message says to do instead is open: the study goes whole, and comes back whole.
    before, open_cells = text_of(library), cells(library)
    copy = remove_study(library, "good-one")
    gone = load_records(library)
    assert "good-one" not in gone.studies and gone.faults == ()
    bring_back(library, copy)
    assert text_of(library) == before and cells(library) == open_cells


def test_the_last_comparison_goes_once_something_else_is_entered(library):
    path = library / "studies" / "good-one.toml"
    whole = path.read_text(encoding="utf-8")
    head, mark, results = whole.partition("[[result]]")
    path.write_text(head + COMPARISON, encoding="utf-8")
    study = study_of(library)
    ask_second_reading(library, study)
    keep_second_reading(library, study, [], comparisons=[SIDES], by="Ben")
    with pytest.raises(RecordError, match="enter those there first"):
        settle_all(library, "second")
    path.write_text(text_of(library) + mark + results, encoding="utf-8")
    for each in apart(library):
        if each.against and each in apart(library):
            settle(library, each, study_id="good-one", keep="second", note="not in the paper")
    assert study_of(library).comparisons == () and load_records(library).faults == ()


def test_the_other_way_round_is_no_difference(compared):
    other = {
        "intervention": "usual",
        "comparator": "added",
        "difference": {"value": Decimal("-12.1"), "ci95": [Decimal("-23.2"), Decimal("-1.0")]},
        "t": Decimal("-2.02"),
    }
    read_again(compared, AGREES | other)
    assert cells(compared) == [("t", "2.20", "2.02")]
    settle_all(compared, "second")
    assert str(study_of(compared).comparisons[0].t) == "2.02" and rules(compared) == []


def test_turning_twice_is_no_change(compared):
    one = study_of(compared).comparisons[0]
    assert turned(turned(one)) == one and turned(one).difference.value == Decimal("-12.1")


def test_people_as_in_the_arms_and_plain_noes_say_nothing(compared):
    read_again(compared, AGREES | {"n_intervention": 19, "clusters_allowed_for": False})
    assert cells(compared) == []


def test_other_people_and_another_test_are_told(compared):
    read_again(compared, AGREES | {"n_comparator": 17, "of": "change", "adjusted": False})
    assert cells(compared) == [
        *(("adjusted", "true", ""), ("n_comparator", "", "17"), ("of", "", '"change"')),
    ]
    settle_all(compared, "second")
    (after,) = study_of(compared).comparisons
    assert (after.n_comparator, after.of, after.adjusted) == (17, "change", False)


def test_a_reading_without_comparisons_says_nothing_of_them(compared):
    study = study_of(compared)
    ask_second_reading(compared, study)
    keep_second_reading(compared, study, second_results(), by="Ben")
    path = compared / "second-readings" / "good-one.toml"
    assert "comparison" not in path.read_text(encoding="utf-8")
    assert cells(compared) == []
    ((rule, message),) = said(compared)
    assert rule == "read-once" and "1 of 3 of its results: have another person" in message
    text = text_of(compared).replace("t = 2.20", 't = 2.20\nchecked_by = "Ben"')
    (compared / "studies" / "good-one.toml").write_text(text, encoding="utf-8")
    assert rules(compared) == []


def test_the_same_comparison_is_not_read_twice_over(compared):
    study = study_of(compared)
    ask_second_reading(compared, study)
    other = SIDES | {"intervention": "usual", "comparator": "added", "t": Decimal("-2.2")}
    with pytest.raises(UsageError, match="one comparison"):
        keep_second_reading(
            compared, study, second_results(), comparisons=[AGREES, other], by="Ben"
        )
    with pytest.raises(RecordError, match="inside"):
        wrong = {"difference": {"value": Decimal(9), "ci95": [Decimal(1), Decimal(2)]}}
        keep_second_reading(
            compared, study, second_results(), comparisons=[SIDES | wrong], by="Ben"
        )
    assert find_reading(compared, "good-one").read is None
