"""One page of charts that works without internet, on paper and on a phone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from .export import to_svg
from .look import FONT, INK, PAPER, SIZE_BODY

if TYPE_CHECKING:
    from .export import Drawn

_NARROW = 700

_STYLE = f"""
:root {{ color-scheme: light; }}
body {{ margin: 0 auto; padding: 16px 12px; max-width: 890px; background: {PAPER}; color: {INK};
  font: {SIZE_BODY + 2}px/1.5 {FONT}; }}
h1 {{ font-size: 24px; line-height: 1.25; }}
h2 {{ font-size: 19px; line-height: 1.3; margin: 32px 0 8px; }}
p {{ max-width: 68ch; }}
figure {{ margin: 16px -12px; }}
figure svg {{ display: block; max-width: 100%; height: auto; }}
.narrow {{ display: none; }}
@media screen and (max-width: {_NARROW}px) {{
  .wide.paired {{ display: none; }}
  .narrow {{ display: block; }}
}}
@media print {{
  body {{ padding: 0; }}
  h2 {{ break-after: avoid; }}
  figure {{ break-inside: avoid; }}
}}
"""


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a page.

    Attributes
    ----------
    heading : str
        May be empty.
    sentences : tuple of str
        A paragraph each, above the chart.
    chart : Picture, altair chart or None
        Shown on wide screens and on paper.
    narrow : Picture, altair chart or None
        Shown on a phone instead, where given.
    """

    heading: str
    sentences: tuple[str, ...] = ()
    chart: Drawn | None = None
    narrow: Drawn | None = None


def to_page(sections: Iterable[Section], *, title: str, language: str = "en") -> str:
    """Write sections as one self-contained HTML page: no script, nothing loaded.

    Parameters
    ----------
    sections : iterable of Section
    title : str
        Of the page.
    language : str
        Language tag of its words.

    Returns
    -------
    html : str
        A whole document; every text in it is escaped.
    """
    body = "\n".join(_section(section) for section in sections)
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n"
        f"<h1>{escape(title)}</h1>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _section(section: Section) -> str:
    parts = ["<section>"]
    if section.heading:
        parts.append(f"<h2>{escape(section.heading)}</h2>")
    parts.extend(f"<p>{escape(sentence)}</p>" for sentence in section.sentences)
    if section.chart is not None:
        paired = " paired" if section.narrow is not None else ""
        parts.append(f'<figure class="wide{paired}">{to_svg(section.chart)}</figure>')
    if section.narrow is not None:
        parts.append(f'<figure class="narrow">{to_svg(section.narrow)}</figure>')
    parts.append("</section>")
    return "\n".join(parts)
