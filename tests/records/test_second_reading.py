"""Two people read a paper; where they differ is listed cell by cell and settled with a note."""

from __future__ import annotations

import subprocess
import sys
from decimal import Decimal

import pytest

from steelyard.errors import RecordError, UsageError
from steelyard.records import load_records
from steelyard.records.second_reading import (
    ask_second_reading,
    disagreements,
    find_reading,
    keep_second_reading,
    settle,
    single_read,
)


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


COMPARISON = """
[[comparison]]
outcome = "knee-flexion"
intervention = "added"
comparator = "usual"
week = 12
difference = { value = 12.1, ci95 = [1.0, 23.2] }
"""


def test_what_the_blind_form_does_not_hold_asks_for_checked_by(library):
    path = library / "studies" / "good-one.toml"
    path.write_text(path.read_text(encoding="utf-8") + COMPARISON, encoding="utf-8")
    study = study_of(library)
    ask_second_reading(library, study)
    keep_second_reading(library, study, second_results(), by="Ben")
    (finding,) = single_read({"good-one": study_of(library)}, folder=library)
    assert "1 of 3 of its results: have another person look" in finding.message
    with open(path, "a", encoding="utf-8") as stream:
        stream.write('checked_by = "Ben"\n')
    assert rules(library) == []


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
    assert not any("read" in line.rpartition("[")[2] for line in said())
