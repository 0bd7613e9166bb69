"""``second_reading("id")``: a blind form, and below it what two readers disagree on."""

from __future__ import annotations

import logging
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from html import escape

import ipywidgets as widgets

from steelyard.errors import RecordError, SteelyardError, UsageError
from steelyard.library import Library, open_library
from steelyard.notebook.entry import look
from steelyard.notebook.entry.blind import BlindReading, blind_form, read_blind
from steelyard.notebook.entry.blind_comparisons import BlindComparisons
from steelyard.notebook.entry.boxes import Boxes
from steelyard.notebook.entry.build import marks_of
from steelyard.notebook.entry.field import (
    button,
    card,
    choice_field,
    forget_layouts,
    row,
    text_field,
    words,
)
from steelyard.notebook.entry.form import DRAFT_LONGEST_S, DRAFT_PAUSE_S
from steelyard.notebook.entry.grid_view import GridView
from steelyard.notebook.entry.keyboard import Keyboard
from steelyard.notebook.entry.later import Later
from steelyard.notebook.entry.opening import as_form
from steelyard.notebook.entry.problem import Problem
from steelyard.notebook.entry.reading_draft import Typed, as_draft, go_on
from steelyard.notebook.entry.reading_drafts_view import begun_part
from steelyard.notebook.opening import library_in_use
from steelyard.records.disagreement import Disagreement, disagreements
from steelyard.records.drafts import (
    READING_DRAFTS_FOLDER,
    Draft,
    drop_draft,
    keep_draft,
    new_draft_id,
)
from steelyard.records.reading import read_text
from steelyard.records.saving import study_path
from steelyard.records.second_reading import find_reading, keep_second_reading
from steelyard.records.settling import settle
from steelyard.show import count

_LOG = logging.getLogger(__name__)
_KEEP = (("the first reader", "first"), ("the second reader", "second"))


class SecondReadingPage(Boxes):
    """The blind form of one study.

    Parameters
    ----------
    library : Library
    study_id : str
        Of a study marked for a second reader.
    """

    def __init__(self, library: Library, study_id: str) -> None:
        forget_layouts()
        self.library = library
        self.study = library.records.find("study", study_id)
        reading = find_reading(library.folder, study_id)
        if reading is None:
            raise UsageError(
                f"nobody asked for a second reading of {study_id!r}: open it with "
                f'enter_study("{study_id}") and ask there'
            )
        path = study_path(library.folder, study_id)
        self._text = read_text(path, file=path.name)
        super().__init__(blind_form(self._text))
        self.listed = tuple(each.key for each in self.state.comparisons)
        self.asked_to_keep = False
        self.grids: dict[str, GridView] = {}
        self.reader = ""
        self.draft_id = ""
        self._keep = Later(self._keep_draft, pause_s=DRAFT_PAUSE_S, longest_s=DRAFT_LONGEST_S)
        self.comparisons: BlindComparisons | None = None
        self.message = words("", classes=("sy-message",))
        self.apart = widgets.VBox([])
        self.body = widgets.VBox([])
        self.body.add_class("sy-typed")
        self.notice = widgets.VBox([])
        head = f"<h2>Second reading</h2><p>{escape(self.study.source.title)}</p>"
        self.widget = widgets.VBox(
            [
                *(words(look.STYLE), words(head), self.notice),
                *(self.body, self.message, self.apart, Keyboard()),
            ]
        )
        self.widget.add_class(look.FORM)
        if reading.read is None:
            self._draw()
            self._offer()
        self._show_apart()

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict:
        return as_form(self.widget, repr(self))

    def __repr__(self) -> str:
        return "The form for reading a study a second time; it shows in JupyterLab."

    def _draw(self) -> None:
        name = text_field("reader", "Your name", self.reader, self._named, width="220px")
        cards = []
        for outcome in self.state.outcomes:
            if not outcome.weeks:
                # The first reader has no result for it, so no week to read one at.
                continue
            self.grids[outcome.key] = grid = GridView(self, outcome)
            unit = f", {outcome.unit}" if outcome.unit else ""
            about = f"{outcome.label or outcome.measure or outcome.id}{unit}, week {outcome.weeks}"
            cards.append(card(about, grid.widget, grid.beside))
        self.comparisons = BlindComparisons(self, self.listed)
        said = "<p>Type what you read in the paper; the first reader's numbers are not shown.</p>"
        self.body.children = (
            card("The second reader", words(said), row(name.widget)),
            *cards,
            self.comparisons.widget,
            row(button("Keep my reading", self.keep, main=True)),
        )

    def _offer(self) -> None:
        """Offer what was begun, whole, before anything else is typed."""
        part = begun_part(
            self.library.folder,
            blind_form(self._text),
            study_id=self.study.id,
            but=self.draft_id,
            go_on=self._go_on,
            drop=self._drop,
        )
        self.notice.children = [] if part is None else [part]

    def _go_on(self, draft: Draft, typed: Typed) -> None:
        """Fill the form with what was typed; what stands in it now stays a draft of its own."""
        with self.guarded():
            if self.draft_id:
                self._keep.now()
            self.state = blind_form(self._text)
            go_on(self.state, typed)
            self.reader, self.draft_id = typed.reader, draft.id
            self.fields.clear()
            self.folds.clear()
            self.standing.clear()
            self.grid_messages.clear()
            self.unfolded.clear()
            self.notice.children = []
            self._draw()
            self._show(self._read())

    def _drop(self, draft: Draft) -> None:
        with self.guarded():
            drop_draft(self.library.folder, draft.id, place=READING_DRAFTS_FOLDER)
            self._offer()

    def changed(self) -> None:
        """Keep what is typed, show what cannot be read, and how the rest was understood."""
        self._typed()
        self.redraw()

    def redraw(self) -> None:
        """Show messages anew, as a part that opens or closes must."""
        self._show(self._read())

    def _typed(self) -> None:
        if not self.draft_id:
            self.draft_id = new_draft_id(self.study.id)
            self._keep.now()
        else:
            self._keep.ask()

    def _keep_draft(self) -> None:
        if self.draft_id:
            with self.guarded():
                keep_draft(
                    self.library.folder,
                    self.draft_id,
                    as_draft(self.state, reader=self.reader, listed=self.listed),
                    study=self.study.id,
                    title=self.reader,
                    place=READING_DRAFTS_FOLDER,
                )

    def _read(self) -> BlindReading:
        vocabulary = self.library.vocabulary
        return read_blind(self.state, vocabulary, listed=self.listed)

    def _show(self, read: BlindReading) -> None:
        marks = marks_of(self.state)

        def read_back(name: str) -> str:
            if name.startswith("cell."):
                _, key, arm, column = name.split(".", 3)
                return self.grids[key].read_back(arm, column, marks)
            if name.startswith("comparison."):
                return self.comparisons.boxes.read_back(name, marks)
            return ""

        self.show_problems(read.problems, needed=self.asked_to_keep, read_back=read_back)
        for grid in self.grids.values():
            grid.show(marks)

    def redraw_grid(self, key: str) -> None:
        """Make one outcome's grid anew."""
        for start in (f"cell.{key}.", f"detail.{key}."):
            self.forget(start)
        self.grids[key].draw()

    def keep(self) -> None:
        """Keep the reading and show where the two differ."""
        with self.guarded():
            self.asked_to_keep = True
            read = self._read()
            self._show(read)
            if read.problems:
                self.tell(_not_kept(read.problems, self.fields))
                return
            keep_second_reading(
                self.library.folder,
                self.study,
                read.results,
                comparisons=read.comparisons,
                by=self.reader,
            )
            drafted, self.draft_id = self.draft_id, ""
            self._keep.stop()
            if drafted:
                drop_draft(self.library.folder, drafted, place=READING_DRAFTS_FOLDER)
            self.body.children = self.notice.children = ()
            self.tell("Kept.")
            self._show_apart()

    @contextmanager
    def guarded(self) -> Iterator[None]:
        """Whatever goes wrong inside is told in words."""
        try:
            yield
        except RecordError as error:
            self.tell("; ".join(finding.message for finding in error.findings))
        except SteelyardError as error:
            self.tell(str(error))
        except Exception:
            _LOG.debug("the second reading could not do what was asked", exc_info=True)
            self.tell("That did not work. What you typed is still in the boxes.")

    def tell(self, text: str) -> None:
        """Say something below the form."""
        self.message.value = f'<span class="needed" role="status">{escape(text)}</span>'

    def _named(self, text: str) -> None:
        with self.guarded():
            self.reader = text
            self._typed()

    def _show_apart(self) -> None:
        reading = find_reading(self.library.folder, self.study.id)
        if reading is None or reading.read is None:
            self.apart.children = ()
            return
        open_cells = disagreements(self.study, reading)
        told = count(len(open_cells), "cell") + (
            " read differently" if open_cells else " read differently: the two readings agree"
        )
        self.apart.children = (card(told, *(self._settling(cell) for cell in open_cells[:60])),)

    def _settling(self, cell: Disagreement) -> widgets.Widget:
        chosen = {"keep": "first", "note": ""}
        said = (
            f"<h4>{escape(cell.place)}</h4><p>first reader {escape(cell.first or 'nothing')}, "
            f"second reader {escape(cell.second or 'nothing')}</p>"
        )
        keep = choice_field(
            "keep",
            "Right is",
            "first",
            _KEEP,
            lambda value: chosen.update(keep=value),
            width="190px",
        )
        note = text_field("note", "Why", "", lambda value: chosen.update(note=value))

        def done() -> None:
            with self.guarded():
                folder, study_id = self.library.folder, self.study.id
                before = len(find_reading(folder, study_id).settled)
                settled = settle(folder, cell, study_id=study_id, **chosen).settled[before:]
                self.library = open_library(folder)
                self.study = self.library.records.find("study", study_id)
                also = [each.cell for each in settled[1:]]
                with_it = f", and with it {', '.join(also)}" if also else ""
                self.tell(f"Settled: {cell.place}{with_it}.")
                self._show_apart()

        made = widgets.VBox([words(said), row(keep.widget, note.widget, button("Settle it", done))])
        made.add_class("sy-part")
        return made


def _not_kept(problems: Sequence[Problem], shown: Collection[str]) -> str:
    """That it was not kept, and what is said beside no box on the page."""
    said = [each.message for each in problems if each.field not in shown]
    return " ".join(["Not kept: some numbers cannot be read, or lack something.", *said])


def second_reading(study_id: str) -> SecondReadingPage:
    """The blind form for reading a study's numbers again, and the settling of differences.

    Parameters
    ----------
    study_id : str
        Of a study that was marked for a second reader.

    Raises
    ------
    UsageError
        If the library has no such study, or nobody asked for a second reading of it.
    """
    return SecondReadingPage(library_in_use(), study_id)
