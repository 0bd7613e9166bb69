"""Typing into the form's widgets as the page would, and reading what it shows."""

from __future__ import annotations

import asyncio
import html
import re
from collections.abc import Mapping


def put(form, name: str, text: str) -> None:
    """Type into one box; where headings hold a choice that the form does not watch, choose it."""
    if name.startswith("style."):
        _, outcome, column = name.split(".", 2)
        style_box(form, outcome, column).value = text
        return
    if name not in form.fields and name.startswith("comparison."):
        box_by_label(form.comparisons.widget, "Kind of effect").value = text
        return
    form.fields[name].box.value = text


def type_all(form, texts: Mapping[str, str]) -> None:
    """Type many boxes as fast typing does: what is shown follows once, at the end."""

    async def fast() -> None:
        for name, text in texts.items():
            put(form, name, text)

    asyncio.run(fast())
    form._keep.now()
    form._redraw.now()


def style_box(form, outcome: str, column: str):
    """The choice of how a column of an outcome's grid prints spread."""
    grid = form.outcomes.grids[outcome]
    at = grid.outcome.columns().index(column)
    return grid.grid.children[1 + at].children[0]


def box_by_label(widget, label: str):
    """The first box below a widget with that label."""
    if getattr(widget, "description", None) == label:
        return widget
    for child in getattr(widget, "children", ()):
        found = box_by_label(child, label)
        if found is not None:
            return found
    return None


def unfold(form) -> None:
    """Open every folded part; what is shown follows once, at the end."""
    form.redraw = lambda: None
    try:
        for name, fold in tuple(form.folds.items()):
            if name not in form.unfolded:
                fold.toggle()
    finally:
        del form.redraw
    form.redraw()


def words_of(shown) -> str:
    """The text of a piece of markup, white space closed up."""
    text = html.unescape(re.sub(r"<(?!br)[^>]+>", "", shown.value.replace("<br>", " ")))
    return " ".join(text.split())
