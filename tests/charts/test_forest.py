"""A forest plot carries every word and value it was given, in every shape of data."""

from __future__ import annotations

import dataclasses
import math
import re
from xml.etree import ElementTree

import pytest

from steelyard.charts import forest_plot, to_svg
from steelyard.errors import UsageError

SVG = "{http://www.w3.org/2000/svg}"


def drawn_words(svg: str) -> str:
    """All words drawn in a picture, line after line; the description does not count."""
    root = ElementTree.fromstring(svg)
    words = " ".join("".join(node.itertext()) for node in root.iter(f"{SVG}text"))
    return re.sub(r"\s+", " ", words)


def width_of(svg: str) -> float:
    return float(ElementTree.fromstring(svg).get("width"))


@pytest.mark.parametrize(
    ("k", "scale", "width"),
    [
        (1, "linear", "page"),
        (1, "log", "phone"),
        (3, "linear", "phone"),
        (3, "log", "page"),
        (60, "linear", "page"),
        (60, "log", "phone"),
    ],
)
def test_every_word_is_drawn(invented_forest, k, scale, width):
    data = invented_forest(k, scale=scale)
    words = drawn_words(to_svg(forest_plot(data, width=width)))
    # Long texts are broken into lines, and directions may interleave: so word by word for those.
    for text in (data.left_words, data.right_words, data.title, data.subtitle, *data.notes):
        assert not [word for word in text.split() if word not in words]
    for label in data.rows["label"]:
        assert label in words
    for flags in data.rows["flags"]:
        for flag in filter(None, flags.split("; ")):
            assert flag in words
    for low, high in zip(data.rows["n_intervention"], data.rows["n_comparator"], strict=True):
        assert f"{low} v {high}" in words


@pytest.mark.parametrize(("width", "most"), [("page", 880), ("phone", 360)])
@pytest.mark.parametrize("k", [1, 25])
def test_nothing_reaches_beyond_the_width(invented_forest, k, width, most):
    # The drawing grows to hold whatever sticks out, so its width shows an overflow.
    data = invented_forest(k)
    longest = "A" * 30 + " and a label that goes on and on beyond any column there could be 2011"
    data.rows.loc[0, "label"] = longest
    svg = to_svg(forest_plot(data, width=width))
    assert width_of(svg) <= most
    for word in longest.split()[1:]:
        assert word in drawn_words(svg)


def test_numbers_stand_in_words_with_a_real_minus(invented_forest):
    data = dataclasses.replace(invented_forest(3), estimate=0.31, low=-0.124, high=0.5)
    words = drawn_words(to_svg(forest_plot(data)))
    assert "+0.31 (−0.12 to +0.50)" in words
    assert "95 % prediction interval" in words


def test_ratio_is_written_without_a_sign(invented_forest):
    data = dataclasses.replace(invented_forest(3, scale="log"), estimate=1.31, low=0.97, high=1.77)
    assert "1.31 (0.97 to 1.77)" in drawn_words(to_svg(forest_plot(data)))


def test_no_prediction_leaves_its_row_out(invented_forest):
    data = invented_forest(12)
    without = dataclasses.replace(data, prediction_low=math.nan, prediction_high=math.nan)
    row = "Where the next study's"
    assert row in drawn_words(to_svg(forest_plot(data)))
    words = drawn_words(to_svg(forest_plot(without)))
    assert row not in words and "next study's average" not in words
    assert "All studies together" in words


def test_no_zone_names_no_difference(invented_forest):
    data = invented_forest(12)
    assert "too small to matter" in drawn_words(to_svg(forest_plot(data)))
    words = drawn_words(to_svg(forest_plot(dataclasses.replace(data, zone=None))))
    assert "too small to matter" not in words
    assert "no difference" in words


def test_nothing_pooled_draws_the_studies_alone(invented_forest):
    nan = math.nan
    data = dataclasses.replace(
        invented_forest(3), estimate=nan, low=nan, high=nan, prediction_low=nan, prediction_high=nan
    )
    data.rows["pooled"] = False
    data.rows["weight"] = 0.0
    words = drawn_words(to_svg(forest_plot(data)))
    assert "All studies together" not in words
    assert words.count("shown, not counted") == 3


def test_uncounted_study_is_marked_in_words_and_gets_no_weight(invented_forest):
    data = invented_forest(12)
    words = drawn_words(to_svg(forest_plot(data)))
    assert "retracted; shown, not counted" in words
    assert "11 studies" in words
    assert words.count("weight") == 11


def test_disc_area_is_in_proportion_to_weight(invented_forest):
    data = invented_forest(3, plain=True)
    areas = [
        value["area"]
        for layer in forest_plot(data).to_dict()["layer"]
        if layer["mark"].get("shape") == "circle" and "tooltip" in layer["encoding"]
        for value in layer["data"]["values"]
    ]
    weights = list(data.rows["weight"])
    assert [a / areas[0] for a in areas] == pytest.approx([w / weights[0] for w in weights])


def test_estimates_and_bounds_are_plotted_at_their_values(invented_forest):
    data = invented_forest(3, plain=True)
    across = set()
    for layer in forest_plot(data).to_dict()["layer"]:
        if layer["encoding"]["x"]["scale"] is not None:
            for value in layer["data"]["values"]:
                across |= {value["x"], value.get("x2")}
    columns = ["estimate", "low_50", "high_50", "low_80", "high_80", "low_95", "high_95"]
    assert set(data.rows[columns].to_numpy().ravel()) <= across
    assert {data.estimate, data.low, data.high} <= across


def test_extreme_study_does_not_squash_the_rest(invented_forest):
    data = invented_forest(12)
    chart = forest_plot(data).to_dict()
    domains = [
        layer["encoding"]["x"]["scale"]["domain"]
        for layer in chart["layer"]
        if layer["encoding"]["x"]["scale"] is not None
    ]
    assert all(domain == domains[0] for domain in domains)
    assert domains[0][1] < 2 < data.rows["estimate"].max()
    words = drawn_words(to_svg(forest_plot(data)))
    assert "lies further right" in words
    assert "the interval runs on past the edge" in words
    assert "+3.40 (+2.58 to +4.22)" in words


def test_unknown_size_is_said(invented_forest):
    data = invented_forest(3)
    data.rows["n_comparator"] = data.rows["n_comparator"].astype(float)
    data.rows.loc[1, "n_comparator"] = math.nan
    assert "size not reported" in drawn_words(to_svg(forest_plot(data)))


def test_unknown_width_is_refused(invented_forest):
    with pytest.raises(UsageError, match="'page' or 'phone', not 'poster'"):
        forest_plot(invented_forest(3), width="poster")
