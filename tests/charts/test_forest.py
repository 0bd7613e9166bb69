"""A forest plot carries every word and value it was given, in every shape of data."""

from __future__ import annotations

import dataclasses
import math

import pytest

from steelyard import open_library
from steelyard.charts import forest_plot, forest_svg, to_svg
from steelyard.charts.look import BEAM_95, INK_SOFT, NOT_COUNTED, PAPER, WARNING
from steelyard.charts.wording import flags_in_words, part_flags
from steelyard.errors import UsageError
from steelyard.pooling.forest_data import forest_data
from tests.charts.drawn import boxes, collisions, cut_off, lines, marks, size, words


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
    drawn = words(forest_svg(data, width=width))
    # Long texts are broken into lines, and directions may interleave: so word by word for those.
    for text in (data.left_words, data.right_words, data.title, data.subtitle, *data.notes):
        assert not [word for word in text.split() if word not in drawn]
    for label in data.rows["label"]:
        assert label in drawn
    for flags in data.rows["flags"]:
        for flag in filter(None, flags.split("; ")):
            assert flags_in_words(flag) in drawn
    for low, high in zip(data.rows["n_intervention"], data.rows["n_comparator"], strict=True):
        assert f"{low} v {high} people analysed" in drawn or k > 20


@pytest.mark.parametrize(("width", "most"), [("page", 880), ("phone", 360)])
@pytest.mark.parametrize("k", [1, 25])
def test_nothing_reaches_beyond_the_width(invented_forest, k, width, most):
    data = invented_forest(k)
    longest = "A" * 30 + " and a label that goes on and on beyond any column there could be 2011"
    data.rows.loc[0, "label"] = longest
    svg = forest_svg(data, width=width)
    assert size(svg)[0] <= most
    assert not cut_off(svg)
    assert not collisions(svg)
    for word in longest.split()[1:]:
        assert word in words(svg)


def test_numbers_stand_in_words_with_a_real_minus(invented_forest):
    data = dataclasses.replace(invented_forest(3), estimate=0.31, low=-0.124, high=0.5)
    drawn = words(forest_svg(data))
    assert "+0.31 (−0.12 to +0.50)" in drawn
    assert "95 % prediction interval" in drawn


def test_ratio_is_written_without_a_sign(invented_forest):
    data = dataclasses.replace(invented_forest(3, scale="log"), estimate=1.31, low=0.97, high=1.77)
    assert "1.31 (0.97 to 1.77)" in words(forest_svg(data))


def test_no_prediction_leaves_its_row_out(invented_forest):
    data = invented_forest(12)
    without = dataclasses.replace(data, prediction_low=math.nan, prediction_high=math.nan)
    row = "Where the next study's"
    assert row in words(forest_svg(data))
    drawn = words(forest_svg(without))
    assert row not in drawn and "next study's average" not in drawn
    assert "All studies together" in drawn


def test_no_zone_names_no_difference(invented_forest):
    data = invented_forest(12)
    assert "too small to matter" in words(forest_svg(data))
    drawn = words(forest_svg(dataclasses.replace(data, zone=None)))
    assert "too small to matter" not in drawn
    assert "equal" in drawn


def test_nothing_pooled_draws_the_studies_alone(invented_forest):
    nan = math.nan
    data = dataclasses.replace(
        invented_forest(3), estimate=nan, low=nan, high=nan, prediction_low=nan, prediction_high=nan
    )
    data.rows["pooled"] = False
    data.rows["weight"] = 0.0
    drawn = words(forest_svg(data))
    assert "All studies together" not in drawn
    assert drawn.count("shown, not counted") == 3


def test_uncounted_study_is_marked_in_words_and_gets_no_weight(invented_forest):
    data = invented_forest(12)
    drawn = words(forest_svg(data))
    assert "retracted; shown, not counted" in drawn
    assert "11 studies" in drawn
    assert drawn.count("weight") == 11


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
    drawn = words(forest_svg(data))
    assert "lies further right" in drawn
    assert "the interval runs on past the edge" in drawn
    assert "+3.40 (+2.58 to +4.22)" in drawn


def test_unknown_size_is_said(invented_forest):
    data = invented_forest(3)
    data.rows["n_comparator"] = data.rows["n_comparator"].astype(float)
    data.rows.loc[1, "n_comparator"] = math.nan
    assert "size not reported" in words(forest_svg(data))


def test_unknown_width_is_refused(invented_forest):
    with pytest.raises(UsageError, match="'page' or 'phone', not 'poster'"):
        forest_plot(invented_forest(3), width="poster")


@pytest.mark.parametrize(("k", "scale", "width"), [(12, "linear", "page"), (3, "log", "phone")])
def test_both_writers_draw_the_same(invented_forest, k, scale, width):
    data = invented_forest(k, scale=scale)
    still = forest_svg(data, width=width)
    rendered = to_svg(forest_plot(data, width=width))
    assert sorted(line.text for line in lines(still)) == sorted(
        line.text for line in lines(rendered)
    )
    assert marks(still) == marks(rendered)
    first, second = (
        {line.text: (line.x, line.y) for line in lines(svg) if line.text in set(data.rows["label"])}
        for svg in (still, rendered)
    )
    # The whole may be shifted by a pixel or two, because margins differ; nothing within it.
    shifts = {
        (round(first[text][0] - second[text][0]), round(first[text][1] - second[text][1]))
        for text in first
    }
    assert len(first) == k and len(shifts) == 1


def test_the_one_study_is_called_so(invented_forest):
    drawn = words(forest_svg(invented_forest(1)))
    assert "The one study" in drawn and "All studies together" not in drawn


def test_new_study_is_marked_in_words_and_look(invented_forest):
    data = invented_forest(12)
    before = forest_svg(data)
    data.rows.loc[5, "flags"] = "new; assumed r"
    after = forest_svg(data)
    assert "new: just added" in words(after) and "new: just added" not in words(before)
    assert sum((marks(after) - marks(before)).values()) >= 2
    assert not collisions(after)


@pytest.mark.parametrize("width", ["page", "phone"])
@pytest.mark.parametrize(
    ("estimate", "low", "high", "side"),
    [(5.0, -0.8, 11.0, "right"), (5.0, 0.9, 9.0, "right"), (5.0, 4.0, 6.0, "right"),
     (-5.0, -9.0, 0.6, "left"), (-5.0, -9.0, -0.9, "left")],
)  # fmt: skip
def test_words_for_a_far_study_stand_clear_of_its_bar(
    invented_forest, estimate, low, high, side, width
):
    data = invented_forest(12, plain=True)
    bounds = [f"{end}_{level}" for level in (50, 80) for end in ("low", "high")]
    data.rows.loc[5, ["estimate", *bounds, "low_95", "high_95"]] = [
        estimate, *[estimate] * 4, low, high,
    ]  # fmt: skip
    svg = forest_svg(data, width=width)
    (line,) = [line for line in lines(svg) if line.text == f"lies further {side}"]
    bars = boxes(svg, fill=BEAM_95)
    assert len(bars) >= 12
    for left, right, top, bottom in bars:
        beside = line.right <= left or line.left >= right
        assert beside or line.top >= bottom or line.bottom <= top
    assert not collisions(svg)


def test_counted_estimates_are_inside_unless_far_out(invented_forest):
    data = invented_forest(12, plain=True)
    data.rows.loc[5, "estimate"] = 0.9
    assert "lies further" not in words(forest_svg(data))


def test_only_grave_flags_are_red(invented_forest):
    data = invented_forest(3, plain=True)
    calm = marks(forest_svg(data))
    data.rows.loc[1, "flags"] = "assumed r"
    quiet = forest_svg(data)
    assert "before–after or paired correlation assumed" in words(quiet)
    assert "assumed r" not in words(quiet)
    assert WARNING not in quiet
    assert [edge for _, edge in (marks(quiet) - calm).elements()] == [INK_SOFT]
    data.rows.loc[1, "flags"] = "assumed r; unrandomised"
    grave = forest_svg(data)
    assert WARNING in grave
    assert not collisions(grave)


def test_flags_are_parted_and_unknown_ones_shown_as_they_are():
    parted = part_flags("post only; retracted; met at dusk; clusters not allowed for")
    assert parted.grave == "retracted; clusters not allowed for"
    assert parted.quiet == "scores after training only; met at dusk"
    assert part_flags("") == part_flags("; ")
    assert flags_in_words("new; suspect numbers") == "new; suspect numbers"


def _dotted(svg):
    """How many dotted lines of studies not counted a picture holds, the legend's among them."""
    found = marks(svg)
    return sum(
        number for (fill, edge), number in found.items() if edge == NOT_COUNTED and fill != PAPER
    )


@pytest.mark.parametrize(("low", "drawn"), [(0.2, 1), (4.0, 0)])
def test_a_far_study_keeps_the_line_of_what_lies_inside(invented_forest, low, drawn):
    data = invented_forest(12, plain=True)
    bounds = [f"{end}_{level}" for level in (50, 80) for end in ("low", "high")]
    data.rows.loc[5, ["estimate", *bounds, "low_95", "high_95"]] = [*[5.0] * 5, low, 6.0]
    data.rows.loc[5, "pooled"] = False
    svg = forest_svg(data)
    assert _dotted(svg) == 1 + drawn
    assert ("arrow alone" in words(svg)) is (not drawn)


def test_the_hanging_weight_is_explained(invented_forest):
    assert "the answer: all studies weighed together" in words(forest_svg(invented_forest(3)))
    assert "the answer: the one study" in words(forest_svg(invented_forest(1)))
    nothing = dataclasses.replace(invented_forest(3), estimate=math.nan, low=math.nan)
    assert "the answer:" not in words(forest_svg(nothing))


@pytest.mark.parametrize("width", ["page", "phone"])
def test_no_line_begins_with_a_percent_sign(invented_forest, width):
    data = invented_forest(12)
    for room in range(40):
        title = "x" * room + " and a 95 % interval" * 8
        svg = forest_svg(dataclasses.replace(data, title=title, notes=(title,)), width=width)
        assert not [line.text for line in lines(svg) if line.text.lstrip().startswith("%")]


@pytest.mark.parametrize("width", ["page", "phone"])
def test_the_same_people_under_both_are_counted_once(width):
    # Gorsemire 2020 is a crossover of 18 rowers.
    weighing = open_library().weigh("slow-lowering-strength")
    drawn = words(forest_svg(forest_data(weighing), width=width)).replace("\u00a0", " ")
    studies = weighing.studies.set_index("study")
    once = studies["people"] < studies["n_intervention"] + studies["n_comparator"]
    assert once["gorsemire-2020"] and "18 people, the same under both" in drawn
    assert drawn.count("the same under both") == once.sum()
