"""Every picture, in both widths: all its words are there, none cut off, none over another."""

from __future__ import annotations

import dataclasses
from xml.etree import ElementTree

import pandas as pd
import pytest

from steelyard.charts.wording import flags_in_words
from steelyard.errors import UsageError
from tests.charts.cases import BENT, CASES, bent
from tests.charts.drawn import collisions, cut_off, size, words

# Not words for the reader: keys, names of columns and the words of a fixed scale.
KEYS = {"kind", "form", "name", "column", "study", "recommendation", "certainty"}
MOST = {"page": 864, "phone": 358}
HOSTILE = '<script>alert("x")</script>&'


def reworded(value, change):
    """The same data with every text for the reader changed."""
    if isinstance(value, str):
        return change(value) if value else value
    if isinstance(value, tuple):
        return tuple(reworded(part, change) for part in value)
    if isinstance(value, pd.DataFrame):
        texts = [
            column
            for column in value.columns
            if column not in KEYS and value[column].map(lambda cell: isinstance(cell, str)).any()
        ]
        return value.assign(
            **{column: [reworded(cell, change) for cell in value[column]] for column in texts}
        )
    if dataclasses.is_dataclass(value):
        return dataclasses.replace(
            value,
            **{
                field.name: reworded(getattr(value, field.name), change)
                for field in dataclasses.fields(value)
                if field.name not in KEYS
            },
        )
    return value


def texts_of(value) -> set[str]:
    found: set[str] = set()
    reworded(value, lambda text: found.add(text) or text)
    return found


@pytest.mark.parametrize("width", ["page", "phone"])
@pytest.mark.parametrize("case", CASES)
def test_nothing_is_cut_off_or_written_over(case, width):
    draw, data = CASES[case]
    svg = draw(data(), width=width).svg
    assert size(svg)[0] == MOST[width]
    assert not cut_off(svg)
    assert not collisions(svg)


@pytest.mark.parametrize("width", ["page", "phone"])
@pytest.mark.parametrize("case", BENT)
def test_unusual_data_are_drawn(case, width):
    draw, make, changes = BENT[case]
    svg = draw(bent(make, **changes), width=width).svg
    assert not cut_off(svg)
    assert not collisions(svg)
    assert '"nan' not in svg and ">nan" not in svg
    assert ("lies further" in words(svg)) == ("far out" in case)


@pytest.mark.parametrize("case", CASES)
def test_every_text_is_drawn_or_told(case):
    draw, make = CASES[case]
    data = make()
    svg = draw(data).svg
    drawn = words(svg)
    told = ElementTree.fromstring(svg)[1].text
    # Said only where a bar is cut; what a count or words are put into has gaps.
    for text in texts_of(data) - {getattr(data, "cut_words", "")}:
        missing = [word for word in text.split() if word not in drawn and "{" not in word]
        assert not missing or flags_in_words(text) in told, text
    assert ElementTree.fromstring(svg).get("aria-label") == data.title
    assert data.subtitle in told and all(note in told for note in data.notes)


@pytest.mark.parametrize("width", ["page", "phone"])
@pytest.mark.parametrize("case", CASES)
def test_long_words_still_fit(case, width):
    draw, make = CASES[case]
    data = reworded(make(), lambda text: f"{text} and a good deal more that was to be said")
    svg = draw(data, width=width).svg
    assert not cut_off(svg)
    assert not collisions(svg)


@pytest.mark.parametrize("case", CASES)
def test_markup_is_escaped(case):
    draw, make = CASES[case]
    data = reworded(make(), lambda text: f"{HOSTILE} {text}")
    svg = draw(data).svg
    assert "<script" not in svg and "&lt;script" in svg
    assert ElementTree.fromstring(svg)[0].text == data.title


@pytest.mark.parametrize("case", CASES)
def test_same_data_same_picture_without_ids(case):
    draw, make = CASES[case]
    svg = draw(make()).svg
    assert svg == draw(make()).svg
    assert "url(" not in svg and " id=" not in svg
    assert ">nan" not in svg and '"nan' not in svg


@pytest.mark.parametrize("case", CASES)
def test_unknown_width_is_refused(case):
    draw, make = CASES[case]
    with pytest.raises(UsageError, match="'page' or 'phone', not 'poster'"):
        draw(make(), width="poster")
