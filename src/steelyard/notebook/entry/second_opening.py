"""``second_reading("id")``: a blind form, and below it what two readers disagree on."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from html import escape

import ipywidgets as widgets

from steelyard.errors import SteelyardError, UsageError
from steelyard.library import Library, open_library
from steelyard.notebook.entry import look
from steelyard.notebook.entry.blind import blind_form, blind_results
from steelyard.notebook.entry.build import marks_of
from steelyard.notebook.entry.field import (
    Field,
    button,
    card,
    choice_field,
    forget_layouts,
    row,
    text_field,
    words,
)
from steelyard.notebook.entry.grid_view import GridView
from steelyard.notebook.entry.keyboard import Keyboard
from steelyard.notebook.entry.opening import as_form
from steelyard.notebook.entry.problem import Problem
from steelyard.notebook.opening import library_in_use
from steelyard.records.reading import read_text
from steelyard.records.saving import study_path
from steelyard.records.second_reading import (
    Disagreement,
    disagreements,
    find_reading,
    keep_second_reading,
    settle,
)
from steelyard.show import count

_LOG = logging.getLogger(__name__)
_KEEP = (("the first reader", "first"), ("the second reader", "second"))


class SecondReadingPage:
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
        self.state = blind_form(read_text(path, file=path.name))
        self.fields: dict[str, Field] = {}
        self.grid_messages: dict[str, widgets.HTML] = {}
        self.standing: dict[str, Problem] = {}
        self.grids: dict[str, GridView] = {}
        self.reader = ""
        self.message = words("", classes=("sy-message",))
        self.apart = widgets.VBox([])
        self.body = widgets.VBox([])
        self.body.add_class("sy-typed")
        head = f"<h2>Second reading</h2><p>{escape(self.study.source.title)}</p>"
        self.widget = widgets.VBox(
            [words(look.STYLE), words(head), self.body, self.message, self.apart, Keyboard()]
        )
        self.widget.add_class(look.FORM)
        if reading.read is None:
            self._draw()
        self._show_apart()

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict:
        return as_form(self.widget, repr(self))

    def __repr__(self) -> str:
        return "The form for reading a study a second time; it shows in JupyterLab."

    def _draw(self) -> None:
        name = text_field("reader", "Your name", "", self._named, width="220px")
        cards = []
        for outcome in self.state.outcomes:
            self.grids[outcome.key] = grid = GridView(self, outcome)
            unit = f", {outcome.unit}" if outcome.unit else ""
            about = f"{outcome.label or outcome.measure or outcome.id}{unit}, week {outcome.weeks}"
            cards.append(card(about, grid.widget, grid.beside))
        said = "<p>Type what you read in the paper; the first reader's numbers are not shown.</p>"
        self.body.children = (
            card("The second reader", words(said), row(name.widget)),
            *cards,
            row(button("Keep my reading", self.keep, main=True)),
        )

    def adopt(self, field: Field) -> Field:
        """Take care of a field: messages for it will be shown."""
        self.fields[field.name] = field
        return field

    def typing(self, values: dict[str, str], key: str):
        """What to call when a value of a dict of texts is typed."""

        def typed(text: str) -> None:
            with self.guarded():
                values[key] = text
                self.changed()

        return typed

    def changed(self) -> None:
        """Show what cannot be read, and how the rest was understood."""
        _, problems = blind_results(self.state, self.library.vocabulary)
        found: dict[str, list[Problem]] = {}
        for problem in (*problems, *self.standing.values()):
            found.setdefault(problem.field, []).append(problem)
        marks = marks_of(self.state)
        for name, field in self.fields.items():
            also = ""
            if name.startswith("cell.") and name not in found:
                _, key, arm, column = name.split(".", 3)
                also = self.grids[key].read_back(arm, column, marks)
            field.show(found.get(name, ()), also=also)

    def redraw_grid(self, key: str) -> None:
        """Make one outcome's grid anew."""
        for name in [name for name in self.fields if name.startswith((f"cell.{key}.", "detail."))]:
            del self.fields[name]
        self.grids[key].draw()

    def keep(self) -> None:
        """Keep the reading and show where the two differ."""
        with self.guarded():
            results, problems = blind_results(self.state, self.library.vocabulary)
            if problems:
                self.tell("Not kept: some numbers cannot be read.")
                return
            keep_second_reading(self.library.folder, self.study, results, by=self.reader)
            self.body.children = ()
            self.tell("Kept.")
            self._show_apart()

    @contextmanager
    def guarded(self) -> Iterator[None]:
        """Whatever goes wrong inside is told in words."""
        try:
            yield
        except SteelyardError as error:
            self.tell(str(error))
        except Exception:
            _LOG.debug("the second reading could not do what was asked", exc_info=True)
            self.tell("That did not work. What you typed is still in the boxes.")

    def tell(self, text: str) -> None:
        """Say something below the form."""
        self.message.value = f'<span class="needed" role="status">{escape(text)}</span>'

    def _named(self, text: str) -> None:
        self.reader = text

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
                settle(folder, cell, study_id=study_id, **chosen)
                self.library = open_library(folder)
                self.study = self.library.records.find("study", study_id)
                self.tell(f"Settled: {cell.place}.")
                self._show_apart()

        made = widgets.VBox([words(said), row(keep.widget, note.widget, button("Settle it", done))])
        made.add_class("sy-part")
        return made


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
