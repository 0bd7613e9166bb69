"""Studies entered twice, samples told twice, and papers withdrawn, corrected or unreviewed."""

from __future__ import annotations

import pytest

from steelyard.judging.integrity import integrity_findings, suspect_results
from steelyard.records.record_set import load_records
from tests.small_library import result, study


def body(*cells):
    """One result per pair of mean and SD before and after."""
    return "".join(
        result("slow", week=week, pre=f"{{ {pre} }}", post=f"{{ {post} }}")
        for week, (pre, post) in enumerate(cells, 4)
    )


ONE = body(("mean = 101.3, sd = 20.4", "mean = 117.9, sd = 21.6"))
OTHER = body(("mean = 98.7, sd = 19.2", "mean = 111.2, sd = 20.3"))


def findings(folder):
    return integrity_findings(load_records(folder).studies)


@pytest.mark.parametrize(
    ("dois", "times"),
    [
        (("10.9999/abc.1", "https://doi.org/10.9999/ABC.1"), 1),
        (("10.9999/abc.1", "10.9999/abc.2"), 0),
        (("", ""), 0),
    ],
)
def test_same_doi_from_both_sides(tmp_path, dois, times):
    for name, doi, numbers in zip("ab", dois, (ONE, OTHER), strict=True):
        study(tmp_path, name, numbers, source_more=f'DOI = "{doi}"')
    found = [finding for finding in findings(tmp_path) if finding.rule == "same-doi"]
    assert len(found) == times
    if found:
        assert (found[0].file, found[0].path) == ("studies/b.toml", "source.DOI")
        assert "'a'" in found[0].message


def test_same_title_whatever_the_signs(tmp_path):
    study(tmp_path, "a", ONE)
    path = study(tmp_path, "b", OTHER)
    assert not [finding for finding in findings(tmp_path) if finding.rule == "same-title"]
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("Invented study b", "INVENTED: study “A”"), encoding="utf-8")
    (found,) = [finding for finding in findings(tmp_path) if finding.rule == "same-title"]
    assert found.study == "b"


@pytest.mark.parametrize(
    ("shared", "times"),
    [
        # Three cells alike, two alike, and three alike of too few digits.
        (("mean = 101.3, sd = 20.4", "mean = 117.9, sd = 21.6", "mean = 119.2, sd = 22.8"), 1),
        (("mean = 101.3, sd = 20.4", "mean = 117.9, sd = 21.6", None), 0),
        (("mean = 90, sd = 20", "mean = 91, sd = 22", "mean = 92, sd = 23"), 0),
    ],
)
def test_shared_numbers_from_both_sides(tmp_path, shared, times):
    for name in "ab":
        third = shared[2] or f"mean = 119.{ord(name) % 10}, sd = 22.1"
        rest = f"mean = 88.{ord(name) % 10}, sd = 17.3"
        study(tmp_path, name, body((shared[0], shared[1]), (rest, third)))
    found = [finding for finding in findings(tmp_path) if finding.rule == "shared-sample"]
    assert len(found) == times
    if found:
        assert found[0].study == "b"
        assert found[0].message.startswith("3 cells")


@pytest.mark.parametrize(
    ("status", "severity"),
    [("published", None), ("preprint", "note"), ("corrected", "note"), ("retracted", "warning")],
)
def test_status_of_the_paper(tmp_path, status, severity):
    study(tmp_path, "a", ONE, source_more=f'status = "{status}"\nstatus_note = "in 2021"')
    found = [finding for finding in findings(tmp_path) if finding.rule.startswith("paper-")]
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    assert all("in 2021" in finding.message for finding in found)
    assert not suspect_results(found)


def test_order_follows_the_studies(tmp_path):
    for name in "cab":
        study(tmp_path, name, ONE, source_more='status = "preprint"')
    files = [finding.file for finding in findings(tmp_path)]
    assert files == sorted(files)
