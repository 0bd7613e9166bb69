"""The evidence fingerprint: blind to layout, awake to every number that counts."""

from __future__ import annotations

import re

import pytest

from steelyard import open_library
from steelyard.records.fingerprint import fingerprint
from tests.small_library import question, result, study

BODY = result(
    "slow", n="18", pre="{ mean = 10.0, sd = 2.1 }", post="{ mean = 12.5, sd = 2.2 }", r=0.8
) + result("usual", n="19", pre="{ mean = 10.1, sd = 2.0 }", post="{ mean = 11.0, sd = 2.3 }")


@pytest.fixture
def folder(tmp_path):
    study(tmp_path, "one", BODY)
    question(tmp_path, more="smallest_worthwhile = 0.14")
    return tmp_path


def mark(folder):
    (found,) = open_library(folder).fingerprints()
    assert found == open_library(folder).weigh("asked").fingerprint
    return found


def change(folder, old, new, *, file="studies/one.toml"):
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("schema = 1", "# a comment\nschema   =   1\n\n"),
        ('kind = "parallel"\nrandomised = true', 'randomised = true\nkind = "parallel"'),
        ("{ mean = 10.0, sd = 2.1 }", "{ sd = 2.1, mean = 10.0 } # as printed"),
    ],
)
def test_layout_does_not_count(folder, old, new):
    before = mark(folder)
    change(folder, old, new)
    assert mark(folder) == before


def test_the_order_of_results_does_not_count(folder):
    before = mark(folder)
    path = folder / "studies" / "one.toml"
    head, one, other = path.read_text(encoding="utf-8").split("[[result]]")
    path.write_text("[[result]]".join([head, other, one]), encoding="utf-8")
    assert mark(folder) == before


def test_empty_tables_do_not_count(folder):
    before = mark(folder)
    change(folder, "[[arm]]", "[population]\n[[arm]]")
    assert mark(folder) == before


NUMBERS = sorted({found.group() for found in re.finditer(r"\d+\.\d+", BODY)})


@pytest.mark.parametrize("number", NUMBERS)
def test_every_number_counts(folder, number):
    before = mark(folder)
    change(folder, number, f"{number}1")
    assert mark(folder) != before


@pytest.mark.parametrize(
    ("old", "new", "file"),
    [
        ("n = 18", "n = 17", "studies/one.toml"),
        ("week = 12", "week = 13", "studies/one.toml"),
        ('better = "higher"', 'better = "lower"', "studies/one.toml"),
        ("0.14", "0.15", "questions/asked.toml"),
        ("issued = 2020", 'status = "retracted"', "studies/one.toml"),
    ],
)
def test_what_else_counts(folder, old, new, file):
    library = open_library(folder)
    records = [library.questions["asked"], library.studies["one"]]
    before = fingerprint(records)
    change(folder, old, new, file=file)
    library = open_library(folder)
    assert fingerprint([library.questions["asked"], library.studies["one"]]) != before


def test_a_study_the_question_does_not_touch_does_not_count(folder):
    before = mark(folder)
    study(folder, "two", BODY)
    change(folder, 'tags = ["slow"]', 'tags = ["quick"]', file="studies/two.toml")
    assert mark(folder) == before
