"""A reading chart shows every outcome of its study."""

from __future__ import annotations

import dataclasses
import re

import pytest

from steelyard.charts import reading_chart, to_svg


def spaced(svg: str) -> str:
    body = svg.split("</desc>", 1)[1]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body))


@pytest.mark.parametrize("width", ["page", "phone"])
def test_every_outcome_and_word_is_drawn(invented_reading, width):
    data = invented_reading()
    words = spaced(to_svg(reading_chart(data, width=width)))
    for column in ("outcome", "construct", "flags", "printed"):
        for text in data.rows[column]:
            assert text in words
    assert data.left_words in words
    assert data.notes[0] in words


def test_without_a_zone(invented_reading):
    data = dataclasses.replace(invented_reading(), zone=None)
    words = spaced(to_svg(reading_chart(data)))
    assert "no difference" in words
    assert "too small to matter" not in words
