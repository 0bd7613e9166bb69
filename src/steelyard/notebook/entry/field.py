"""One field of the form: a box with its label above and its message below."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cache
from html import escape

import ipywidgets as widgets

from steelyard.notebook.entry.problem import Problem

LONGEST_IN_FORM = 20_000
_ORDER = {"bad": 0, "needed": 1, "doubt": 2, "hint": 3}


@cache
def _layout(width: str) -> widgets.Layout:
    # One layout for many boxes: each would otherwise be a model of its own in the browser.
    if width == "fill":
        return widgets.Layout(width="auto", flex="1 1 240px")
    return widgets.Layout(width=width, flex=f"0 1 {width}")


def forget_layouts() -> None:
    """Start with fresh layouts, as a form in a new kernel or after closing one must."""
    _layout.cache_clear()
    _plain.cache_clear()


@cache
def _plain() -> widgets.Layout:
    return widgets.Layout()


def words(html: str, *, classes: Sequence[str] = ()) -> widgets.HTML:
    """Words on the page; what people typed must be escaped before it comes here."""
    shown = widgets.HTML(html, layout=_plain())
    for name in classes:
        shown.add_class(name)
    return shown


class Field:
    """A labelled box.

    Parameters
    ----------
    name : str
        The field's name, as problems give it.
    box : ipywidgets widget
        With a ``value`` and a ``description``, which is the label.
    typed : callable
        Called with the new value, as text, at each change.
    width : str
        CSS width, or ``fill``.
    named_only : bool
        Whether headings beside it show the label, so that the box has it for its name alone.
    """

    def __init__(
        self,
        name: str,
        box: widgets.ValueWidget,
        typed: Callable[[str], None],
        *,
        width: str = "fill",
        named_only: bool = False,
    ) -> None:
        self.name, self.box, self._typed = name, box, typed
        box.layout = _plain()
        box.add_class("sy-box")
        if named_only:
            box.add_class("sy-named")
        self.message = words("", classes=("sy-message",))
        self.widget = widgets.VBox([box, self.message], layout=_layout(width))
        self.widget.add_class("sy-field")
        self._bad = False
        box.observe(self._changed, "value")

    def show(self, problems: Iterable[Problem], *, also: str = "") -> None:
        """Show what is wrong in words; `also` is what was understood, where nothing is wrong.

        What is only doubted was understood too.
        """
        found = sorted(problems, key=lambda problem: _ORDER[problem.kind])
        html = "<br>".join(
            f'<span class="{problem.kind}">{escape(problem.message)}</span>' for problem in found
        )
        if also and all(problem.kind == "doubt" for problem in found):
            html = "<br>".join(filter(None, (f'<span class="read">{escape(also)}</span>', html)))
        if self.message.value != html:
            self.message.value = html
        bad = any(problem.kind == "bad" for problem in found)
        if bad != self._bad:
            self._bad = bad
            (self.widget.add_class if bad else self.widget.remove_class)("sy-bad")

    def put(self, text: str) -> None:
        """Show another value without taking it for typed."""
        self.box.unobserve(self._changed, "value")
        try:
            self.box.value = text
        finally:
            self.box.observe(self._changed, "value")

    def offer(self, options: Sequence[tuple[str, str]]) -> None:
        """Show other names for the same choices; the first one, which is no choice, stays."""
        value, first = self.box.value, self.box.options[:1]
        shown = [*first, *options]
        if list(self.box.options) == shown or value not in [each for _, each in shown]:
            return
        self.box.unobserve(self._changed, "value")
        try:
            self.box.options = shown
            self.box.value = value
        finally:
            self.box.observe(self._changed, "value")

    def _changed(self, change) -> None:
        self._typed(str(change["new"]))


def text_field(
    name: str,
    label: str,
    value: str,
    typed: Callable[[str], None],
    *,
    width: str = "fill",
    placeholder: str = "",
    named_only: bool = False,
    at_once: bool = True,
) -> Field:
    """A box of one line; `at_once` False waits until the box is left."""
    box = widgets.Text(
        value=one_line(value),
        description=label,
        placeholder=placeholder,
        continuous_update=at_once,
    )
    return Field(name, box, typed, width=width, named_only=named_only)


def area_field(
    name: str,
    label: str,
    value: str,
    typed: Callable[[str], None],
    *,
    placeholder: str,
    rows: int = 3,
) -> Field:
    """A box of several lines."""
    box = widgets.Textarea(
        value=value[:LONGEST_IN_FORM], description=label, placeholder=placeholder, rows=rows
    )
    return Field(name, box, typed)


def choice_field(
    name: str,
    label: str,
    value: str,
    options: Sequence[tuple[str, str]],
    typed: Callable[[str], None],
    *,
    width: str = "fill",
    named_only: bool = False,
) -> Field:
    """A choice of (what is shown, value); a value that is none of them is shown as it is."""
    shown = list(options)
    if value not in [each for _, each in shown]:
        shown.append((value or "not chosen", value))
    box = widgets.Dropdown(options=shown, value=value, description=label)
    return Field(name, box, typed, width=width, named_only=named_only)


def suggesting_field(
    name: str,
    label: str,
    value: str,
    suggestions: Sequence[str],
    typed: Callable[[str], None],
    *,
    width: str = "fill",
    placeholder: str = "",
) -> Field:
    """A box of one line that suggests ids; only ids, whose letters cannot be markup."""
    box = widgets.Combobox(
        value=one_line(value),
        options=tuple(suggestions),
        description=label,
        placeholder=placeholder,
        ensure_option=False,
    )
    return Field(name, box, typed, width=width)


def tick(label: str, value: bool, typed: Callable[[bool], None]) -> widgets.Checkbox:
    """A box to tick."""
    box = widgets.Checkbox(value=value, description=label, indent=False, layout=_plain())
    box.add_class("sy-check")
    box.observe(lambda change: typed(bool(change["new"])), "value")
    return box


def button(label: str, pressed: Callable[[], None], *, main: bool = False) -> widgets.Button:
    """A button."""
    made = widgets.Button(description=label, layout=_plain())
    if main:
        made.add_class("sy-save")
    made.on_click(lambda _: pressed())
    return made


def row(*parts: widgets.Widget) -> widgets.Box:
    """Parts side by side, wrapping where there is no room."""
    box = widgets.Box(list(parts), layout=_plain())
    box.add_class("sy-row")
    return box


def card(heading: str, *parts: widgets.Widget) -> widgets.VBox:
    """A part of the form under a heading of ours."""
    box = widgets.VBox([words(f"<h3>{escape(heading)}</h3>"), *parts], layout=_plain())
    box.add_class("sy-card")
    return box


def one_line(text: str) -> str:
    return " ".join(text.split("\n"))[:LONGEST_IN_FORM]
