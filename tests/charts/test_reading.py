"""A reading chart shows every outcome of its study."""

from __future__ import annotations

import dataclasses

import pytest

from steelyard.charts import reading_chart, reading_picture, to_svg
from steelyard.charts.wording import flags_in_words
from tests.charts.drawn import collisions, cut_off, lines, words


@pytest.mark.parametrize("width", ["page", "phone"])
def test_every_outcome_and_word_is_drawn(invented_reading, width):
    data = invented_reading()
    svg = reading_picture(data, width=width).svg
    drawn = words(svg)
    assert not cut_off(svg) and not collisions(svg)
    for flags in data.rows["flags"]:
        for flag in flags.split("; "):
            assert flags_in_words(flag) in drawn
    for column in ("outcome", "construct", "printed"):
        for text in data.rows[column]:
            assert text in drawn
    assert data.left_words in drawn
    assert data.notes[0] in drawn


def test_without_a_zone(invented_reading):
    data = dataclasses.replace(invented_reading(), zone=None)
    drawn = words(reading_picture(data).svg)
    assert "equal" in drawn
    assert "too small to matter" not in drawn


def test_both_writers_draw_the_same(invented_reading):
    data = invented_reading()
    still, rendered = reading_picture(data).svg, to_svg(reading_chart(data))
    assert sorted(line.text for line in lines(still)) == sorted(
        line.text for line in lines(rendered)
    )
