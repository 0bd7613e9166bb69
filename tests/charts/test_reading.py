"""A reading chart shows every outcome of its study."""

from __future__ import annotations

import dataclasses
import math

import pytest

from steelyard.charts import reading_chart, reading_picture, to_svg
from steelyard.charts.wording import flags_in_words
from tests.charts.drawn import circles, collisions, cut_off, lines, words


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
    for panel in data.panels:
        for words_of in (panel.left_words, panel.right_words, panel.axis_title):
            assert words_of in drawn
        assert f"too small to matter: {panel.zone_words}" in drawn
    assert data.notes[0] in drawn


@pytest.mark.parametrize("width", ["page", "phone"])
def test_each_panel_stands_on_its_own_scale(invented_reading, width):
    """The ticks of both scales, and every estimate at its place on its own: −0.05 SD left of no
    effect, 0.6 times the risk left of 1."""
    data = invented_reading()
    svg = reading_picture(data, width=width).svg
    at = {line.text: line for line in lines(svg)}
    discs = circles(svg)
    assert len(discs) == len(data.rows) - 1  # one lies beyond the edge, and says so
    assert {"+0.5", "0", "0.5", "1"} <= set(at)
    half = (at["0.5"].x - at["1"].x) / math.log(0.5)
    assert discs[-1].x == pytest.approx(at["1"].x + half * math.log(0.6), abs=0.5)
    assert discs[4].x < at["0"].x < discs[0].x


def test_without_a_zone(invented_reading):
    data = invented_reading()
    panels = tuple(dataclasses.replace(panel, zone=None) for panel in data.panels)
    data = dataclasses.replace(data, panels=panels)
    drawn = words(reading_picture(data).svg)
    assert "equal" in drawn
    assert "too small to matter" not in drawn


def test_both_writers_draw_the_same(invented_reading):
    data = invented_reading()
    still, rendered = reading_picture(data).svg, to_svg(reading_chart(data))
    assert sorted(line.text for line in lines(still)) == sorted(
        line.text for line in lines(rendered)
    )


@pytest.mark.parametrize("width", ["page", "phone"])
def test_without_panels_the_words_stand_alone(invented_reading, width):
    data = dataclasses.replace(invented_reading(), panels=())
    svg = reading_picture(data, width=width).svg
    drawn = words(svg)
    assert not cut_off(svg) and not collisions(svg)
    assert data.notes[0] in drawn and "too small to matter" not in drawn
    assert [line.text for line in lines(to_svg(reading_chart(data)))]


@pytest.mark.parametrize("width", ["page", "phone"])
def test_no_shipped_reading_is_cut_off_or_written_over(shipped, width):
    for each in shipped.studies:
        svg = reading_picture(shipped.reading(each), width=width).svg
        assert not cut_off(svg) and not collisions(svg), each
