"""Long pictures break between rows on paper, and only there."""

import re

import pytest

from steelyard import charts
from steelyard.explaining.on_paper import LONG, PIECE, paper_pieces
from tests.charts.invented_forests import invented_forest
from tests.charts.invented_pictures import invented_overview, invented_turns

LONG_ONES = {
    "forest": lambda: charts.forest_picture(invented_forest(60)).svg,
    "turns": lambda: charts.turns_plot(invented_turns(60)).svg,
    "overview": lambda: charts.overview_plot(invented_overview(40)).svg,
}


def height(svg):
    return float(re.search(r'viewBox="0 0 [\d.]+ ([\d.]+)"', svg)[1])


@pytest.mark.parametrize("name", LONG_ONES)
def test_pieces_cover_the_picture_once_and_end_between_rows(name):
    svg = LONG_ONES[name]()
    whole, pieces = paper_pieces(svg)
    views = [
        (float(top), float(high))
        for top, high in re.findall(r'<svg viewBox="0 ([\d.]+) [\d.]+ ([\d.]+)"', pieces)
    ]
    assert views[0][0] == 0
    ends = [top + high for top, high in views]
    assert ends[-1] == height(svg)
    assert [top for top, _ in views[1:]] == ends[:-1]
    cuts = {float(cut) for cut in re.search(r'data-cuts="([^"]*)"', svg)[1].split(",")}
    assert set(ends[:-1]) <= cuts
    assert max(high for _, high in views[1:-1]) <= PIECE
    address = re.search(r'<g id="([^"]*)">', whole)[1]
    assert set(re.findall(r'href="#([^"]*)"', pieces)) == {address}
    assert whole.replace(f'<g id="{address}">', "", 1).replace("</g></svg>", "</svg>", 1) == svg


def test_no_text_is_cut_through():
    svg = LONG_ONES["forest"]()
    top = float(re.search(r'<g transform="translate\([\d.]+,([\d.]+)\)">', svg)[1])
    lines = [
        (top + float(y), float(size))
        for size, group in re.findall(r'font-size="([\d.]+)"[^>]*>(.*?)</g>', svg)
        for y in re.findall(r'<text x="[-\d.]+" y="([\d.]+)"', group)
    ]
    cuts = [float(cut) for cut in re.search(r'data-cuts="([^"]*)"', svg)[1].split(",")]
    assert len(lines) > 100 and len(cuts) == 60
    for base, size in lines:
        # Letters reach about three quarters of their size above the line, a quarter below.
        assert not [cut for cut in cuts if base - 0.75 * size < cut < base + 0.25 * size]


def test_short_pictures_and_those_that_may_not_be_cut_stay_whole():
    short = charts.forest_picture(invented_forest(3)).svg
    assert height(short) <= LONG and paper_pieces(short) == (short, "")
    uncut = re.sub(' data-cuts="[^"]*"', "", LONG_ONES["forest"]())
    assert paper_pieces(uncut) == (uncut, "")
    assert paper_pieces('<img alt="closed">') == ('<img alt="closed">', "")
