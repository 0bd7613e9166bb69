"""One notebook as one page that works offline, on paper and on a phone."""

from __future__ import annotations

import re
from html import escape

import mistune
from nbformat import NotebookNode

from steelyard.explaining.on_paper import paper_pieces
from steelyard.explaining.page_caution import GENERAL_CAUTIONS, INVENTED_DATA
from steelyard.explaining.page_mime import PHONE_PICTURE
from steelyard.explaining.page_safe_html import safe_html, safe_picture
from steelyard.explaining.page_style import STYLE

_markdown = mistune.create_markdown(escape=True, plugins=["table"])


def notebook_page(
    book: NotebookNode, *, title: str, invented: bool, index: str = "", language: str = "en"
) -> str:
    """Write a notebook that was run as one self-contained HTML page.

    Parameters
    ----------
    book : NotebookNode
        With its outputs.
    title : str
        Of the page, for the browser's tab and for search.
    invented : bool
        Whether any of the data behind it is invented; the page then says so on top.
    index : str
        Address of the page of all answers, relative to this one; empty for none.
    language : str
        Language tag of its words.

    Returns
    -------
    html : str
        A whole document: no script, and nothing that is loaded.
    """
    body = "\n".join(filter(None, (_cell(cell) for cell in book.cells)))
    if "<h1" not in body:
        body = f"<h1>{escape(title)}</h1>\n{body}"
    body = _with_contents(body)
    return document(body, title=title, invented=invented, index=index, language=language)


def _with_contents(body: str) -> str:
    """Give every second-level heading an address, and list them below the title."""
    headings: list[str] = []

    def addressed(found: re.Match) -> str:
        headings.append(found[1])
        return f'<h2 id="part-{len(headings)}">{found[1]}</h2>'

    body = re.sub(r"<h2>(.*?)</h2>", addressed, body, flags=re.DOTALL)
    if len(headings) < 2:
        return body
    items = "".join(
        f'<li><a href="#part-{number}">{re.sub("<[^>]*>", "", heading)}</a></li>'
        for number, heading in enumerate(headings, 1)
    )
    contents = f'<nav class="contents" aria-label="On this page"><ul>{items}</ul></nav>'
    return body.replace("</h1>", f"</h1>\n{contents}", 1)


def document(
    body: str, *, title: str, invented: bool, index: str = "", language: str = "en"
) -> str:
    """A whole page around a body that is safe already: head, banner, cautions."""
    link = f'<nav><a href="{escape(index)}">All answers</a></nav>' if index else ""
    banner = f'<p class="invented">{escape(INVENTED_DATA)}</p>\n' if invented else ""
    cautions = "".join(f"<p>{escape(text)}</p>\n" for text in GENERAL_CAUTIONS)
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
        f'<header><span class="name">Steelyard: training studies, weighed</span>{link}</header>\n'
        f"<main>\n{banner}{body}\n</main>\n"
        f"<footer>\n<h2>Cautions</h2>\n{cautions}</footer>\n</body>\n</html>\n"
    )


def _cell(cell: NotebookNode) -> str:
    if cell.cell_type == "markdown":
        return safe_html(_markdown(cell.source))
    if cell.cell_type != "code" or not cell.source.strip():
        return ""
    code = (
        f"<details><summary>code</summary><pre><code>{escape(cell.source)}</code></pre></details>"
    )
    return "\n".join([code, *(_output(output) for output in cell.outputs)])


def _output(output: NotebookNode) -> str:
    if output.output_type == "stream":
        return f"<pre>{escape(output.text)}</pre>"
    if output.output_type == "error":
        return (
            f'<div class="failed" role="alert"><strong>This cell failed.</strong> '
            f"{escape(output.evalue)}</div>"
        )
    return _shown(output.data)


def _shown(data: NotebookNode) -> str:
    words = data.get("text/plain", "")
    if "image/svg+xml" in data:
        picture, on_paper = paper_pieces(safe_picture(data["image/svg+xml"], label=words))
        long = " long" if on_paper else ""
        phone = data.get(PHONE_PICTURE)
        if phone is None:
            return f'<figure class="wide{long}">{picture}</figure>{on_paper}'
        return (
            f'<figure class="wide paired{long}">{picture}</figure>{on_paper}\n'
            f'<figure class="narrow">{safe_picture(phone, label=words)}</figure>'
        )
    for kind in ("image/png", "image/jpeg"):
        if kind in data:
            source = "".join(data[kind].split())
            return f'<figure><img alt="{escape(words)}" src="data:{kind};base64,{source}"></figure>'
    if "application/vnd.jupyter.widget-view+json" in data:
        return "<p>A form stands here: open the notebook to fill it in.</p>"
    if "text/html" in data:
        return safe_html(data["text/html"])
    if "text/markdown" in data:
        return safe_html(_markdown(data["text/markdown"]))
    return f"<pre>{escape(words)}</pre>" if words else ""
