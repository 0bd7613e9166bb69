"""A notebook as a page, whatever its cells gave."""

from __future__ import annotations

import nbformat

from steelyard.explaining.page import notebook_page
from steelyard.explaining.page_index import IndexEntry, index_page


def page_of(*outputs, words: str = "# Title\n\n## One\n\n## Two", **settings) -> str:
    cell = nbformat.v4.new_code_cell("call(1 < 2)", outputs=list(outputs))
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell(words), cell])
    return notebook_page(book, **{"title": "A & B", "invented": False, **settings})


def shown(**data: str):
    kinds = {name.replace("__", "/").replace("_", "."): text for name, text in data.items()}
    return nbformat.v4.new_output("display_data", data=kinds)


def test_code_is_folded_away_and_escaped():
    assert "<details><summary>code</summary><pre><code>call(1 &lt; 2)" in page_of()


def test_headings_are_listed_on_top():
    html = page_of()
    assert '<a href="#part-1">One</a>' in html
    assert '<h2 id="part-2">Two</h2>' in html


def test_a_notebook_without_a_title_gets_the_pages():
    assert "<h1>A &amp; B</h1>" in page_of(words="words alone")


def test_invented_data_is_said_only_where_it_is():
    assert "Invented data" in page_of(invented=True)
    assert "Invented data" not in page_of()


def test_markup_in_words_is_text():
    html = page_of(words="# <script>alert(1)</script>\n\n[go](javascript:alert(1))")
    assert "<script" not in html
    assert 'javascript:alert(1)"' not in html


def test_html_is_taken_before_plain_text_and_made_safe():
    html = page_of(
        shown(text__html="<table><tr><td onclick='x'>7</td></tr></table>", text__plain="7")
    )
    assert "<table><tr><td>7</td></tr></table>" in html
    assert "<pre>7</pre>" not in html


def test_a_failed_cell_says_so():
    failed = nbformat.v4.new_output("error", ename="E", evalue="no <such> id", traceback=["x"])
    html = page_of(failed)
    assert "This cell failed." in html
    assert "no &lt;such&gt; id" in html


def test_printed_text_and_bitmaps_are_shown():
    html = page_of(
        nbformat.v4.new_output("stream", name="stdout", text="a < b"),
        shown(image__png="aGVs\nbG8=", text__plain="a dot"),
    )
    assert "<pre>a &lt; b</pre>" in html
    assert '<img alt="a dot" src="data:image/png;base64,aGVsbG8=">' in html


def test_index_escapes_and_links():
    entry = IndexEntry("x.html", "<b>statement</b>", (("answer", "a < b"),))
    html = index_page([entry], title="Every answer", invented=True)
    assert '<a href="x.html">&lt;b&gt;statement&lt;/b&gt;</a>' in html
    assert "<dt>answer</dt><dd>a &lt; b</dd>" in html


def test_index_of_nothing_says_so():
    assert "There is no answer to list." in index_page([], title="t", invented=False)
