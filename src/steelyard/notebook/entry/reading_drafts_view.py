"""Second readings begun and not kept yet, offered again above the blind form."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from pathlib import Path

import ipywidgets as widgets

from steelyard.notebook.entry.field import button, row, words
from steelyard.notebook.entry.opening import when_typed
from steelyard.notebook.entry.reading_draft import Typed, from_draft
from steelyard.notebook.entry.state import FormState
from steelyard.records.drafts import READING_DRAFTS_FOLDER, Draft, drafts

MOST_DRAFTS, MOST_NUMBERS = 6, 60


def begun_part(
    folder: str | Path,
    blank: FormState,
    *,
    study_id: str,
    but: str,
    go_on: Callable[[Draft, Typed], None],
    drop: Callable[[Draft], None],
) -> widgets.Widget | None:
    """What was begun, with buttons to go on with it; None where there is nothing.

    Parameters
    ----------
    folder : str or Path
        The library.
    blank : FormState
        The blind form of the study as it now is.
    study_id : str
    but : str
        Id of the draft that is typed into now; empty for none.
    go_on, drop : callable
        Called with the draft that a person chose.
    """
    kept = drafts(folder, place=READING_DRAFTS_FOLDER)
    found = [draft for draft in kept if draft.study == study_id and draft.id != but]
    if not found:
        return None
    lines = [_line(draft, blank, go_on, drop) for draft in found[:MOST_DRAFTS]]
    box = widgets.VBox([words("<h4>Not finished yet</h4>"), *lines])
    box.add_class("sy-note")
    return box


def _line(
    draft: Draft,
    blank: FormState,
    go_on: Callable[[Draft, Typed], None],
    drop: Callable[[Draft], None],
) -> widgets.Widget:
    typed = from_draft(draft.form, blank)
    who = typed.reader.strip()[:60] or "a reader without a name yet"
    said = f"<p>{escape(who)}, last typed in {escape(when_typed(draft))}</p>"
    away = button("Throw it away", lambda: drop(draft))
    if typed.fits:
        return row(words(said), button(f"Go on as {who}", lambda: go_on(draft, typed)), away)
    numbers = "".join(f"<li>{escape(each[:200])}</li>" for each in typed.numbers[:MOST_NUMBERS])
    said += (
        "<p>The study has other arms, outcomes, weeks or comparisons since, so it is not filled "
        f"in. Typed were:</p><ul>{numbers}</ul>"
    )
    return row(words(said), away)
