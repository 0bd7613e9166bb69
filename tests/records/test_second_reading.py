"""Two people read a paper; where they differ is listed cell by cell and settled with a note."""

from __future__ import annotations

import subprocess
import sys
from decimal import Decimal

import pytest

from steelyard.errors import RecordError, UsageError
from steelyard.records import load_records
from steelyard.records.disagreement import disagreements
from steelyard.records.read_once import single_read
from steelyard.records.second_reading import ask_second_reading, find_reading, keep_second_reading
from steelyard.records.settling import settle


def second_results(**changed):
    one = {"mean": Decimal("212.0"), "sd": Decimal("31.5")}
    return [
        {
            "outcome": "knee-flexion",
            "arm": "added",
            "week": 12,
            "pre": one | changed,
            "post": {"mean": Decimal("236.40"), "se": Decimal("7.9")},
        },
        {
            "outcome": "knee-flexion",
            "arm": "usual",
            "week": Decimal("12"),
            "pre": {"mean": Decimal("210.0"), "sd": Decimal("30.5")},
            "post": {"mean": Decimal("215.2"), "sd": Decimal("31.0")},
        },
    ]


def study_of(library):
    return load_records(library).studies["good-one"]


def rules(library):
    found = single_read({"good-one": study_of(library)}, folder=library)
    return [finding.rule for finding in found]


def test_from_asking_to_settled(library):
    assert rules(library) == ["read-once"]
    study = study_of(library)
    ask_second_reading(library, study, by="Ada")
    assert rules(library) == ["second-reading-waits", "read-once"]
    keep_second_reading(library, study, second_results(sd=Decimal("13.5")), by="Ben")
    assert rules(library) == ["read-differently"]
    (cell,) = disagreements(study, find_reading(library, "good-one"))
    assert (cell.cell, cell.first, cell.second) == ("pre.sd", "31.5", "13.5")
    with pytest.raises(UsageError, match="note"):
        settle(library, cell, study_id="good-one", keep="second", note=" ")
    settle(library, cell, study_id="good-one", keep="second", note="13.5 in Table 2", by="Cy")
    after = study_of(library)
    assert str(after.results[0].pre.sd) == "13.5"
    text = (library / "studies" / "good-one.toml").read_text(encoding="utf-8")
    assert "# Table 2" in text
    assert rules(library) == []
    assert find_reading(library, "good-one").settled[0].note == "13.5 in Table 2"


def test_the_first_reader_may_be_right(library):
    study = study_of(library)
    ask_second_reading(library, study)
    keep_second_reading(library, study, second_results(sd=Decimal("13.5")), by="Ben")
    (cell,) = disagreements(study, find_reading(library, "good-one"))
    settle(library, cell, study_id="good-one", keep="first", note="misread")
    assert study_of(library) == study and rules(library) == []
    with pytest.raises(UsageError, match="no disagreement"):
        settle(library, cell, study_id="good-one", keep="first", note="twice")


def test_other_spread_and_missing_rows_are_disagreements(library):
    study = study_of(library)
    ask_second_reading(library, study)
    results = second_results()
    results[0]["pre"] = {"mean": Decimal("212.0"), "se": Decimal("31.5")}
    keep_second_reading(library, study, results[:1], by="Ben")
    cells = {
        (d.arm, d.cell, d.first, d.second)
        for d in disagreements(study, find_reading(library, "good-one"))
    }
    assert cells == {
        ("added", "pre.sd", "31.5", ""),
        ("added", "pre.se", "", "31.5"),
        ("usual", "pre.mean", "210.0", ""),
        ("usual", "pre.sd", "30.5", ""),
        ("usual", "post.mean", "215.2", ""),
        ("usual", "post.sd", "31.0", ""),
    }


def test_two_that_agree_leave_nothing_to_say(library):
    study = study_of(library)
    ask_second_reading(library, study)
    keep_second_reading(library, study, second_results(), by="Ben")
    assert rules(library) == []


def test_a_second_reader_is_another_person_and_was_asked(library):
    study = study_of(library)
    with pytest.raises(UsageError, match="nobody asked"):
        keep_second_reading(library, study, second_results(), by="Ben")
    ask_second_reading(library, study, by="Ada")
    with pytest.raises(UsageError, match="another person"):
        keep_second_reading(library, study, second_results(), by="ada")
    with pytest.raises(UsageError, match="name"):
        keep_second_reading(library, study, second_results(), by=" ")
    with pytest.raises(RecordError):
        keep_second_reading(library, study, [{"outcome": "x"}], by="Ben")
    assert find_reading(library, "good-one").read is None


def test_checked_by_counts_as_read_twice(library):
    path = library / "studies" / "good-one.toml"
    text = path.read_text(encoding="utf-8").replace("week = 12", 'week = 12\nchecked_by = "Ben"')
    path.write_text(text, encoding="utf-8")
    assert rules(library) == []


def test_a_second_reading_is_not_replaced_by_a_third(library):
    study = study_of(library)
    ask_second_reading(library, study)
    keep_second_reading(library, study, second_results(sd=Decimal("13.5")), by="Ben")
    with pytest.raises(UsageError, match="Ben read 'good-one' a second time already"):
        keep_second_reading(library, study, second_results(), by="Cy")
    assert len(disagreements(study, find_reading(library, "good-one"))) == 1


def test_a_size_that_is_the_arms_own_says_no_more_than_none(library):
    study = study_of(library)
    ask_second_reading(library, study)
    results = second_results()
    results[0]["n"], results[1]["n"] = 19, 18
    keep_second_reading(library, study, results, by="Ben")
    (cell,) = disagreements(study, find_reading(library, "good-one"))
    assert (cell.arm, cell.cell, cell.first, cell.second) == ("usual", "n", "", "18")


def read_another_interval(library):
    """A study that prints an interval, and a second reader who reads it a hundred lower."""
    path = library / "studies" / "good-one.toml"
    text = path.read_text(encoding="utf-8")
    text = text.replace("{ mean = 212.0, sd = 31.5 }", "{ mean = 212.0, ci95 = [197, 227] }")
    path.write_text(text, encoding="utf-8")
    study = study_of(library)
    ask_second_reading(library, study)
    results = second_results()
    results[0]["pre"] = {"mean": Decimal("112.0"), "ci95": [Decimal(97), Decimal(127)]}
    keep_second_reading(library, study, results, by="Ben")
    return path, study


def test_a_mean_and_its_interval_change_together_where_neither_can_alone(library):
    path, study = read_another_interval(library)
    one, _ = disagreements(study, find_reading(library, "good-one"))
    grown = settle(library, one, study_id="good-one", keep="second", note="typing slip")
    assert [(s.cell, s.note) for s in grown.settled] == [
        *(("pre.mean", "typing slip"), ("pre.ci95", "typing slip")),
    ]
    after = study_of(library).results[0]
    assert (str(after.pre.mean), after.pre.ci95[0]) == ("112.0", Decimal(97))
    assert "# Table 2" in path.read_text(encoding="utf-8") and rules(library) == []


def test_what_was_settled_for_the_first_is_not_taken_along(library):
    _, study = read_another_interval(library)
    one, other = disagreements(study, find_reading(library, "good-one"))
    settle(library, one, study_id="good-one", keep="first", note="212 it is")
    with pytest.raises(RecordError, match="inside ci95"):
        settle(library, other, study_id="good-one", keep="second", note="and yet")
    assert study_of(library) == study
    assert disagreements(study, find_reading(library, "good-one")) == (other,)


def test_a_row_only_the_first_reader_has_can_be_settled_away(library):
    study = study_of(library)
    ask_second_reading(library, study)
    keep_second_reading(library, study, second_results()[:1], by="Ben")
    for _ in range(4):
        left = disagreements(study_of(library), find_reading(library, "good-one"))
        if not left:
            break
        settle(library, left[0], study_id="good-one", keep="second", note="of another study")
    assert [result.arm for result in study_of(library).results] == ["added"]
    assert rules(library) == []


GROUPS = [
    {"label": "women", "n": 9, "mean": Decimal("180.0"), "sd": Decimal("20.5")},
    {"label": "men", "n": 10, "mean": Decimal("240.0"), "sd": Decimal("25.5")},
]


def test_parts_of_a_group_are_held_against_each_other_by_their_numbers(library):
    study = study_of(library)
    ask_second_reading(library, study)
    results = second_results()
    results[0]["pre"] = {"groups": GROUPS}
    keep_second_reading(library, study, results, by="Ben")
    cells = disagreements(study, find_reading(library, "good-one"))
    assert [cell.cell for cell in cells] == ["pre.mean", "pre.sd", "pre.groups"]
    settle(library, cells[2], study_id="good-one", keep="second", note="Table 3 has them apart")
    after = study_of(library)
    assert [group.label for group in after.results[0].pre.groups] == ["women", "men"]
    assert rules(library) == []
    path = library / "second-readings" / "good-one.toml"
    text = path.read_text(encoding="utf-8").replace('label = "men"', 'label = "males"')
    path.write_text(text, encoding="utf-8")
    assert disagreements(after, find_reading(library, "good-one")) == ()


def test_from_marking_to_settled_check_lists_each_step(library):
    def said() -> list[str]:
        run = [sys.executable, "-m", "steelyard", "check", "--all", "--library", str(library)]
        done = subprocess.run(run, capture_output=True, text=True, encoding="utf-8", timeout=60)
        assert done.returncode == 0, done.stderr
        return [line for line in done.stdout.splitlines() if "good-one" in line]

    assert any("[read-once]" in line and "all of its results" in line for line in said())
    study = study_of(library)
    ask_second_reading(library, study, by="Ada")
    assert any("is not done [second-reading-waits]" in line for line in said())
    keep_second_reading(library, study, second_results(sd=Decimal("13.5")), by="Ben")
    (cell,) = disagreements(study, find_reading(library, "good-one"))
    line = "knee-flexion, added, week 12, pre.sd differently, 31.5 and 13.5: settle it"
    assert any(line in each for each in said())
    settle(library, cell, study_id="good-one", keep="second", note="Table 2", by="Cy")
    assert not any("[read-" in line or "[second-reading" in line for line in said())


def test_a_faulty_second_reading_is_named_with_its_folder(library):
    study = study_of(library)
    ask_second_reading(library, study)
    path = library / "second-readings" / "good-one.toml"
    path.write_text("schema = 1\nid = 3\n", encoding="utf-8")
    with pytest.raises(RecordError) as caught:
        find_reading(library, "good-one")
    assert {finding.file for finding in caught.value.findings} == {"second-readings/good-one.toml"}
