"""One box, typed as the paper prints it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steelyard.notebook.entry.cell import EXAMPLES, STYLES, in_words, read_cell, write_cell
from steelyard.records.cells import CellError, DecimalMarks
from steelyard.records.study import Spread

POINT = DecimalMarks(point=True)
D = Decimal

READ = [
    ("90.5 ± 4.16", "se", {"mean": D("90.5"), "se": D("4.16")}),
    ("90.50 (4.10)", "sd", {"mean": D("90.50"), "sd": D("4.10")}),
    ("90.5+/-4", "sd", {"mean": D("90.5"), "sd": D("4")}),
    ("12,5 ± 3,1", "sd", {"mean": D("12.5"), "sd": D("3.1")}),
    ("90.5", "sd", {"mean": D("90.5")}),
    ("90.5", "iqr", {"median": D("90.5")}),
    ("90.5 (82.1 to 98.9)", "ci95", {"mean": D("90.5"), "ci95": [D("82.1"), D("98.9")]}),
    ("90.5 [82.1, 98.9]", "ci90", {"mean": D("90.5"), "ci90": [D("82.1"), D("98.9")]}),
    ("90.5, 82.1–98.9", "ci99", {"mean": D("90.5"), "ci99": [D("82.1"), D("98.9")]}),
    ("90 (81-99)", "iqr", {"median": D("90"), "iqr": [D("81"), D("99")]}),
    ("5 (80,1; 90,2)", "range", {"median": D("5"), "range": [D("80.1"), D("90.2")]}),
    ("−1.2 (−3.4–−1.0)", "ci95", {"mean": D("-1.2"), "ci95": [D("-3.4"), D("-1.0")]}),
    ("90.5 (SE 4.16)", "sd", {"mean": D("90.5"), "se": D("4.16")}),
    ("90.5 SD 3.1", "se", {"mean": D("90.5"), "sd": D("3.1")}),
    ("90.5 (95% CI 82.1 to 98.9)", "sd", {"mean": D("90.5"), "ci95": [D("82.1"), D("98.9")]}),
    ("1\u2009234 ± 56", "sd", {"mean": D("1234"), "sd": D("56")}),
    ("1\u202f234\u2009±\u200956", "sd", {"mean": D("1234"), "sd": D("56")}),
    (
        "90.5\u2009(82.1\u2009to\u200998.9)",
        "ci95",
        {"mean": D("90.5"), "ci95": [D("82.1"), D("98.9")]},
    ),
    ("24 (SE 3.1; p 0.03)", "sd", {"mean": D("24"), "se": D("3.1"), "p": D("0.03")}),
    ("24 (p < 0.05)", "sd", {"mean": D("24"), "p": "<0.05"}),
    ("", "sd", None),
    ("–", "sd", None),
    ("n.r.", "sd", None),
]
REFUSED = [
    ("12.5 ± 3.1", "none", "set to have no spread"),
    ("12.5 ± 3.1", "ci95", "as two numbers"),
    ("12.5 (10 to 14)", "sd", "interval or a range"),
    ("12.5 ±", "sd", "spread"),
    ("± 3.1", "sd", "number"),
    ("12.5 ± 3.1 ± 2", "sd", "number"),
    ("12.5 ± 3.1*", "sd", "footnote"),
    ("12.5²", "sd", "superscripts"),
    ("12,500 ± 3", "sd", "one way"),
    ("12.5 – 3.1", "sd", "number"),
    ("1 2", "sd", "number"),
    ("1 234 ± 56", "sd", "without spaces"),
    ("12.5 ± −3.1", "sd", "above 0"),
    ("12.5 ± –14.1", "se", "above 0"),
    ("ns", "sd", "number"),
    ("24 (p ns)", "sd", "number"),
    ("<script>alert(1)</script>", "sd", "number"),
    ("x" * 10_000, "sd", "10,000 characters"),
]


@pytest.mark.parametrize(("text", "style", "expected"), READ)
def test_read_as_printed(text, style, expected):
    found = read_cell(text, style, marks=POINT)
    assert found == expected
    if found is not None:
        assert all(
            str(one) == str(other)
            for one, other in zip(found.items(), expected.items(), strict=True)
        )
        assert read_cell(write_cell(found, style), style, marks=POINT) == found
        assert str(next(iter(found.values()))) in in_words(found)


@pytest.mark.parametrize(("text", "style", "said"), REFUSED)
def test_refused_in_words(text, style, said):
    with pytest.raises(CellError, match=said):
        read_cell(text, style, marks=POINT)


@pytest.mark.parametrize("style", STYLES)
def test_each_example_reads_in_its_style(style):
    found = read_cell(EXAMPLES[style], style, marks=POINT)
    assert (style == "none") or style in found
    Spread.model_validate(found)


@given(st.text(max_size=200), st.sampled_from(sorted(STYLES)))
def test_anything_gives_a_value_or_a_message(text, style):
    try:
        found = read_cell(text, style, marks=POINT)
    except CellError as error:
        assert 0 < len(str(error)) < 600
    else:
        assert found is None or ("mean" in found) != ("median" in found)
