"""A part of the form that stays out of the way until it is wanted."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.notebook.entry.field import button

if TYPE_CHECKING:
    from steelyard.notebook.entry.form import EntryForm


class Fold:
    """A button with a label, and below it what it opens; made only once it is opened.

    Parameters
    ----------
    form : EntryForm
    name : str
        Under which the form remembers that it is open.
    label : str
    make : callable
        Makes what is inside.
    fields : tuple of str
        Starts of the names of the fields inside.
    """

    def __init__(
        self,
        form: EntryForm,
        name: str,
        label: str,
        make: Callable[[], widgets.Widget],
        *,
        fields: tuple[str, ...],
    ) -> None:
        self.form, self.name, self._make, self._fields = form, name, make, fields
        self.button = button(label, self.toggle)
        self.button.add_class("sy-fold")
        self.inside = widgets.VBox([])
        self.inside.add_class("sy-unfolded")
        self.widget = widgets.VBox([self.button, self.inside])
        self.widget.add_class("sy-field")
        self.form.folds[name] = self
        if self.is_open:
            self._show()

    @property
    def is_open(self) -> bool:
        return self.name in self.form.unfolded

    def toggle(self) -> None:
        """Open it, or close it again; what is typed inside stays."""
        with self.form.guarded():
            if self.is_open:
                self.form.unfolded.discard(self.name)
                self.button.remove_class("sy-open")
                self._forget()
                self.inside.children = ()
            else:
                self.form.unfolded.add(self.name)
                self._show()
            self.form.redraw()

    def draw(self) -> None:
        """Make what is inside anew, if it is open."""
        if self.is_open:
            self._show()

    def tell(self, label: str) -> None:
        """Show another label."""
        if self.button.description != label:
            self.button.description = label

    def _show(self) -> None:
        self._forget()
        self.button.add_class("sy-open")
        self.inside.children = (self._make(),)

    def _forget(self) -> None:
        for start in self._fields:
            self.form.forget(start)
