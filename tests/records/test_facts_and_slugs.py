"""Ids and authors from the words people write."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steelyard.records.slugs import slug
from steelyard.records.tables.facts import NotUnderstood, people


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Oxmere & Fell 2019", "oxmere-fell-2019"),
        ("  Oxmere &  Fell, 2019 ", "oxmere-fell-2019"),
        ("Ødegård 2020a", "odegard-2020a"),
        ("Straße", "strasse"),
        ("O'Fell", "ofell"),
        ("1RM", "1rm"),
        ("muscle_size", "muscle-size"),
    ],
)
def test_ids(text, expected):
    assert slug(text, kind="study") == expected


def test_texts_without_a_latin_letter_get_ids_of_their_own():
    one, two = slug("研究", kind="study"), slug("論文", kind="study")
    assert one != two and one.startswith("study-")
    assert slug("研究", kind="study") == one


def test_long_texts_that_begin_alike_get_ids_of_their_own():
    one, two = slug("a" * 200, kind="study"), slug("a" * 201, kind="study")
    assert one != two and len(one) == len(two) == 80


@given(st.text(max_size=200))
def test_any_text_gives_an_id_a_record_accepts(text):
    assert re.fullmatch(r"[a-z0-9][a-z0-9-]{0,79}", slug(text, kind="study"))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Oxmere, A.; Fell, B.", [("Oxmere", "A."), ("Fell", "B.")]),
        ("Oxmere, A. and Fell, B.", [("Oxmere", "A."), ("Fell", "B.")]),
        ("Oxmere & Fell", [("Oxmere", None), ("Fell", None)]),
        ("Tarnside Rowing Club", [("Tarnside Rowing Club", None)]),
        ("Oxmere, A.;", [("Oxmere", "A.")]),
    ],
)
def test_authors(text, expected):
    found = [(p.get("family") or p.get("literal"), p.get("given")) for p in people(text)]
    assert found == expected


def test_authors_parted_by_commas_are_refused():
    with pytest.raises(NotUnderstood, match="expected authors such as"):
        people("Oxmere, A., Fell, B.")
