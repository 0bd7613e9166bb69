"""A dose in words."""

from __future__ import annotations

from decimal import Decimal

from steelyard.notebook.dose_words import dose_in_words
from steelyard.records.recommendation import RecommendedDose
from steelyard.records.study import Dose


def test_ranges_units_and_single_numbers():
    dose = RecommendedDose(
        sessions_per_week=[1, 1], sets=[2, 3], rest_s=[90, 90], notes="light at first"
    )
    expected = "1 session a week, 2 to 3 sets, 90 s rest between sets, light at first"
    assert dose_in_words(dose) == expected


def test_a_number_is_written_as_printed():
    assert dose_in_words(Dose(lowering_s=Decimal("1.50"))) == "lowering for 1.50 s"


def test_ten_is_not_one():
    assert dose_in_words(Dose(sets_per_week=Decimal(11))) == "11 sets a week"


def test_nothing_given_is_nothing_said():
    assert dose_in_words(Dose()) == ""
