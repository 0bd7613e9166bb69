"""What is not understood in a table is listed by row and column, all at once."""

from __future__ import annotations

import os
from decimal import Decimal

import pytest

from steelyard.errors import UsageError
from steelyard.records.tables import read_table
from steelyard.records.tables.sheets import LARGEST_TABLE_BYTES, MOST_ROWS
from tests.records.example_tables import ARMS, COMPARISONS, said, semicolons


@pytest.mark.parametrize(
    ("old", "new", "problems"),
    [
        (",212.0,", ",abc,", ["row 2, column pre_mean: expected a number, found 'abc'"]),
        (
            ",18,Knee",
            ",1,Knee",
            ["row 2, column n: expected a whole number of people, 2 or more, found 1"],
        ),
        (
            ",18,Knee",
            ",10000000,Knee",
            [
                "row 2, column n: expected a whole number of people, 2 or more and at most "
                "1,000,000, found 10000000"
            ],
        ),
        (
            ",Usual,",
            ",Us\x1bual,",
            [
                "row 3, column arm: expected text without control characters, found U+001B at "
                "character 3"
            ],
        ),
        (",31.5,", ",0,", ["row 2, column pre_sd: expected a number above 0, found 0"]),
        (
            ",0.87,",
            ",1.87,",
            ["row 2, column r: expected a correlation between −1 and 1, found 1.87"],
        ),
        (
            ",0.87,",
            ",87%,",
            ["row 2, column r: expected a number without a percent sign, found '87%'"],
        ),
        (
            ",N,12,",
            ",N,,",
            ["row 2, column week: expected a value, found none: this column may not be blank"],
        ),
        (",212.0,", ",,", ["row 2, column pre_mean: expected a mean or a median, found neither"]),
        (",yes,", ",maybe,", ["row 2, column randomised: expected yes or no, found 'maybe'"]),
        (",2019,yes", ",1019,yes", ["row 2, column year: expected at least 1800, found 1019"]),
        (",2019,yes", ",2019.5,yes", ["row 2, column year: expected a whole number, found 2019.5"]),
        (
            ",Usual,usual,19,",
            ",Usual,usual,,",
            ["row 3, column n: expected n here or in the arm, found neither"],
        ),
        (
            ",Usual,",
            ",Added,",
            [
                "row 3, column tags: expected 'slow-lowering' as in row 2, found 'usual'",
            ],
        ),
        (
            "knee flexion,,",
            "knee flexion,size,",
            ["row 3, column construct: expected 'strength' as in row 2, found 'size'"],
        ),
        (
            "Fell 2019,,,,,",
            "Fell 2019,Other,,2020,,",
            [
                "row 3, column title: expected 'Slow lowering' as in row 2, found 'Other'",
                "row 3, column year: expected 2019 as in row 2, found 2020",
            ],
        ),
        (
            "Oxmere & Fell 2019,,",
            "Oxmere Fell (2019),,",
            [
                "row 3, column study: expected one way of writing it, found 'Oxmere Fell (2019)' "
                "here and 'Oxmere & Fell 2019' in row 2: both would be 'oxmere-fell-2019'"
            ],
        ),
        (
            ",Table 2\n",
            ",Table 2,12,5\n",
            [
                "row 2: expected 19 cells as in the header, found 21: does a number or a text "
                "hold the character that parts the columns?"
            ],
        ),
    ],
)
def test_what_is_not_understood_is_listed_by_row_and_column(table, old, new, problems):
    assert old in ARMS
    imported = table(ARMS.replace(old, new, 1))
    assert said(imported) == problems
    assert imported.studies == ()


def test_every_problem_is_listed_at_once_and_sound_studies_stand(table):
    rows = ARMS.splitlines()
    other = [row.replace("Oxmere & Fell 2019", "Brae 2021") for row in rows[1:]]
    broken = [
        rows[1].replace("212.0", "?").replace(",18,", ",x,"),
        rows[2].replace("30.5", "n = 3"),
    ]
    imported = table("\n".join([rows[0], *broken, *other]))
    assert [problem.path for problem in imported.problems] == [
        "row 2, column n",
        "row 2, column pre_mean",
        "row 3, column pre_sd",
    ]
    assert [study.id for study in imported.studies] == ["brae-2021"]


def test_the_same_measurement_twice_is_a_problem_of_both_rows(table):
    rows = ARMS.splitlines()
    imported = table("\n".join([*rows, rows[1]]))
    assert [(problem.path, problem.rule) for problem in imported.problems] == [
        ("row 2", "duplicate-result"),
        ("row 4", "duplicate-result"),
    ]


def test_a_number_that_could_be_two_is_refused_and_settled_by_the_rest_of_the_file(table):
    (problem,) = table(ARMS.replace(",212.0,", ',"1,212",')).problems
    assert problem.path == "row 2, column pre_mean" and "1212 or 1.212" in problem.message
    imported = table(semicolons(ARMS).replace(";212,0;", ";1,212;"))
    assert imported.studies[0].results[0].pre.mean == Decimal("1.212")


@pytest.mark.parametrize(
    ("old", "new", "path", "message"),
    [
        ("effect_ci_high,", "", "row 2", "expected 14 cells"),
        (",23.2,", ",,", "row 2, column effect_ci_high", "both ends of the interval"),
        (",23.2,", ",2.2,", "row 2, column effect", "expected ci95 as [low, high]"),
        (",raw,", ",correlation,", "row 2, column metric", "expected one of raw, standardised"),
        (",raw,12.1", ",risk ratio,12%", "row 2, column effect", "without a percent sign"),
        (",raw,12.1", ",raw,12 ± 1", "row 2, column effect", "expected one number"),
        ("Slow,Usual", "Usual,Usual", "row 2, column comparator_tags", "as elsewhere"),
        (",raw,12.1", ",raw,", "row 2, column effect", "may not be blank"),
    ],
)
def test_problems_of_comparisons(table, old, new, path, message):
    assert old in COMPARISONS
    problems = table(COMPARISONS.replace(old, new, 1)).problems
    assert problems and problems[0].path.startswith(path) and message in problems[0].message


@pytest.mark.parametrize(
    ("header", "message"),
    [
        ("a,b,c", "expected a header row with study, outcome"),
        ("study,arm,intervention,outcome,construct,week", "put them in two files"),
        ("study,arm,outcome,week", "expected a column 'construct', found none"),
        ("study,arm,outcome,constrct,week", "is 'constrct' meant for it?"),
        ("study,arm,outcome,construct,week,week", "found week twice"),
        ("study,arm,outcome,construct,week,pre_maen", "did you mean 'pre_mean'?"),
        ("study,arm,outcome,construct,week", "expected rows of results below the header"),
    ],
)
def test_a_header_that_does_not_fit(table, header, message):
    imported = table(header + ("\n" + "x," * 5 if "below" not in message else ""))
    assert any(message in problem.message for problem in imported.problems)
    assert imported.studies == ()


@pytest.mark.parametrize("header", ["a,b,c", "study,arm,week"])
def test_the_needed_columns_are_named_once(table, header):
    messages = " / ".join(problem.message for problem in table(f"{header}\nx,x,x").problems)
    assert messages.count("needs the columns study, arm, outcome, construct, week") == 1


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "found no text"),
        (b"\n\n , \n", "found no text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00", "binary data"),
        (b"\xff\xfe\x00", "binary data"),
        (ARMS.replace("Slow lowering", '"Slow').encode(), "quotation marks cannot be followed"),
    ],
)
def test_what_is_no_table(table, content, message):
    (problem,) = table(content).problems
    assert message in problem.message and problem.file == "table.csv"


def test_limits_give_one_clear_message(table, tmp_path):
    header, row, _ = ARMS.splitlines()
    (problem,) = table("\n".join([header] + [row] * (MOST_ROWS + 1))).problems
    assert "at most 10,000 rows" in problem.message
    with (tmp_path / "large.csv").open("wb") as stream:
        stream.truncate(LARGEST_TABLE_BYTES + 1)
    (problem,) = read_table(tmp_path / "large.csv").problems
    assert "at most 50,000,000 bytes" in problem.message


def test_files_of_another_kind(tmp_path):
    with pytest.raises(UsageError, match=r"expected one of \.csv, \.xlsx"):
        read_table(tmp_path / "table.ods")
    with pytest.raises(UsageError, match="there is no file"):
        read_table(tmp_path / "table.csv")
    (tmp_path / "folder.csv").mkdir()
    (problem,) = read_table(tmp_path / "folder.csv").problems
    assert "found a directory" in problem.message


def test_a_pipe_by_the_name_of_a_table(tmp_path):
    path = tmp_path / "pipe.csv"
    os.mkfifo(path)
    (problem,) = read_table(path).problems
    assert "expected a file, found a named pipe" in problem.message


@pytest.mark.parametrize("header", ["pre", "Pre", "PRE "])
def test_a_bare_stage_holds_its_mean(table, header):
    text = ARMS.replace("pre_mean", header)
    (study,) = table(text).studies
    assert [result.pre.mean for result in study.results] == [Decimal("212.0"), Decimal("210.0")]


def test_a_bare_stage_beside_its_mean_is_kept_as_a_note(table):
    text = ARMS.replace("pre_mean", "pre,pre_mean").replace(",212.0,", ",high,212.0,")
    text = text.replace(",210.0,", ",low,210.0,")
    imported = table(text)
    assert not imported.problems
    assert imported.studies[0].results[0].pre.mean == Decimal("212.0")
