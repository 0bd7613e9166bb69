"""A printed p in a record: what is read, and what is advised where it cannot be."""

from __future__ import annotations

from decimal import Decimal

import pytest
from pydantic import TypeAdapter, ValidationError

from steelyard.records.spread import ReportedP

P = TypeAdapter(ReportedP)


@pytest.mark.parametrize(
    ("printed", "kept"),
    [
        ("<0.05", "<0.05"),
        ("≤0.05", "<0.05"),
        ("<= 0.05", "<0.05"),
        ("<0,05", "<0.05"),
        ("< .001", "<.001"),
        ("≥0,1", ">0.1"),
        (Decimal("0.000001"), Decimal("0.000001")),
        (Decimal("0.05"), Decimal("0.05")),
    ],
)
def test_bounds_and_numbers(printed, kept):
    assert P.validate_python(printed) in (kept, printed)
    assert str(P.validate_python(printed)).replace(" ", "") == str(kept)


@pytest.mark.parametrize(
    ("printed", "message"),
    [
        (Decimal("0.000"), 'no p is exactly 0; write the bound, such as "<0.001"'),
        (Decimal("0.0000"), 'write the bound, such as "<0.0001"'),
        (0, 'write the bound, such as "<0.001"'),
        ("<0", "expected a bound of p between 0 and 1"),
        ("≤1,2", "expected a bound of p between 0 and 1"),
        ("<1.2", "expected a bound of p between 0 and 1"),
        ("ns", "words like"),
    ],
)
def test_what_is_no_p(printed, message):
    with pytest.raises(ValidationError) as refused:
        P.validate_python(printed)
    assert message in str(refused.value)
