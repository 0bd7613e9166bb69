"""A handout as Markdown or plain text."""

from __future__ import annotations

import re

from steelyard.explaining.explanation import Explanation
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.records.settings import Settings

_MARKS = re.compile(r"([\\`*_\[\]<>#|])")


def markdown(explanation: Explanation, *, settings: Settings | None = None) -> str:
    """The handout in Markdown, references included."""
    coach = (settings or Settings()).coach.in_language(explanation.language)
    words = catalogue(explanation.language)
    lines = [f"# {_plain(explanation.recommendation.statement)}", ""]
    signed = ", ".join(filter(None, (coach.name, coach.organisation, *coach.contact)))
    if signed:
        lines += [_plain(signed), ""]
    if explanation.invented:
        lines += [f"*{_plain(explanation.invented_line)}*", ""]
    lines += [f"**{_plain(explanation.sentence)}**", "", _plain(explanation.paragraph), ""]
    for part in explanation.sections:
        # The statement is the heading of all, and the paragraph says how sure we are.
        shown = part.lines[1:] if part.key in ("do", "sure") else part.lines
        if shown:
            lines += [f"## {part.heading}", "", *(f"- {_plain(line.text)}" for line in shown), ""]
    lines += [_plain(explanation.caption), ""]
    if explanation.citations.references:
        lines += [f"## {words.say('heading.references')}", ""]
        lines += [f"- {_plain(one.text)}" for one in explanation.citations.references]
        lines.append("")
    return "\n".join(lines)


def text(explanation: Explanation) -> str:
    """The handout as the terminal shows it."""
    return f"{explanation}\n"


def _plain(words: str) -> str:
    return _MARKS.sub(r"\\\1", words)
