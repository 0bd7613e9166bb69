"""Studies entered twice, samples told twice, and papers withdrawn, corrected or unreviewed."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest

from steelyard.judging.integrity import integrity_findings, suspect_results
from steelyard.records.record_set import load_records
from steelyard.records.study import Study
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


def two_arms(starts, ends):
    return "".join(
        result(arm, pre=f"{{ {start} }}", post=f"{{ {end} }}")
        for arm, start, end in zip(("slow", "usual"), starts, ends, strict=True)
    )


STARTS = ("mean = 212.0, sd = 41.5", "mean = 208.3, sd = 39.8")


@pytest.mark.parametrize(
    ("starts", "times"),
    [
        (STARTS, 1),
        (STARTS[::-1], 1),  # whichever arm comes first
        ((STARTS[0], "mean = 208.4, sd = 39.8"), 0),
        (("mean = 212, sd = 41", "mean = 208, sd = 39"), 1),
        (("mean = 21, sd = 4", "mean = 20, sd = 4"), 0),  # too few digits
    ],
)
def test_the_same_start_in_both_arms(tmp_path, starts, times):
    first = starts if "208.4" not in starts[1] else STARTS
    study(tmp_path, "a", two_arms(first, ("mean = 236.4, sd = 44.0", "mean = 219.9, sd = 42.1")))
    study(tmp_path, "b", two_arms(starts, ("mean = 240.1, sd = 43.3", "mean = 225.6, sd = 42.9")))
    found = [finding for finding in findings(tmp_path) if finding.rule == "shared-sample"]
    assert len(found) == times
    if found:
        assert found[0].study == "b"
        assert "two arms start at the values printed in 'a'" in found[0].message


def test_the_same_start_of_one_arm_is_not_enough(tmp_path):
    study(tmp_path, "a", two_arms(STARTS, ("mean = 236.4, sd = 44.0", "mean = 219.9, sd = 42.1")))
    other = (STARTS[0], "mean = 199.9, sd = 33.3")
    study(tmp_path, "b", two_arms(other, ("mean = 236.4, sd = 44.0", "mean = 225.6, sd = 42.9")))
    assert not [finding for finding in findings(tmp_path) if finding.rule == "shared-sample"]


def test_drawn_studies_share_no_sample(tmp_path):
    """400 studies of one test in one unit, of like means and SDs."""
    random = np.random.default_rng(8)
    studies = {}
    for number in range(400):
        cells = [
            {
                "mean": Decimal(f"{random.normal(100, 15):.1f}"),
                "sd": Decimal(f"{random.uniform(15, 30):.1f}"),
            }
            for _ in range(4)
        ]
        rows = [
            {"outcome": "peak", "arm": arm, "week": 12, "pre": cells[at], "post": cells[at + 1]}
            for at, arm in ((0, "slow"), (2, "usual"))
        ]
        studies[f"drawn-{number}"] = Study.model_validate(
            {
                "schema": 1,
                "id": f"drawn-{number}",
                "source": {"title": f"Drawn study {number}"},
                "design": {"kind": "parallel"},
                "arm": [{"id": "slow", "n": 14}, {"id": "usual", "n": 14}],
                "outcome": [{"id": "peak", "construct": "strength", "unit": "kg"}],
                "result": rows,
            }
        )
    found = [f for f in integrity_findings(studies) if f.rule == "shared-sample"]
    assert not found


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
