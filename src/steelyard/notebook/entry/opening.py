"""``enter_study()``: the form, with drafts offered again."""

from __future__ import annotations

import asyncio
import datetime as dt
from contextlib import suppress
from html import escape

import ipywidgets as widgets

from steelyard.errors import SteelyardError, UsageError
from steelyard.library import Library, open_library
from steelyard.notebook.entry.field import button, row, words
from steelyard.notebook.entry.form import EntryForm
from steelyard.notebook.entry.loading import form_of_study
from steelyard.notebook.entry.removed_view import Removed, removed_part, still_removed
from steelyard.notebook.entry.state import FormState
from steelyard.notebook.opening import library_in_use
from steelyard.records.drafts import Draft, drafts, drop_draft
from steelyard.records.reading import read_text
from steelyard.records.saving import bring_back, open_study, study_path

MOST_DRAFTS = 12


class EntryPage:
    """What the cell shows: the form, and above it the drafts there are.

    Parameters
    ----------
    library : Library
    study_id : str
        Of the study to change; empty for a new one.
    """

    def __init__(self, library: Library, study_id: str = "") -> None:
        self.library, self.study_id = library, study_id
        self.place = widgets.VBox([])
        self.form = self._open(self._fresh())
        self._offer()

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict:
        with suppress(RuntimeError):
            asyncio.get_running_loop().call_later(0.5, self._warm_up)
        return as_form(self.place, repr(self))

    def __repr__(self) -> str:
        return "The form for entering a study; it shows in JupyterLab."

    def _fresh(self) -> FormState:
        if not self.study_id:
            return FormState.blank()
        folder = self.library.folder
        if any(removed.study == self.study_id for removed in still_removed(folder)):
            raise UsageError(
                f"the study {self.study_id!r} was removed: enter_study() offers to bring it back"
            )
        opened = open_study(folder, self.study_id)
        path = study_path(folder, self.study_id)
        return form_of_study(read_text(path, file=path.name), mark=opened.mark)

    def _open(self, state: FormState, draft_id: str = "") -> EntryForm:
        form = EntryForm(self.library, state, draft_id=draft_id)
        self.place.children = (form.widget,)
        return form

    def _offer(self) -> None:
        """Offer drafts, and, where no study was asked for, what was removed."""
        parts = [self._drafts()]
        if not self.study_id:
            parts.append(removed_part(self.library.folder, self._bring))
        self.form.notice.children = [part for part in parts if part is not None]

    def _bring(self, removed: Removed) -> None:
        """Bring a removed study back; what is typed in the form stays."""
        with self.form.guarded():
            bring_back(self.library.folder, removed.copy)
            self.library = open_library(self.library.folder)
            self.form.look_into(self.library)
            self._offer()
            self.form.saving.tell(
                f'Brought back {removed.study}: enter_study("{removed.study}") opens it.',
                good=True,
            )

    def _drafts(self) -> widgets.Widget | None:
        """The drafts of this study, or, for a new one, all drafts there are."""
        found = [
            draft
            for draft in drafts(self.library.folder)
            if draft.id != self.form.draft_id
            and (not self.study_id or draft.study == self.study_id)
        ]
        if not found:
            return None
        lines = [self._line(draft) for draft in found[:MOST_DRAFTS]]
        box = widgets.VBox([words("<h4>Not finished yet</h4>"), *lines])
        box.add_class("sy-note")
        return box

    def _line(self, draft: Draft) -> widgets.Widget:
        title = draft.title or "without a title"
        about = f"changes {draft.study}, " if draft.study else ""
        said = f"<p>{escape(title[:120])} <br>{escape(about)}last typed in {when_typed(draft)}</p>"
        short = title if len(title) <= 30 else f"{title[:29]}…"

        def go_on() -> None:
            with self.form.guarded():
                self.form = self._open(FormState.from_json(draft.form), draft.id)

        def drop() -> None:
            with self.form.guarded():
                drop_draft(self.library.folder, draft.id)
                self._offer()

        return row(
            words(said), button(f"Go on with “{short}”", go_on), button("Throw it away", drop)
        )

    def _warm_up(self) -> None:
        """Weigh what the first keystroke will need, while the person still reads the paper."""
        with suppress(SteelyardError, ArithmeticError, ValueError):
            self.form.live.warm_up()


def as_form(widget: widgets.Widget, words: str) -> dict:
    """How a notebook shows a form: live where it can, else one sentence instead of its insides."""
    bundle = widget._repr_mimebundle_()
    data = bundle[0] if isinstance(bundle, tuple) else bundle
    return {**data, "text/plain": words}


def enter_study(study_id: str = "") -> EntryPage:
    """The form for entering a study, or for changing one that the library has.

    Parameters
    ----------
    study_id : str, optional
        Id of the study to change.

    Raises
    ------
    UsageError
        If the library has no study by that id.
    RecordError
        If the study's file is no sound record.
    """
    return EntryPage(library_in_use(), study_id)


def when_typed(draft: Draft) -> str:
    """When a draft was last typed in, in words."""
    try:
        moment = dt.datetime.fromisoformat(draft.changed).astimezone()
    except ValueError:
        return "some time ago"
    return f"{moment.day} {moment:%B %Y, %H:%M}"
