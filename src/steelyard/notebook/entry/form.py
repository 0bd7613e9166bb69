"""The form as a whole: what is typed goes into the state, and everything shown follows it."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from html import escape

import ipywidgets as widgets

from steelyard.errors import SteelyardError
from steelyard.library import Library
from steelyard.notebook.entry import look
from steelyard.notebook.entry.about_view import AboutView, words_card
from steelyard.notebook.entry.appraisal_view import AppraisalView
from steelyard.notebook.entry.arms_view import ArmsView
from steelyard.notebook.entry.boxes import Boxes
from steelyard.notebook.entry.build import Built, build, marks_of
from steelyard.notebook.entry.comparisons_view import ComparisonsView
from steelyard.notebook.entry.doubts import doubts
from steelyard.notebook.entry.field import forget_layouts, words
from steelyard.notebook.entry.keyboard import Keyboard
from steelyard.notebook.entry.later import Later
from steelyard.notebook.entry.live import LiveLibrary
from steelyard.notebook.entry.live_view import LiveView
from steelyard.notebook.entry.outcomes_view import OutcomesView
from steelyard.notebook.entry.problem import Problem
from steelyard.notebook.entry.saving_view import SavingView
from steelyard.notebook.entry.state import FormState
from steelyard.notebook.entry.words import NewWords
from steelyard.records.drafts import keep_draft, new_draft_id
from steelyard.records.vocabulary import Vocabulary

_LOG = logging.getLogger(__name__)
_CHOOSING = ("comparison.", "exception.", "overruling.")
REDRAW_PAUSE_S = 0.2
DRAFT_PAUSE_S = 0.15
DRAFT_LONGEST_S = 1.0


class EntryForm(Boxes):
    """A form for one study.

    Parameters
    ----------
    library : Library
    state : FormState
    draft_id : str
        Of the draft that is gone on with; empty for none.
    """

    def __init__(self, library: Library, state: FormState, *, draft_id: str = "") -> None:
        forget_layouts()
        super().__init__(state)
        self.library = library
        self.draft_id = draft_id
        self.words = NewWords(library.vocabulary, state)
        self.live = LiveLibrary(library, state.editing)
        self.asked_to_save = False
        self.built: Built | None = None
        self._redraw = Later(self.redraw, pause_s=REDRAW_PAUSE_S)
        self._keep = Later(self._keep_draft, pause_s=DRAFT_PAUSE_S, longest_s=DRAFT_LONGEST_S)
        self.saving = SavingView(self)
        self.arms = ArmsView(self)
        self.outcomes = OutcomesView(self)
        self.comparisons = ComparisonsView(self)
        self.appraisal = AppraisalView(self)
        self.live_view = LiveView()
        typed = widgets.VBox(
            [
                *AboutView(self).widgets,
                self.arms.widget,
                self.outcomes.widget,
                self.comparisons.widget,
                self.appraisal.widget,
                words_card(self),
                self.saving.widget,
            ]
        )
        typed.add_class("sy-typed")
        columns = widgets.Box([typed, self.live_view.widget])
        columns.add_class("sy-columns")
        self.notice = widgets.VBox([])
        self.title = words("")
        self.widget = widgets.VBox(
            [
                words(look.STYLE),
                self.title,
                self.notice,
                columns,
                self.live_view.wide,
                Keyboard(),
            ]
        )
        self.widget.add_class(look.FORM)
        self.redraw()

    @property
    def vocabulary(self) -> Vocabulary:
        """The library's words with those added here."""
        return self.words.vocabulary

    def changed(self) -> None:
        """Something was typed: keep it, and show what follows once typing pauses."""
        self.saving.typed()
        if not self.draft_id:
            self.draft_id = new_draft_id(self.state.editing)
            self._keep.now()
        else:
            self._keep.ask()
        self._redraw.ask()

    def redraw(self) -> None:
        """Read the form and show messages, effects, findings and questions."""
        with self.guarded():
            self.built = build(self.state, self.vocabulary, taken=self.library.studies.keys())
            self.comparisons.show()
            self.appraisal.show(self.built)
            asked = self._look(self.built)
            self._show_problems(self.built, asked)
            self.saving.show(self.built, asked)
            heading = "Change a study" if self.state.editing else "Enter a study"
            name = self.state.editing or self.built.values.get("id", "")
            self.title.value = (
                f"<h2>{heading}</h2><p>{escape(name) or 'Blank boxes mean not reported.'}</p>"
            )

    def _look(self, built: Built) -> tuple[Problem, ...]:
        """Show what the study says, or in words that it cannot be told from these numbers.

        Returns what the checks ask about it, for the fields.
        """
        try:
            looked = self.live.look(built.study, self.vocabulary) if built.study else None
        except SteelyardError as refused:
            self.live_view.cannot(str(refused))
        except Exception:
            _LOG.debug("the study being typed could not be looked at", exc_info=True)
            self.live_view.cannot()
        else:
            self.live_view.show(looked)
            return doubts(looked.findings, built, self.state) if looked else ()
        return ()

    @contextmanager
    def guarded(self) -> Iterator[None]:
        """Whatever goes wrong inside is told in words; what was typed stays."""
        try:
            yield
        except SteelyardError as error:
            self.saving.tell(str(error))
        except Exception:
            _LOG.debug("the form could not do what was asked", exc_info=True)
            self.saving.tell("That did not work. What you typed is kept.")

    def word_options(self, kind: str, none: str) -> list[tuple[str, str]]:
        """Choices of a kind of word."""
        vocabulary = self.vocabulary
        ids = sorted(vocabulary.words(kind), key=lambda word: vocabulary.label(kind, word))
        return [(none, ""), *((vocabulary.label(kind, word), word) for word in ids)]

    def add_word(self, kind: str, label: str) -> bool:
        """Add a word to the vocabulary; False where it is refused, with the reason shown."""
        problem = self.words.add(kind, label)
        self.standing["word.label"] = problem
        if problem.kind != "bad":
            self.draw_arms()
        self.changed()
        return problem.kind != "bad"

    def draw_arms(self) -> None:
        """Make arms and grids anew."""
        self.arms.draw()
        self.draw_outcomes()

    def draw_outcomes(self) -> None:
        """Make the grids, and what is chosen among arms and outcomes, anew."""
        self.outcomes.draw()
        self.comparisons.draw()
        self.appraisal.draw()
        self.changed()

    def rename_arms(self) -> None:
        """Show changed names of arms."""
        self.outcomes.rename_arms()
        self.rename()

    def rename(self) -> None:
        """Show changed names wherever arms and outcomes are chosen."""
        for name, field in self.fields.items():
            key = name.rpartition(".")[2]
            if name.startswith("comparison.") and key in ("intervention", "comparator"):
                field.offer(self.arm_options())
            elif name.startswith(_CHOOSING) and key == "outcome":
                field.offer(self.outcome_options())

    def redraw_grid(self, key: str) -> None:
        self.outcomes.redraw_grid(key)

    def reload(self, library: Library, state: FormState) -> None:
        """Go on with the study as it now is on disk."""
        self.state, self.draft_id = state, ""
        self.look_into(library)

    def look_into(self, library: Library) -> None:
        """Hold what is typed against the library as it now is."""
        self.library = library
        self.words = NewWords(library.vocabulary, self.state)
        self.live = LiveLibrary(library, self.state.editing)
        self.redraw()

    def _show_problems(self, built: Built, asked: tuple[Problem, ...]) -> None:
        marks, from_design = marks_of(self.state), self.appraisal.from_design()

        def read_back(name: str) -> str:
            if name.startswith("cell."):
                _, key, arm, column = name.split(".", 3)
                return self.outcomes.grids[key].read_back(arm, column, marks)
            if name.startswith("comparison."):
                return self.comparisons.read_back(name, marks)
            return from_design.get(name, "")

        problems = (*built.problems, *asked)
        self.show_problems(problems, needed=self.asked_to_save, read_back=read_back)
        for grid in self.outcomes.grids.values():
            grid.show(marks)

    def _keep_draft(self) -> None:
        if self.draft_id:
            with self.guarded():
                keep_draft(
                    self.library.folder,
                    self.draft_id,
                    self.state.as_json(),
                    study=self.state.editing,
                    title=self.state.title,
                )
