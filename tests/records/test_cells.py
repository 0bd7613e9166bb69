"""Messy cells: what is understood, and what is refused rather than guessed.

Expected values are the cells' own digits, read by the rules of the import table; no outside
source is needed for them.
"""

from __future__ import annotations

import time
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steelyard.records.cells import CellError, DecimalMarks, decimal_marks, is_blank, parse_number

POINT = DecimalMarks(point=True)
COMMA = DecimalMarks(comma=True)
BOTH = DecimalMarks(comma=True, point=True)


@pytest.mark.parametrize(
    ("cell", "printed"),
    [
        ("12", "12"),
        ("3.40", "3.40"),
        ("12,5", "12.5"),
        ("0,123", "0.123"),
        ("−12.5", "-12.5"),
        ("–12.5", "-12.5"),
        ("- 12.5", "-12.5"),
        ("+4", "4"),
        (".5", "0.5"),
        ("−,5", "-0.5"),
        (" \ufeff12.5 ", "12.5"),
        ("12\u00a0345", "12345"),
        ("1\u2009234\u2009567,25", "1234567.25"),
        ("1\u202f234,567", "1234.567"),
        ("1'234.5", "1234.5"),
        ("1’234", "1234"),
        ("1,234.5", "1234.5"),
        ("1.234,50", "1234.50"),
        ("1,234,567", "1234567"),
        ("1.234.567", "1234567"),
        ("12345,678", "12345.678"),
        ("1,2345", "1.2345"),
        ("1.2e-3", "0.0012"),
        ("1,2E3", "1.2E+3"),
        ("0.0", "0.0"),
    ],
)
def test_numbers_that_can_be_read_one_way(cell, printed):
    number = parse_number(cell, marks=POINT)
    assert str(number.value) == printed
    assert number.spread is None and not number.percent


@pytest.mark.parametrize(
    ("cell", "value", "spread"),
    [
        ("12.5 ± 3.1", "12.5", "3.1"),
        ("12,50±3,10", "12.50", "3.10"),
        ("−0.4 +/- 0.25", "-0.4", "0.25"),
        ("12.5 +- 3", "12.5", "3"),
        ("12.5 (3.1)", "12.5", "3.1"),
        ("12,5\u00a0(3,1)", "12.5", "3.1"),
        ("1,250.0 ± 3.1", "1250.0", "3.1"),
    ],
)
def test_a_mean_with_its_spread(cell, value, spread):
    number = parse_number(cell, marks=POINT)
    assert (str(number.value), str(number.spread)) == (value, spread)


@pytest.mark.parametrize("cell", ["12.5%", "12.5 %", "12,5\u202f%", "12.5 ± 3.1%", "12.5% (3.1%)"])
def test_a_percent_sign_is_told_and_the_number_kept_as_printed(cell):
    number = parse_number(cell, marks=POINT)
    assert number.percent and number.value == Decimal("12.5")


@pytest.mark.parametrize(
    "cell", ["", " ", "\u00a0", "\ufeff", "-", "–", "—", "NR", "n/a", "N/A", "NA", "Not reported"]
)
def test_not_reported(cell):
    assert is_blank(cell)
    assert parse_number(cell, marks=POINT) is None


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("12.5²", "superscripts"),
        ("12.5ª", "superscripts"),
        ("12.5*", "footnote"),
        ("12.5 kg", "expected a number"),
        ("12–15", "expected a number"),
        ("12-15", "expected a number"),
        ("10 120", "without spaces"),
        ("1,23.4", "one decimal mark"),
        ("1.2.3", "one decimal mark"),
        ("12,34,567", "one decimal mark"),
        ("12.5 ± 3.1 ± 2", "mean ± SD"),
        ("± 3.1", "mean ± SD"),
        ("12.5 ±", "mean ± SD"),
        ("12.5 (−3.1)", "SD above 0"),
        ("19 (45%)", "not a count with its percentage"),
        ("12.5 (10.1 to 14.9)", "expected a number"),
        ("(12.5)", "expected a number"),
        ("<0.05", "expected a number"),
        ("nan", "expected a number"),
        ("inf", "expected a number"),
        ("1e999", "expected a number"),
        ("#N/A", "footnote marks"),
        ("١٢", "expected a number"),
        ("5.", "expected a number"),
        ("1_000", "expected a number"),
        ("9" * 40, "expected a number"),
        ("1" + " " * 190_000 + "2", "found 190,002 characters"),
    ],
)
def test_refused_with_what_was_expected(cell, expected):
    with pytest.raises(CellError, match=expected):
        parse_number(cell, marks=POINT)


@pytest.mark.parametrize(
    ("cell", "marks", "value"),
    [
        ("1,234", COMMA, "1.234"),
        ("1.234", POINT, "1.234"),
        ("-1,234", COMMA, "-1.234"),
        ("1,234", POINT, None),
        ("1,234", BOTH, None),
        ("1.234", COMMA, None),
        ("1.234", BOTH, None),
        ("1.234", DecimalMarks(), None),
        ("12.5", COMMA, "12.5"),
        ("12,5", POINT, "12.5"),
    ],
)
def test_what_could_be_thousands_is_settled_by_the_rest_of_the_file(cell, marks, value):
    if value is None:
        with pytest.raises(CellError, match=r"this could be 1234 or 1\.234"):
            parse_number(cell, marks=marks)
    else:
        assert str(parse_number(cell, marks=marks).value) == value


@pytest.mark.parametrize(
    ("cells", "semicolons", "comma", "point"),
    [
        (["12,5", "1,234"], False, True, False),
        (["12.5"], False, False, True),
        (["12.5", "3,1"], False, True, True),
        (["1.234"], False, False, True),
        (["1.234"], True, False, False),
        (["12.5"], True, False, True),
        (["1.234,5"], True, True, False),
        (["212,0 ± 31,5"], True, True, False),
        (["1,234", "2,345"], False, False, True),
        ([], False, False, True),
    ],
)
def test_decimal_marks_of_a_file(cells, semicolons, comma, point):
    assert decimal_marks(cells, semicolons=semicolons) == DecimalMarks(comma, point)


PRINTED = st.decimals(
    min_value=-(10**9), max_value=10**9, places=2, allow_nan=False, allow_infinity=False
)


@given(PRINTED)
def test_a_number_written_with_a_point_or_a_comma_is_the_same_number(number):
    text = f"{number:f}"
    assert str(parse_number(text, marks=POINT).value) == text
    with_comma = text.replace(".", ",").replace("-", "−")
    assert parse_number(with_comma, marks=COMMA).value == number


@given(PRINTED)
def test_thousands_separators_with_a_decimal_mark_change_nothing(number):
    english = f"{number:,.2f}"
    continental = english.translate(str.maketrans(",.", ".,"))
    spaced = english.replace(",", "\u202f")
    for text in (english, continental, spaced):
        for marks in (POINT, COMMA, BOTH):
            assert parse_number(text, marks=marks).value == number


@given(st.text(max_size=30) | st.text("0123456789.,±()-−%eE \u2009'", max_size=15))
def test_any_text_is_a_number_or_blank_or_refused(text):
    try:
        number = parse_number(text, marks=POINT)
    except CellError as error:
        assert str(error).startswith("expected")
    else:
        assert number is None or number.value.is_finite()


@pytest.mark.parametrize("cell", ["1{}", "1{}2", "{}"])
def test_marks_are_looked_for_in_proportion_to_length(cell):
    def seconds(length: int) -> float:
        took = []
        for _ in range(3):
            start = time.perf_counter()
            decimal_marks([cell.format("." * length)])
            took.append(time.perf_counter() - start)
        return min(took)

    seconds(1_000)
    # Ten times the length: in proportion is 10, by the square 100.
    assert seconds(40_000) < 40 * max(seconds(4_000), 1e-4)
