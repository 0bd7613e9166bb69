"""What each picture must say and show beyond what all of them do."""

from __future__ import annotations

import dataclasses
import re
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from steelyard import charts
from steelyard.charts.wording import flags_in_words
from steelyard.errors import UsageError
from tests.charts import invented_pictures as invented
from tests.charts.drawn import collisions, cut_off, lines, size, words
from tests.charts.invented_lay import invented_hundred, invented_plain_forest, invented_strip


def test_pictures_become_png_and_stand_in_pages():
    picture = charts.concern_plot(invented.invented_concern(), width="phone")
    png = charts.to_png(picture, scale=1)
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(png[16:20], "big") == 358
    assert picture.svg in charts.to_page([charts.Section("", (), picture)], title="One")
    assert charts.show_chart(picture) == picture


def test_funnel_numbers_the_flagged_studies():
    data = invented.invented_funnel()
    drawn = words(charts.funnel_plot(data).svg)
    flagged = data.studies[data.studies["flags"] != ""]
    assert len(flagged) > 2
    for place, row in enumerate(flagged.itertuples(), 1):
        assert f"{place}: {row.label}: {flags_in_words(row.flags)}" in drawn


def test_funnel_shading_widens_with_the_standard_error():
    # The edge between p above and below 0.10, drawn at a study's height, is 1.645 times its
    # standard error from no effect (normal distribution, 90 %).
    data = invented.invented_funnel(2)
    svg = charts.funnel_plot(data).svg
    root = ElementTree.fromstring(svg)
    paths = [
        (group.get("fill"), node.get("d"))
        for group in root.iter()
        for node in group
        if node.tag.endswith("path")
    ]
    shade = next(d for fill, d in paths if fill == "#b4c3cd")
    corners = [tuple(map(float, p.split(","))) for p in shade.strip("MZ").split("L")]
    (top_x, top_y) = min(corners, key=lambda corner: corner[1])
    bottom = max(y for _, y in corners)
    ticks = {line.text: line for line in lines(svg)}
    per_unit = ticks["+0.2"].x - ticks["+0.1"].x
    depth = (ticks["0.1"].y - ticks["0.05"].y) / 0.05
    right = max(x for x, y in corners if y == bottom)
    assert (right - top_x) / per_unit * 0.1 == pytest.approx(
        1.645 * (bottom - top_y) / depth, rel=0.01
    )


def test_dose_form_can_be_chosen_and_others_stay_in_sight():
    data = invented.invented_dose()
    by_default = words(charts.dose_plot(data).svg)
    assert "each doubling adds the same, with its 95 % interval" in by_default
    other = words(charts.dose_plot(data, form="spline").svg)
    assert "bends where the data say, with its 95 % interval" in other
    assert "another form: each doubling adds the same" in other
    assert "beyond the evidence" in by_default
    with pytest.raises(UsageError, match="'linear', 'log', 'spline', not 'cubic'"):
        charts.dose_plot(data, form="cubic")


def test_dose_within_the_evidence_is_not_hatched():
    data = invented.invented_dose()
    whole = dataclasses.replace(data, evidence_low=1.0, evidence_high=28.0)
    assert "beyond the evidence" not in words(charts.dose_plot(whole).svg)


def test_choices_name_every_option_once_and_mark_the_one_used():
    data = invented.invented_choices()
    assert len(data.ways) == 1296
    picture = charts.choices_plot(data)
    texts = [line.text for line in lines(picture.svg)]
    for choice in data.choices:
        for option in choice.options:
            assert texts.count(option) == 1
    assert "of 1,296 ways" in " ".join(texts)
    assert len(picture.svg) < 150_000


def test_choices_of_thousands_stay_small():
    data = invented.invented_choices()
    many = pd.concat([data.ways] * 4).sort_values("estimate", ignore_index=True)
    assert len(charts.choices_plot(dataclasses.replace(data, ways=many)).svg) < 150_000


def test_turning_studies_say_what_turns():
    svg = charts.turns_plot(invented.invented_turns()).svg
    assert "no longer enough to matter; suspect numbers" in words(svg)
    assert "The answer turns on 1 study." in svg


def test_history_writes_certainty_where_it_changed():
    texts = [line.text for line in lines(charts.history_plot(invented.invented_history()).svg)]
    for word in ("very low", "low", "moderate", "high"):
        assert texts.count(word) == 1
    assert "2004" in texts


def test_told_words_without_room_are_listed():
    data = invented.invented_history()
    crowd = pd.DataFrame(
        {
            "year": np.full(30, 2012.5),
            "estimate": np.full(30, 0.4),
            "words": [f"told in conversation {i}: perhaps a little" for i in range(30)],
        }
    )
    svg = charts.history_plot(dataclasses.replace(data, told=crowd), width="phone").svg
    drawn = words(svg)
    assert all(text in drawn for text in crowd["words"])
    assert not collisions(svg)


def test_belief_without_a_zone():
    data = invented.invented_belief()
    axis = dataclasses.replace(data.axis, zone=None)
    drawn = words(charts.belief_plot(dataclasses.replace(data, axis=axis)).svg)
    assert "too small to matter" not in drawn and "95 in 100" in drawn


def test_overview_says_what_moved_and_what_was_never_reviewed():
    data = invented.invented_overview()
    drawn = words(charts.overview_plot(data).svg)
    assert drawn.count("moved since told:") == (data.recommendations["changed"] != "").sum() == 2
    assert "not reviewed yet" in drawn


def test_concern_names_every_share():
    drawn = words(charts.concern_plot(invented.invented_concern()).svg)
    for share in ("low 62 %", "some 33 %", "high 5.0 %", "some 100 %"):
        assert share in drawn


def test_hundred_draws_a_hundred_and_one_sign_for_each_group():
    svg = charts.hundred_plot(invented_hundred()).svg
    assert svg.count("<circle") == 100 + 3
    with pytest.raises(UsageError, match="100 people together, not 60, 30 and 8"):
        charts.hundred_plot(invented_hundred(60, 30, 8))


def test_plain_forest_shows_no_jargon():
    drawn = words(charts.plain_forest(invented_plain_forest()).svg).lower()
    for term in ("interval", "95", "weight", "effect", "random"):
        assert term not in drawn.replace("random effects, reml; knapp–hartung interval.", "")


@pytest.mark.parametrize("longer", ["", " and a good deal more that was to be said"])
def test_the_strip_for_paper_is_low_and_nothing_is_cut_off(longer):
    data = invented_strip()
    worded = data.ranges.assign(numbers=data.ranges["numbers"] + longer)
    svg = charts.strip_on_paper(dataclasses.replace(data, ranges=worded)).svg
    assert not cut_off(svg) and not collisions(svg)
    drawn = words(svg)
    for part in (*("One person".split()), "worth", *data.title.split()):
        assert part in drawn
    if not longer:
        # Less than half as high as wide: a sheet has little room.
        across, down = size(svg)
        assert down < across / 2


def test_of_a_pair_the_one_that_gains_more_is_full_and_nobody_is_crossed_out():
    alone = charts.hundred_plot(invented_hundred(60, 30, 10)).svg
    pairs = charts.hundred_plot(dataclasses.replace(invented_hundred(60, 30, 10), pairs=True)).svg
    heads = len(re.findall("<circle", pairs)), len(re.findall("<circle", alone))
    assert heads[0] == 2 * heads[1] == 2 * 103
    # Those alone who end worse are struck through.
    assert 'stroke-width="2.25"' in alone and 'stroke-width="2.25"' not in pairs
