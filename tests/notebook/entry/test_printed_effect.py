"""The boxes for a printed effect and its p: anything typed gives a value or a message."""

from __future__ import annotations

from decimal import Decimal
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steelyard.notebook.entry.comparisons import read_p
from steelyard.notebook.entry.fields import FieldReader
from steelyard.notebook.entry.printed_effect import (
    EFFECT_EXAMPLES,
    EFFECT_STYLES,
    EFFECTS,
    RATIO_EXAMPLE,
    RATIOS,
    effect_text,
    read_effect,
)
from steelyard.records.cells import CellError, DecimalMarks
from steelyard.records.study import ReportedEffect

POINT = DecimalMarks(point=True)
TYPED = st.one_of(st.text(max_size=150), st.text("0123456789.,±()–-− tpSEDCI%<>=²", max_size=40))


@given(TYPED, st.sampled_from(sorted({*EFFECTS, *RATIOS})), st.sampled_from(sorted(EFFECT_STYLES)))
def test_any_effect_is_a_value_or_a_message(text, kind, style):
    try:
        found = read_effect({"kind": kind, "style": style, "text": text}, marks=POINT)
    except CellError as error:
        assert 0 < len(str(error)) < 600
    else:
        assert found is None or (found.kind in EFFECTS and found.values["value"].is_finite())


@given(TYPED)
def test_any_p_is_a_value_or_a_message(text):
    read = FieldReader(POINT)
    found = read_p(read, "p", text)
    assert len(read.problems) <= 1
    if found is not None:
        assert 0 <= Decimal(str(found).lstrip("<>")) <= 1 and not read.problems


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0.03", Decimal("0.03")),
        ("p = 0,030", Decimal("0.030")),
        ("< .05", "<0.05"),
        ("P<0.001", "<0.001"),
        ("> 0.10", ">0.10"),
        ("n.r.", None),
    ],
)
def test_p_as_papers_print_it(text, expected):
    read = FieldReader(DecimalMarks())
    found = read_p(read, "p", text)
    assert str(found) == str(expected) and read.problems == []


@pytest.mark.parametrize("style", EFFECT_STYLES)
def test_each_example_reads_in_its_style_and_back(style):
    effect = {"kind": "difference", "style": style, "text": EFFECT_EXAMPLES[style]}
    found = read_effect(effect, marks=POINT)
    ReportedEffect.model_validate(found.values)
    again = read_effect(effect | {"text": effect_text(found.values, style)}, marks=POINT)
    assert again == found


def test_a_ratio_loses_nothing_that_was_printed():
    effect = {"kind": "odds_ratio", "style": "ci95", "text": RATIO_EXAMPLE}
    found = read_effect(effect, marks=POINT)
    assert found.kind == "log_odds_ratio"
    # Half a unit in the fourth decimal, since two are printed and two more are kept.
    for kept, printed in zip(
        (found.values["value"], *found.values["ci95"]), (1.25, 1.05, 1.49), strict=True
    ):
        assert float(kept) == pytest.approx(log(printed), abs=5e-5)
