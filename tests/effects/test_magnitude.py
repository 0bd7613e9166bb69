"""What a table of words may be used for, and what it refuses."""

from __future__ import annotations

import pytest

from steelyard.effects.magnitude import (
    ANY_FIELD,
    BETWEEN_PROGRAMMES,
    CHANGE,
    CORRELATION,
    CORRELATIONS,
    DIFFERENCE,
    RHEA,
)
from steelyard.errors import DesignError

TABLES = (BETWEEN_PROGRAMMES, *RHEA.values(), ANY_FIELD, CORRELATIONS)


@pytest.mark.parametrize("table", RHEA.values(), ids=list(RHEA))
def test_a_scale_of_gains_says_nothing_of_a_difference_between_programmes(table):
    with pytest.raises(DesignError) as refused:
        table.word(0.6, of=DIFFERENCE)
    told = str(refused.value)
    assert f"{table.name} holds for a change inside one group, not for a difference" in told
    assert "by practice and time too" in told


@pytest.mark.parametrize(
    ("table", "of"),
    [
        (BETWEEN_PROGRAMMES, CHANGE),
        (BETWEEN_PROGRAMMES, CORRELATION),
        (RHEA["untrained"], CORRELATION),
        (ANY_FIELD, CORRELATION),
        (CORRELATIONS, DIFFERENCE),
        (CORRELATIONS, CHANGE),
        (CORRELATIONS, "anything else"),
    ],
)
def test_a_table_is_asked_only_of_what_it_holds_for(table, of):
    with pytest.raises(DesignError, match=f"not for {of}"):
        table.named(0.4, of=of)


def test_trained_people_have_no_scale_of_gains():
    """A study's ``trained`` may mean recreationally or highly trained."""
    assert set(RHEA) == {"untrained", "recreational", "highly-trained"}


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_table_rises_and_says_what_it_is(table):
    edges = [cut.at for cut in table.cuts]
    assert edges == sorted(set(edges)) and edges[0] > 0
    assert all((table.name, table.about, table.sourced, table.why))
    (of, *_) = table.applies_to
    assert table.named(0.0, of=of) == f"{table.below} ({table.name})"
    with pytest.raises(DesignError, match="NaN"):
        table.word(float("nan"), of=of)
