"""HTML that only says something: no script, nothing loaded, no style but the page's own."""

from __future__ import annotations

import re
from base64 import b64encode
from html import escape
from html.parser import HTMLParser

_KEPT = frozenset(
    "a b blockquote br caption code dd del details div dl dt em h1 h2 h3 h4 h5 h6 hr i img li ol "
    "p pre s section span strong sub summary sup table tbody td tfoot th thead tr ul".split()
)
_VOID = frozenset(("br", "hr", "img"))
_SILENCED = frozenset(
    ("script", "style", "iframe", "object", "embed", "template", "noscript", "svg", "math", "head")
)
_ATTRIBUTES = frozenset(("class", "scope", "colspan", "rowspan", "data-column", "lang", "title"))
_LINK = re.compile(r"^(https?:|mailto:|#|[^:/?#]*(?:[/?#]|$))", re.IGNORECASE)
_PICTURE = re.compile(r"^data:image/(png|jpeg|gif|svg\+xml);base64,[A-Za-z0-9+/=\s]+$")
_LIVELY = re.compile(
    r"<\s*(script|foreignObject|iframe|style)\b|<[^>]*\son[a-z]+\s*=|javascript:|@import"
    r"""|<[^>]*(href|src)\s*=\s*["']?\s*(?!["'#])\S|url\(\s*["']?(?!#)""",
    re.IGNORECASE,
)


def safe_html(text: str) -> str:
    """Keep the words, tables and links of a piece of HTML and drop all else.

    Links to notebooks become links to their pages. Tags left open are closed.
    """
    writer = _Writer()
    writer.feed(text)
    writer.close()
    return writer.finished()


def safe_picture(svg: str, *, label: str = "Picture") -> str:
    """An SVG in place; as a closed image if anything in it could act or load."""
    svg = svg[max(svg.find("<svg"), 0) :]
    if not _LIVELY.search(svg):
        return svg
    data = b64encode(svg.encode()).decode()
    return f'<img alt="{escape(label)}" src="data:image/svg+xml;base64,{data}">'


class _Writer(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.parts: list[str] = []
        self.open: list[str] = []
        self.silenced: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in _SILENCED:
            self.silenced.append(tag)
        if self.silenced or tag not in _KEPT:
            return
        kept = "".join(_attribute(tag, name, value or "") for name, value in attrs)
        self.parts.append(f"<{tag}{kept}>")
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in _VOID:
            self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        if self.silenced:
            if tag == self.silenced[-1]:
                self.silenced.pop()
            return
        if tag in self.open:
            while True:
                last = self.open.pop()
                self.parts.append(f"</{last}>")
                if last == tag:
                    break

    def handle_data(self, data: str) -> None:
        if not self.silenced:
            self.parts.append(escape(data))

    def finished(self) -> str:
        return "".join([*self.parts, *(f"</{tag}>" for tag in reversed(self.open))])


def _attribute(tag: str, name: str, value: str) -> str:
    if tag == "a" and name == "href" and _LINK.match(value.strip()):
        if "://" not in value:
            value = re.sub(r"\.ipynb(?=$|#)", ".html", value)
        return f' href="{escape(value.strip())}"'
    if tag == "img" and ((name == "src" and _PICTURE.match(value)) or name == "alt"):
        return f' {name}="{escape(value)}"'
    return f' {name}="{escape(value)}"' if name in _ATTRIBUTES else ""
