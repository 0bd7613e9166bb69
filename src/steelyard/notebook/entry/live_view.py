"""The part beside the form: what the study says so far and what it does to the answers."""

from __future__ import annotations

from html import escape

import ipywidgets as widgets

from steelyard.notebook.entry.field import button, row, words
from steelyard.notebook.entry.live import Live, LiveEffect, LiveQuestion
from steelyard.show import count

_EMPTY = (
    "<h3>What it says</h3><p>Nothing yet. Once an arm and an outcome have numbers, each effect "
    "stands here with its interval and how it was reached, and below it what the study does to "
    "each question it touches.</p>"
)
MOST_FINDINGS = 100


class LiveView:
    """Effects, findings and questions, redrawn while typing."""

    def __init__(self) -> None:
        self.says = words(_EMPTY)
        self.does = words("")
        self.wide = words("")
        self.wide.add_class("sy-wide")
        self._is_wide, self._live = False, None
        # It scrolls, so there must be something in it that the keyboard can reach.
        self.widen = button("Forest plot at full width", self._widen)
        self.widget = widgets.VBox([self.says, self.does, row(self.widen)])
        self.widget.add_class("sy-live")

    def show(self, live: Live | None) -> None:
        """Show what was found; None before there is anything to look at."""
        self._live = live
        says, does, wide = _EMPTY, "", ""
        if live is not None and (live.effects or live.findings or live.not_formed):
            says = _effects(live) + _findings(live)
        if live is not None:
            does = _questions(live.questions)
            if self._is_wide:
                wide = "".join(question.picture() for question in live.questions)
        for part, html in ((self.says, says), (self.does, does), (self.wide, wide)):
            if part.value != html:
                part.value = html

    def cannot(self, why: str = "") -> None:
        """Say that nothing can be told from what is typed so far."""
        self.show(None)
        told = f" {why}" if why else ""
        self.says.value = (
            "<h3>What it says</h3><p>The numbers typed so far cannot be worked out together."
            f"{escape(told)} What you typed is kept; look at the messages beside the boxes.</p>"
        )

    def _widen(self) -> None:
        """Show the forest plots below the form as well, or only here again."""
        self._is_wide = not self._is_wide
        self.widen.description = (
            "Forest plot only here" if self._is_wide else "Forest plot at full width"
        )
        self.show(self._live)


def _effects(live: Live) -> str:
    items = "".join(_effect(effect) for effect in live.effects)
    items += "".join(
        f'<li><span class="how">No effect yet: {escape(reason)}</span></li>'
        for reason in live.not_formed
    )
    return f"<h3>What it says</h3><ul>{items}</ul>"


def _effect(effect: LiveEffect) -> str:
    assumed = f'<br><span class="how">Assumed: {escape(effect.assumed)}</span>' * bool(
        effect.assumed
    )
    return (
        f"<li>{escape(effect.outcome)}, week {effect.week:g}: {escape(effect.comparison)}<br>"
        f'<span class="size">{escape(effect.size)}</span><br>'
        f'<span class="how">{escape(effect.route)}</span>{assumed}</li>'
    )


def _findings(live: Live) -> str:
    if not live.findings:
        return "<h4>Look again</h4><p>The checks find nothing to ask about.</p>"
    items = "".join(
        f'<li><span class="{escape(finding.severity)}">{escape(finding.message)}</span>'
        + f'<br><span class="how">{escape(finding.arithmetic)}</span>' * bool(finding.arithmetic)
        + "</li>"
        for finding in live.findings[:MOST_FINDINGS]
    )
    more = len(live.findings) - MOST_FINDINGS
    if more > 0:
        items += f"<li>and {count(more, 'thing')} more</li>"
    return f"<h4>Look again</h4><p>Questions to the numbers, no accusation.</p><ul>{items}</ul>"


def _questions(questions: tuple[LiveQuestion, ...]) -> str:
    if not questions:
        return (
            "<h3>What it changes</h3><p>It touches no question of the library yet: questions find "
            "arms by tag and outcomes by what they measure.</p>"
        )
    return "<h3>What it changes</h3>" + "".join(map(_question, questions))


def _question(question: LiveQuestion) -> str:
    parts = [f'<p class="sy-said">{escape(question.asks)}</p>']
    lines = [("without it", question.before), ("with it", question.after)]
    table = "".join(
        f'<tr><th scope="row">{name}</th><td>{_answer(weighing)}</td></tr>'
        for name, weighing in lines
    )
    parts.append(f"<table><tbody>{table}</tbody></table>")
    if question.why_not:
        parts.append(f"<p>{escape(question.why_not)}</p>")
    parts += [f"<p>Not pooled: {escape(reason)}.</p>" for reason in question.left_out]
    parts.append(question.picture(width="phone"))
    return "".join(parts)


def _answer(weighing) -> str:
    if weighing is None:
        return "nothing to pool"
    return escape(
        f"{weighing.text(weighing.estimate)}, {100 * weighing.level:g} % interval "
        f"{weighing.span(weighing.low, weighing.high)}; "
        f"{count(weighing.k_studies, 'study', 'studies')}"
    )
