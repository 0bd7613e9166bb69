"""A handout: one self-contained page that works offline and prints to a single sheet."""

from __future__ import annotations

from html import escape

from steelyard.charts import hills_plot, hundred_plot, plain_forest, strip_on_paper, strip_plot
from steelyard.explaining.explanation import Explanation, Section
from steelyard.explaining.handout_style import handout_style, print_size
from steelyard.explaining.lay_pictures import (
    hills_data,
    hundred_data,
    plain_forest_data,
    strip_data,
)
from steelyard.explaining.trace import Trace, trace
from steelyard.explaining.trace_page import linked, trace_html
from steelyard.explaining.wording.catalogue import Catalogue, catalogue
from steelyard.records.settings import Settings

# The order on the sheet; cautions stand below, across both columns.
ON_THE_SHEET = (
    *("for_you", "do", "expect", "sure", "shown_for", "for_whom", "not_for", "unknown"),
    *("cost", "risk", "other", "change"),
)
LINE_END = 25


def handout(explanation: Explanation, *, settings: Settings | None = None) -> str:
    """Write the page.

    Parameters
    ----------
    explanation : Explanation
    settings : Settings, optional
        For the letterhead and the paper.

    Returns
    -------
    html : str
        A whole document: no script, and nothing that is loaded. Printed, it is one sheet; on a
        screen it goes on with further pictures, references, and every number's way to the
        studies.
    """
    settings = settings or Settings()
    terms = settings.terms.get(explanation.language)
    words = catalogue(explanation.language, terms=terms)
    title = explanation.recommendation.statement
    own = _lang(explanation.statement_language, explanation)
    invented = (
        f'<p class="invented">{escape(explanation.invented_line)}</p>\n'
        if explanation.invented
        else ""
    )
    followed = trace(explanation)
    parts = "\n".join(
        _section(part, explanation, followed, words)
        for key in ON_THE_SHEET
        if (part := explanation.section(key)) is not None
    )
    cautions = explanation.section("cautions")
    sentence = linked(
        explanation.sentence, explanation.sentence_numbers, trace=followed, words=words
    )
    style = handout_style(
        colour=settings.coach.colour,
        paper=settings.paper,
        print_pt=print_size(
            _letters(explanation),
            paper=settings.paper,
            pictured=strip_data(explanation, words) is not None,
        ),
    )
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(explanation.language)}">\n<head>\n'
        '<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{style}</style>\n</head>\n<body>\n"
        f"{_letterhead(settings, words, explanation.language)}<main>\n{invented}"
        f"<h1{own}>{escape(title)}</h1>\n"
        f'<p class="sentence">{sentence}</p>\n'
        f"{_strip(explanation, words)}"
        f'<div class="parts">\n{parts}\n</div>\n'
        f"{_section(cautions, explanation, followed, words)}\n"
        f'<p class="caption">{escape(explanation.caption)}</p>\n'
        f"{_further(explanation, words, followed)}</main>\n<footer></footer>\n</body>\n</html>\n"
    )


def _letters(explanation: Explanation) -> int:
    """Letters that the sheet holds, a line's end counted as some."""
    lines = [line.text for part in explanation.sections for line in part.lines]
    around = (explanation.sentence, explanation.caption, explanation.recommendation.statement)
    return sum(len(text) + LINE_END for text in (*lines, *around))


def _letterhead(settings: Settings, words: Catalogue, language: str) -> str:
    coach = settings.coach.in_language(language)
    name = ", ".join(filter(None, (coach.name, coach.organisation))) or "Steelyard"
    contact = " · ".join(coach.contact)
    line = (
        f'<span class="contact">{escape(words.say("page.contact"))}: {escape(contact)}</span>'
        if contact
        else ""
    )
    return f'<header><span class="name">{escape(name)}</span>{line}</header>\n'


def _section(part: Section, explanation: Explanation, followed: Trace, words: Catalogue) -> str:
    # The statement is the page's heading.
    lines = part.lines[1:] if part.key == "do" else part.lines
    items = "".join(
        f"<li{_lang(line.language, explanation)}>{escape(line.text)}</li>"
        if line.own_words
        else f"<li>{linked(line.text, part.numbers, trace=followed, words=words)}</li>"
        for line in lines
    )
    if not items:
        return ""
    name = ' class="cautions"' if part.key == "cautions" else ""
    return f"<section{name}><h2>{escape(part.heading)}</h2><ul>{items}</ul></section>"


def _lang(tag: str, explanation: Explanation) -> str:
    return f' lang="{escape(tag)}"' if tag and tag != explanation.language else ""


def _strip(explanation: Explanation, words: Catalogue) -> str:
    data = strip_data(explanation, words)
    if data is None:
        return ""
    paper = f'<figure class="paper">{strip_on_paper(data).svg}</figure>\n'
    return _figure(strip_plot(data).svg, strip_plot(data, width="phone").svg) + paper


def _figure(wide: str, narrow: str) -> str:
    return f'<figure class="wide">{wide}</figure>\n<figure class="narrow">{narrow}</figure>\n'


def _further(explanation: Explanation, words: Catalogue, followed: Trace) -> str:
    counted = explanation.sizes is not None and explanation.sizes.without is not None
    drawn = (
        # A hundred people counted; a hundred pairs would be a second kind of chance.
        (hundred_data(explanation, words) if counted else None, hundred_plot),
        (hills_data(explanation, words), hills_plot),
        (plain_forest_data(explanation, words), plain_forest),
    )
    pictures = "".join(
        _figure(draw(data).svg, draw(data, width="phone").svg)
        for data, draw in drawn
        if data is not None
    )
    references = "".join(f"<li>{escape(one.text)}</li>" for one in explanation.citations.references)
    found = f'<div class="on-screen">\n{pictures}</div>\n' if pictures else ""
    if references:
        heading = escape(words.say("heading.references"))
        found += f"<details><summary>{heading}</summary><ul>{references}</ul></details>\n"
    heading = escape(words.say("heading.numbers"))
    # A link to what lies inside opens it.
    inside = f'<div id="numbers">{trace_html(followed)}</div>'
    return f"{found}<details><summary>{heading}</summary>{inside}</details>\n"
