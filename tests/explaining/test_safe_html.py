"""HTML that only says something."""

from __future__ import annotations

import pytest

from steelyard.explaining.page_safe_html import safe_html, safe_picture

SVG = '<svg xmlns="http://www.w3.org/2000/svg"><title>On top: a = b</title><path d="M0,0"/></svg>'


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("<p>a &lt; b &amp; c</p>", "<p>a &lt; b &amp; c</p>"),
        ("<script>alert(1)</script>after", "after"),
        ("<style>p { color: red }</style>after", "after"),
        ('<p onclick="alert(1)" style="color:red" class="x">a</p>', '<p class="x">a</p>'),
        ('<a href="javascript:alert(1)">a</a>', "<a>a</a>"),
        ('<a href="data:text/html,x">a</a>', "<a>a</a>"),
        ('<a href="https://doi.org/10.0000/x">a</a>', '<a href="https://doi.org/10.0000/x">a</a>'),
        ('<a href="recommendations/x.ipynb">x</a>', '<a href="recommendations/x.html">x</a>'),
        ('<img src="https://example.org/a.png" alt="a">', '<img alt="a">'),
        ("<p>left <b>open", "<p>left <b>open</b></p>"),
        ("<p>a</b></p></div>", "<p>a</p>"),
        ('<iframe src="x">inside</iframe>after', "after"),
        ('<td data-column="size" scope="row">1</td>', '<td data-column="size" scope="row">1</td>'),
        ("&lt;script&gt;", "&lt;script&gt;"),
    ],
)
def test_words_tables_and_links_are_kept_and_nothing_else(given, kept):
    assert safe_html(given) == kept


def test_a_quiet_picture_stays_in_place():
    assert safe_picture(f'<?xml version="1.0"?>{SVG}') == SVG


@pytest.mark.parametrize(
    "inside",
    [
        "<script>alert(1)</script>",
        '<a href="https://example.org"><path/></a>',
        '<image href="https://example.org/a.png"/>',
        '<path onload="alert(1)"/>',
        "<style>@import 'x';</style>",
        "<foreignObject><p>x</p></foreignObject>",
        '<path fill="url(https://example.org/#a)"/>',
    ],
)
def test_a_lively_picture_is_closed_in_an_image(inside):
    shut = safe_picture(SVG.replace("</svg>", f"{inside}</svg>"), label='a "plot"')
    assert shut.startswith('<img alt="a &quot;plot&quot;" src="data:image/svg+xml;base64,')
    assert inside not in shut
