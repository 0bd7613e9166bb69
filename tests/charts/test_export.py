"""Pictures and pages stand alone: no script, nothing loaded, words for those who cannot see."""

from __future__ import annotations

import dataclasses
import re
from html.parser import HTMLParser
from xml.etree import ElementTree

import altair
import pytest
from altair.jupyter.jupyter_chart import load_js_src

from steelyard.charts import (
    Section,
    forest_picture,
    forest_plot,
    live,
    show_chart,
    to_page,
    to_png,
    to_svg,
)

HOSTILE = '<script>alert("x")</script> & "quoted"'


class Tags(HTMLParser):
    """Collects every tag with its attributes."""

    def __init__(self):
        super().__init__()
        self.found: list[tuple[str, dict]] = []

    def handle_starttag(self, tag, attributes):
        self.found.append((tag, dict(attributes)))


def tags_of(page: str) -> list[tuple[str, dict]]:
    parser = Tags()
    parser.feed(page)
    return parser.found


@pytest.fixture
def hostile_page(invented_forest):
    data = invented_forest(3)
    data.rows.loc[0, "label"] = HOSTILE
    data = dataclasses.replace(data, title=HOSTILE, subtitle=HOSTILE, notes=(HOSTILE,))
    section = Section(HOSTILE, (HOSTILE,), forest_picture(data), forest_plot(data, width="phone"))
    return to_page([section, Section("Words only")], title=HOSTILE)


@pytest.mark.parametrize("draw", [forest_picture, forest_plot])
def test_picture_says_what_it_shows(invented_forest, draw):
    data = invented_forest(12)
    root = ElementTree.fromstring(to_svg(draw(data)))
    assert root.get("role") == "img"
    assert root.get("aria-label") == data.title
    title, description = root[0], root[1]
    assert title.text == data.title
    for text in (data.subtitle, *data.notes, *data.rows["label"], data.right_words):
        assert text in description.text
    assert "+3.40 (+2.58 to +4.22)" in description.text


def test_same_data_same_picture(invented_forest):
    assert forest_picture(invented_forest(3)) == forest_picture(invented_forest(3))


def test_page_loads_nothing(hostile_page):
    tags = tags_of(hostile_page)
    assert not {"script", "link", "iframe", "img", "object"} & {tag for tag, _ in tags}
    for _, attributes in tags:
        assert not {"src", "href", "xlink:href", "onload"} & set(attributes)
    assert "url(" not in hostile_page and "@import" not in hostile_page
    # What is left of addresses are the two names of the SVG language itself.
    addresses = set(re.findall(r"https?://[^\s\"'<>]+", hostile_page))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}


def test_page_escapes_markup(hostile_page):
    assert "<script" not in hostile_page
    assert "&lt;script&gt;" in hostile_page


def test_page_has_words_for_its_pictures(hostile_page):
    tags = tags_of(hostile_page)
    pictures = [attributes for tag, attributes in tags if tag == "svg"]
    assert len(pictures) == 2
    assert all(p["role"] == "img" and p["aria-label"] == HOSTILE for p in pictures)
    assert ("html", {"lang": "en"}) in tags
    assert sum(tag == "h1" for tag, _ in tags) == 1


def test_notebook_gets_a_static_picture(invented_forest):
    bundle = show_chart(forest_picture(invented_forest(3)))._repr_mimebundle_()
    assert list(bundle) == ["image/svg+xml"]
    assert bundle["image/svg+xml"].startswith("<svg")
    assert len(bundle["image/svg+xml"]) < 60_000


@pytest.mark.parametrize("draw", [forest_picture, forest_plot])
def test_png_is_a_png_of_the_asked_size(invented_forest, draw):
    chart = draw(invented_forest(1), width="phone")
    png = to_png(chart, scale=1)
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    width = int.from_bytes(png[16:20], "big")
    assert 350 <= width <= 361


def test_live_chart_brings_its_script_along(invented_forest):
    widget = live(forest_plot(invented_forest(1)))
    assert isinstance(widget, altair.JupyterChart)
    assert widget.spec["layer"]
    loads_from_afar = re.compile(r"""(from|import)\s*\(?["']https?://""")
    assert loads_from_afar.search(load_js_src()), "the check itself no longer finds anything"
    assert not loads_from_afar.search(str(widget._esm))
