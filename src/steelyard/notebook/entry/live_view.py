"""The part beside the form: what the study says so far and what it does to the answers."""

from __future__ import annotations

from html import escape

import ipywidgets as widgets

from steelyard.notebook.entry.doubts import said_in_form
from steelyard.notebook.entry.field import button, row, words
from steelyard.notebook.entry.live import Live, LiveQuestion
from steelyard.notebook.entry.live_effects import LiveChange, LiveEffect, LiveOutcome
from steelyard.notebook.entry.live_sizes import Size
from steelyard.show import count

_EMPTY = (
    "<h3>What it says</h3><p>Nothing yet. Once an arm and an outcome have numbers, each effect "
    "stands here with its interval and how it was reached, and below it what the study does to "
    "each question it touches.</p>"
)
MOST_FINDINGS = 100
_READ_SO = (
    "<p>With 95 % intervals. SDs above 0 favour the arm named first; units, percent and ratios "
    "run as the paper measured them.</p>"
)
_INSIDE = {
    "change": "the group’s own change, not an effect of training",
    "correlation": "inside the group",
}
_IN_FULL = "Say how earlier weeks were reached"
_SIZES_ONLY = "Only the sizes of earlier weeks"


class LiveView:
    """Effects, findings and questions, redrawn while typing."""

    def __init__(self) -> None:
        self.says = words(_EMPTY)
        self.asks = words("")
        self.does = words("")
        self.wide = words("")
        self.wide.add_class("sy-wide")
        self._is_wide, self._in_full, self._live = False, False, None
        # It scrolls, so there must be something in it that the keyboard can reach.
        self.widen = button("Forest plot at full width", self._widen)
        self.fill_in = button(_IN_FULL, self._fill_in)
        self.more = row()
        self.widget = widgets.VBox([self.says, self.more, self.asks, self.does, row(self.widen)])
        self.widget.add_class("sy-live")

    def show(self, live: Live | None) -> None:
        """Show what was found; None before there is anything to look at."""
        self._live = live
        says, asks, does, wide = _EMPTY, "", "", ""
        if live is not None and (live.outcomes or live.findings):
            says, asks = _effects(live, in_full=self._in_full), _findings(live)
        if live is not None:
            does = _questions(live.questions)
            if self._is_wide:
                wide = "".join(question.picture() for question in live.questions)
        shown = ((self.says, says), (self.asks, asks), (self.does, does), (self.wide, wide))
        for part, html in shown:
            if part.value != html:
                part.value = html
        earlier = live is not None and any(map(_has_earlier, live.outcomes))
        buttons = (self.fill_in,) if earlier else ()
        if self.more.children != buttons:
            self.more.children = buttons

    def cannot(self, why: str = "") -> None:
        """Say that nothing can be told from what is typed so far."""
        self.show(None)
        told = f" {why}" if why else ""
        self.says.value = (
            "<h3>What it says</h3><p>The numbers typed so far cannot be worked out together."
            f"{escape(told)} What you typed is kept; look at the messages beside the boxes.</p>"
        )

    def _fill_in(self) -> None:
        """Say of earlier weeks too how each was reached, or no longer."""
        self._in_full = not self._in_full
        self.fill_in.description = _SIZES_ONLY if self._in_full else _IN_FULL
        self.show(self._live)

    def _widen(self) -> None:
        """Show the forest plots below the form as well, or only here again."""
        self._is_wide = not self._is_wide
        self.widen.description = (
            "Forest plot only here" if self._is_wide else "Forest plot at full width"
        )
        self.show(self._live)


def _has_earlier(outcome: LiveOutcome) -> bool:
    return not all(each.last for each in (*outcome.effects, *outcome.changes))


def _effects(live: Live, *, in_full: bool) -> str:
    blocks = "".join(_outcome(outcome, in_full=in_full) for outcome in live.outcomes)
    sized = any(outcome.effects or outcome.changes for outcome in live.outcomes)
    return f"<h3>What it says</h3>{_READ_SO if sized else ''}{blocks}"


def _outcome(outcome: LiveOutcome, *, in_full: bool) -> str:
    """All of one outcome: each comparison with its last week, earlier ones small below it."""
    less = ' <span class="how">less is better</span>' * outcome.lower_is_better
    parts = [f"<h4>{escape(outcome.name)}{less}</h4>"]
    for told in (outcome.effects, outcome.changes):
        by_comparison = dict.fromkeys(map(_whose, told))
        for whose in by_comparison:
            latest, *earlier = (each for each in told if _whose(each) == whose)
            parts.append(
                f'<div class="told">{_last(latest)}{_earlier(earlier, in_full=in_full)}</div>'
            )
    parts += [
        f'<p class="how">No effect yet: {escape(reason)}</p>' for reason in outcome.not_formed
    ]
    return "".join(parts)


def _whose(told: LiveEffect | LiveChange) -> str:
    if isinstance(told, LiveEffect):
        return told.comparison
    return f"{told.arm}: {_INSIDE[told.kind]}"


def _last(told: LiveEffect | LiveChange) -> str:
    lines = [
        f"{escape(_whose(told))}, week {told.week:g}",
        f'<span class="size">{escape(told.main.text)}</span>',
        *map(_also, told.also),
        *_how(told),
    ]
    return "<br>".join(lines)


def _also(size: Size) -> str:
    of = f" {escape(size.of)}" * bool(size.of)
    how = f' <span class="how">{escape(size.how)}</span>' * bool(size.how)
    return f'<span class="also">{escape(size.text)}</span>{of}{how}'


def _how(told: LiveEffect | LiveChange) -> list[str]:
    """How it was reached, what was assumed, and what else to mind."""
    mind = told.mind if isinstance(told, LiveEffect) else ""
    said = [told.route]
    said += [f"Assumed: {told.assumed}"] if told.assumed else []
    said += [f"Mind: {mind}"] if mind else []
    return [f'<span class="how">{escape(each)}</span>' for each in said]


def _earlier(told: list[LiveEffect | LiveChange], *, in_full: bool) -> str:
    """Earlier weeks in rows of their own, with how each was reached only if asked for."""
    if not told:
        return ""
    rows = "".join(
        f'<tr><th scope="row">week {each.week:g}</th><td>'
        + "; ".join(escape(size.text) for size in (each.main, *each.also))
        + "".join(f"<br>{line}" for line in _how(each) if in_full)
        + "</td></tr>"
        for each in told
    )
    return f'<table class="earlier"><tbody>{rows}</tbody></table>'


def _findings(live: Live) -> str:
    if not live.findings:
        return "<h4>Look again</h4><p>The checks find nothing to ask about.</p>"
    items = "".join(
        f'<li><span class="{escape(finding.severity)}">{escape(said_in_form(finding))}</span>'
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
