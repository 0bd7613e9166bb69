"""The foot of the form: the study's id, saving, and what to do when the file has changed."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.errors import RecordError
from steelyard.library import open_library
from steelyard.notebook.entry.build import Built
from steelyard.notebook.entry.doubts import BELOW
from steelyard.notebook.entry.field import button, row, text_field, words
from steelyard.notebook.entry.problem import Problem
from steelyard.records.drafts import drop_draft
from steelyard.records.reading import read_text
from steelyard.records.saving import (
    Saved,
    bring_back,
    mark_of,
    remove_study,
    replace_study,
    save_study,
    study_path,
)
from steelyard.records.second_reading import ask_second_reading
from steelyard.show import count

if TYPE_CHECKING:
    from steelyard.notebook.entry.form import EntryForm

MOST_DIFFERENCES = 40


class SavingView:
    """Id, save button, messages."""

    def __init__(self, form: EntryForm) -> None:
        self.form = form
        self.id = text_field(
            "study_id",
            "Id of the record",
            form.state.study_id,
            form.typing_attribute(form.state, "study_id"),
            width="220px",
            placeholder="from author and year",
        )
        form.adopt(self.id)
        self.id.box.disabled = bool(form.state.editing)
        self.invented = widgets.Checkbox(
            value=form.state.invented == "yes", description="invented, for demonstration",
            indent=False,
        )  # fmt: skip
        self.invented.add_class("sy-check")
        self.invented.observe(self._invented, "value")
        self.save_button = button("Save the study", self.save, main=True)
        self.second_button = button("Ask for a second reading", self._second)
        self.remove_button = button("Remove this study", self._remove)
        self.state = words("", classes=("sy-message",))
        self.message = words("", classes=("sy-message",))
        self.more = widgets.VBox([])
        self._sure = False
        self._saved_message = ""
        self.buttons = row(self.save_button)
        self.widget = widgets.VBox(
            [
                row(self.id.widget, self.invented, self.buttons),
                self.state,
                self.message,
                self.more,
            ]
        )
        self.widget.add_class("sy-bar")
        self._offer()

    def show(self, built: Built, asked: Sequence[Problem]) -> None:
        """Say how far the study is from being one that can be saved, and what was asked of it."""
        bad = [problem for problem in built.problems if problem.kind == "bad"]
        needed = [problem for problem in built.problems if problem.kind == "needed"]
        parts = []
        if bad:
            parts.append(f'<span class="bad">{count(len(bad), "field")} cannot be read.</span>')
            parts += [
                f'<span class="bad">{escape(problem.message)}</span>'
                for problem in bad
                if problem.field not in self.form.fields
            ]
        if needed:
            said = " ".join(dict.fromkeys(escape(problem.message) for problem in needed))
            parts.append(f'<span class="needed">Still to do: {said}</span>')
        if not parts:
            parts.append('<span class="read">Everything needed is there.</span>')
        to_see = [problem for problem in asked if problem.message != BELOW]
        if to_see:
            parts.append(
                f'<span class="doubt">{count(len(to_see), "thing")} to look at again. '
                f"The first: {escape(to_see[0].message)}</span>"
            )
        html = "<br>".join(parts)
        if self.state.value != html:
            self.state.value = html

    def typed(self) -> None:
        """Something was typed: what was said before is old, unless it waits for a choice."""
        if self._saved_message and self.message.value == self._saved_message:
            self.message.value = '<span class="read">Changed since; kept as a draft.</span>'
        elif self.message.value and not self._saved_message and not self.more.children:
            self.message.value = ""
        self._sure = False

    def tell(self, text: str, *, good: bool = False) -> None:
        """Say something about saving."""
        kind = "sy-saved" if good else "bad"
        self.message.value = f'<span class="{kind}" role="status">{escape(text)}</span>'
        self._saved_message = self.message.value if good else ""

    def save(self) -> None:
        """Save, or say what stands in the way."""
        form = self.form
        with form.guarded():
            form.asked_to_save = True
            form.redraw()
            built = form.built
            if built is None or not built.ready:
                self.tell("Not saved: see the messages beside the fields. It is kept as a draft.")
                return
            self._try(
                lambda: save_study(
                    form.library.folder,
                    built.values,
                    opened=form.state.opened,
                    new_words=form.words.table_words(),
                )
            )

    def _try(self, save) -> None:
        try:
            saved = save()
        except RecordError as error:
            said = "; ".join(finding.message for finding in error.findings)
            self.tell(f"Not saved: {said}")
            return
        if saved.outcome == "changed-on-disk":
            self._conflict(saved)
            return
        self.more.children = ()
        study_id = self.form.built.values["id"]
        drafted = self.form.draft_id
        self._go_on(study_id)
        if drafted:
            drop_draft(self.form.library.folder, drafted)
        words_said = "Saved" if saved.outcome == "saved" else "Nothing had changed"
        self.tell(f"{words_said}: studies/{study_id}.toml", good=True)

    def _go_on(self, study_id: str) -> None:
        form, folder = self.form, self.form.library.folder
        text = read_text(study_path(folder, study_id), file=study_id)
        mark = mark_of(study_path(folder, study_id).read_bytes())
        typed, built = form.state, form.built
        # The boxes on the page stay; only what they are held against is new.
        for parts, ids in (
            (typed.arms, built.arm_ids),
            (typed.outcomes, built.outcome_ids),
            (typed.comparisons, built.comparison_ids),
            (typed.overrulings, built.overruling_ids),
        ):
            for part in parts:
                part.id = ids.get(part.key, "")
        typed.study_id = typed.editing = study_id
        typed.opened, typed.base, typed.new_words = mark, text, []
        self.id.put(study_id)
        self.id.box.disabled = True
        form.asked_to_save = False
        form.reload(open_library(folder), typed)
        self._offer()

    def _offer(self) -> None:
        extra = (self.second_button, self.remove_button) if self.form.state.editing else ()
        self.buttons.children = (self.save_button, *extra)

    def _conflict(self, saved: Saved) -> None:
        """Show how the file on disk differs, and let a person choose."""
        rows = "".join(
            f"<tr><td>{escape(difference.place) or 'the whole file'}</td>"
            f"<td>{escape(difference.one) or 'nothing'}</td>"
            f"<td>{escape(difference.other) or 'nothing'}</td></tr>"
            for difference in saved.differences[:MOST_DIFFERENCES]
        )
        table = (
            "<p>The file on disk is another than was opened. It was left alone, and what you "
            f"typed is kept as {escape(saved.kept)}.</p><table><thead><tr><th>place</th>"
            f"<th>on disk</th><th>typed here</th></tr></thead><tbody>{rows}</tbody></table>"
        )
        self.tell("Not saved: the file has changed since it was opened.")
        box = widgets.VBox(
            [
                words(table),
                row(
                    button("Put mine in its place; keep a copy of the other", self._replace(saved)),
                    button("Leave the one on disk", self._leave),
                ),
            ]
        )
        box.add_class("sy-note")
        self.more.children = (box,)

    def _replace(self, saved: Saved):
        def replace() -> None:
            with self.form.guarded():
                values = self.form.built.values
                folder = self.form.library.folder
                self._try(lambda: replace_study(folder, values, seen=saved.mark))

        return replace

    def _leave(self) -> None:
        self.more.children = ()
        self.tell("The file on disk stays; what you typed is kept as a draft.")

    def _second(self) -> None:
        with self.form.guarded():
            study_id = self.form.state.editing
            study = self.form.library.studies[study_id]
            ask_second_reading(self.form.library.folder, study)
            self.tell(
                f'Marked. The second reader runs second_reading("{study_id}") in this notebook '
                "and does not see these numbers.",
                good=True,
            )

    def _remove(self) -> None:
        with self.form.guarded():
            if not self._sure:
                self._sure = True
                self.tell("Press once more to remove it; a copy stays and can be brought back.")
                return
            folder, study_id = self.form.library.folder, self.form.state.editing
            name = remove_study(folder, study_id)
            self.tell(
                f"Removed {study_id}; the copy is .removed/{name}. It can be brought back here, or "
                "later in the form that enter_study() opens.",
                good=True,
            )

            def back() -> None:
                with self.form.guarded():
                    bring_back(folder, name)
                    self.more.children = ()
                    self.tell(f"Brought back {study_id}.", good=True)

            self.more.children = (row(button("Bring it back", back)),)

    def _invented(self, change) -> None:
        with self.form.guarded():
            self.form.state.invented = "yes" if change["new"] else ""
            self.form.changed()
