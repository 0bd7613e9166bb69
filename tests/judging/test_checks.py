"""What a check lists beyond faults: dates ahead, due for reading, read by one person."""

from __future__ import annotations

import datetime as dt

import pytest

from steelyard import open_library
from steelyard.judging.checks import due_reasons, review_findings
from tests.judging.reviewed_library import effect, recommendation, told_library
from tests.small_library import study

NEXT = dt.timedelta(days=1)


def rules(folder) -> dict[str, list]:
    found: dict[str, list] = {}
    for finding in open_library(folder).check():
        found.setdefault(finding.rule, []).append(finding)
    return found


@pytest.fixture
def folder(tmp_path):
    return told_library(tmp_path)


def test_a_review_in_the_future_is_warned_of(folder):
    today = dt.date.today()
    path = folder / "recommendations" / "lower.toml"
    text = path.read_text()
    path.write_text(text.replace("2024-06-01", str(today)), encoding="utf-8")
    assert "date-in-the-future" not in rules(folder)
    path.write_text(text.replace("2024-06-01", str(today + NEXT)), encoding="utf-8")
    (finding,) = rules(folder)["date-in-the-future"]
    assert (finding.severity, finding.path) == ("warning", "reviewed")


def test_an_overruling_in_the_future_is_warned_of(folder):
    tomorrow = dt.date.today() + NEXT
    more = (
        f'[[override]]\ndomain = "imprecision"\nstep = 0\nreason = "known"\nby = "T. Fell"\n'
        f"date = {tomorrow}\n"
    )
    recommendation(folder, "second", more)
    (finding,) = rules(folder)["date-in-the-future"]
    assert finding.path == "override[1].date"


def test_due_by_age_from_both_sides(folder):
    # Own rule: more than twelve months.
    library = open_library(folder)
    record = library.recommendations["lower"]
    mark = record.told.fingerprint
    assert not list(due_reasons(record, {"asked": mark}, today=dt.date(2025, 6, 1)))
    (reason,) = due_reasons(record, {"asked": mark}, today=dt.date(2025, 6, 2))
    assert "more than 12 months ago" in reason
    (finding,) = review_findings(
        library.recommendations, fingerprints={"asked": mark}, today=dt.date(2025, 6, 2)
    )
    assert (finding.severity, finding.rule) == ("note", "due-for-reading")


def test_due_by_new_evidence(folder):
    record = open_library(folder).recommendations["lower"]
    (reason,) = due_reasons(record, {"asked": "another"}, today=dt.date(2024, 7, 1))
    assert "not the same" in reason
    (reason,) = due_reasons(record, {}, today=dt.date(2024, 7, 1))
    assert reason == "there is no answer any more"
    study(folder, "fir", effect(0.5))
    assert any("not the same" in finding.message for finding in rules(folder)["due-for-reading"])


def test_the_check_and_the_review_call_the_same_due(folder):
    study(folder, "fir", effect(0.5))
    recommendation(folder, "never")
    library = open_library(folder)
    checked = {
        (finding.file, finding.message.removeprefix("due for reading again: "))
        for finding in library.check()
        if finding.rule == "due-for-reading"
    }
    reviewed = {
        (f"recommendations/{each.recommendation}.toml", reason)
        for each in library.review().reviews
        for reason in each.due
    }
    assert checked == reviewed
    assert len({file for file, _ in checked}) == 2


def test_what_one_person_read_is_noted_until_another_has(folder):
    assert {finding.file for finding in rules(folder)["read-once"]} == {
        f"studies/{name}.toml" for name in ("ash", "birch", "cedar", "elder")
    }
    path = folder / "studies" / "ash.toml"
    path.write_text(path.read_text() + 'checked_by = "T. Fell"\n', encoding="utf-8")
    assert "studies/ash.toml" not in {finding.file for finding in rules(folder)["read-once"]}


def test_a_broken_second_reading_is_told_and_stops_no_other(folder):
    place = folder / "second-readings"
    place.mkdir()
    (place / "ash.toml").write_text('id = "ash"\n', encoding="utf-8")
    found = rules(folder)
    assert {finding.file for finding in found["read-once"]} >= {"studies/birch.toml"}
    assert any(finding.severity == "fault" for each in found.values() for finding in each)
