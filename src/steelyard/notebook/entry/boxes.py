"""What every form of boxes has: the fields on the page, what is folded open, and typing."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from html import escape
from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.notebook.entry.field import Field
from steelyard.notebook.entry.problem import Problem
from steelyard.notebook.entry.state import FormState

if TYPE_CHECKING:
    from steelyard.notebook.entry.fold import Fold


class Boxes(ABC):
    """Fields by name, and what is called when one of them is typed into.

    Parameters
    ----------
    state : FormState
        Where what is typed goes.
    """

    def __init__(self, state: FormState) -> None:
        self.state = state
        self.fields: dict[str, Field] = {}
        self.grid_messages: dict[str, widgets.HTML] = {}
        self.standing: dict[str, Problem] = {}
        self.folds: dict[str, Fold] = {}
        self.unfolded: set[str] = set()

    @abstractmethod
    def guarded(self) -> AbstractContextManager[None]:
        """Whatever goes wrong inside is told in words."""

    @abstractmethod
    def changed(self) -> None:
        """Something was typed."""

    @abstractmethod
    def redraw(self) -> None:
        """Show messages and what follows from what is typed."""

    @abstractmethod
    def redraw_grid(self, key: str) -> None:
        """Make one outcome's grid anew."""

    def adopt(self, field: Field) -> Field:
        """Take care of a field: messages for it will be shown."""
        self.fields[field.name] = field
        return field

    def forget(self, start: str) -> None:
        """Stop caring for fields whose names start so, since they are made anew."""
        for name in [name for name in self.fields if name.startswith(start)]:
            del self.fields[name]

    def show_problems(
        self, problems: Iterable[Problem], *, needed: bool, read_back: Callable[[str], str]
    ) -> None:
        """Show messages beside their fields.

        Parameters
        ----------
        problems : iterable of Problem
        needed : bool
            Whether what is still missing is shown too.
        read_back : callable
            What a field, by name, was understood as; asked where nothing is wrong with it.
        """
        found: dict[str, list[Problem]] = {}
        for problem in (*problems, *self.standing.values()):
            if problem.kind != "needed" or needed:
                found.setdefault(problem.field, []).append(problem)
        for name, field in self.fields.items():
            here = found.get(name, ())
            wrong = any(problem.kind != "doubt" for problem in here)
            field.show(here, also="" if wrong else read_back(name))
        for name, shown in self.grid_messages.items():
            shown.value = "<br>".join(
                f'<span class="{problem.kind}">{escape(problem.message)}</span>'
                for problem in found.get(name, ())
            )

    def typing(self, values: dict[str, str], key: str) -> Callable[[str], None]:
        """What to call when a value of a dict of texts is typed."""

        def typed(text: str) -> None:
            with self.guarded():
                values[key] = text
                self.changed()

        return typed

    def typing_attribute(
        self, target: object, name: str, *, after: Callable[[], None] | None = None
    ) -> Callable[[str], None]:
        """What to call when a text attribute is typed."""

        def typed(text: str) -> None:
            with self.guarded():
                setattr(target, name, text)
                if after is not None:
                    after()
                self.changed()

        return typed

    def arm_options(self) -> list[tuple[str, str]]:
        """Choices among the arms."""
        return [
            (arm.label.strip()[:80] or f"arm {number}", arm.key)
            for number, arm in enumerate(self.state.arms, 1)
        ]

    def outcome_options(self) -> list[tuple[str, str]]:
        """Choices among the outcomes."""
        return [
            ((each.label or each.measure).strip()[:80] or f"outcome {number}", each.key)
            for number, each in enumerate(self.state.outcomes, 1)
        ]
