"""The grid of one outcome: a row per arm, a column per time, and what stands beside each."""

from __future__ import annotations

from html import escape

import ipywidgets as widgets

from steelyard.notebook.entry.boxes import Boxes
from steelyard.notebook.entry.cell import EXAMPLES, STYLES, in_words, read_cell
from steelyard.notebook.entry.columns import arm_name, column_label
from steelyard.notebook.entry.field import (
    area_field,
    button,
    choice_field,
    row,
    text_field,
    words,
)
from steelyard.notebook.entry.parts import GROUPED, combined_words, in_short, together
from steelyard.notebook.entry.parts_form import PartsForm
from steelyard.notebook.entry.parts_view import PartsView
from steelyard.notebook.entry.paste import PasteError, read_block
from steelyard.notebook.entry.problem import Problem
from steelyard.notebook.entry.state import ONE_NUMBER, ArmForm, OutcomeForm
from steelyard.records.cells import CellError, DecimalMarks

_STYLE_OPTIONS = tuple((label, style) for style, label in STYLES.items())
_ONE = {"events": "3", "correlation": "0.45"}
_READ_OFF = (
    *(("as above", ""), ("table", "table"), ("text", "text"), ("figure", "figure")),
    ("from the authors", "authors"),
)
_BESIDE = (
    ("n", "n analysed", "96px"),
    ("r", "r before–after", "110px"),
    ("where", "Where, if elsewhere", "180px"),
    ("read_off", "Read off", "130px"),
    ("reading_error", "Reading error", "110px"),
    ("checked_by", "Checked by", "130px"),
)


class GridView:
    """Boxes for the results of one outcome."""

    def __init__(self, form: Boxes, outcome: OutcomeForm) -> None:
        self.form, self.outcome = form, outcome
        self.grid = widgets.Box([], layout=widgets.Layout())
        self.grid.add_class("sy-grid")
        scroll = widgets.Box([self.grid])
        scroll.add_class("sy-scroll")
        self.rows: dict[str, list[widgets.HTML]] = {}
        self.paste_text = ""
        self.paste = area_field(
            f"paste.{outcome.key}",
            "Paste rows from a spreadsheet or a PDF",
            "",
            self._pasted,
            placeholder="One row per arm, its columns in the order above; an arm's name and n may "
            "come first.",
            rows=2,
        )
        form.adopt(self.paste)
        self.grid_message = words("", classes=("sy-message",))
        form.grid_messages[f"grid.{outcome.key}"] = self.grid_message
        self.parts = PartsView(form, outcome)
        self.widget = widgets.VBox(
            [
                scroll,
                self.grid_message,
                self.parts.widget,
                row(self.paste.widget, button("Fill the grid", self._fill)),
            ]
        )
        self.besides = widgets.VBox([])
        self.beside = widgets.VBox([self.besides])
        self.draw()

    def draw(self) -> None:
        """Make the boxes anew, as the columns, weeks and arms now are."""
        columns = self.outcome.columns()
        arms = self.form.state.arms
        self.rows = {arm.key: [] for arm in arms}
        self.grid.layout.grid_template_columns = (
            f"minmax(90px, 150px) repeat({len(columns)}, minmax(140px, 1fr))"
        )
        children: list[widgets.Widget] = [
            words('<div class="sy-head">As the paper prints it</div>')
        ]
        children += [self._style(column) for column in columns]
        for number, arm in enumerate(arms, 1):
            head = words(_head(arm_name(arm, number)))
            self.rows[arm.key].append(head)
            children.append(head)
            children += [self._cell(arm, number, column) for column in columns]
        self.grid.children = children
        self.besides.children = [
            self._details(arm, number, week)
            for week in self.outcome.week_texts() or [""]
            for number, arm in enumerate(arms, 1)
        ]
        self.parts.draw()

    def show(self, marks: DecimalMarks) -> None:
        """Fill the cells that stand in parts, and say how the parts come together."""
        self.parts.show(marks)
        start = f"cell.{self.outcome.key}."
        for name in [name for name in self.form.fields if name.startswith(start)]:
            arm, _, column = name.removeprefix(start).partition(".")
            combined = together(self._parts(arm, column), marks=marks)
            shown = self._example(column) if combined is None else in_short(combined)
            box = self.form.fields[name].box
            if box.placeholder != shown:
                box.placeholder = shown

    def rename_arms(self) -> None:
        """Show changed arm names, and name the boxes by them."""
        for number, arm in enumerate(self.form.state.arms, 1):
            for shown in self.rows.get(arm.key, ()):
                shown.value = _head(arm_name(arm, number))
            for column in self.outcome.columns():
                field = self.form.fields.get(self._cell_name(arm, column))
                if field is not None:
                    field.box.description = _cell_label(arm, number, column)
        self.parts.rename_arms()

    def read_back(self, arm: str, column: str, marks: DecimalMarks) -> str:
        """What a cell was understood as; empty where there is nothing to say."""
        if column.partition("@")[0] in ONE_NUMBER:
            return ""
        parts = self._parts(arm, column)
        combined = together(parts, marks=marks)
        if combined is not None:
            return f"from {len(parts.typed())} parts: {combined_words(combined)}"
        try:
            text = self.outcome.cells.get(f"{arm}|{column}", "")
            found = read_cell(text, self.outcome.style(column), marks=marks)
        except CellError:
            return ""
        return in_words(found) if found else ""

    def _parts(self, arm: str, column: str) -> PartsForm | None:
        if column.partition("@")[0] not in GROUPED:
            return None
        return self.outcome.parts_of(f"{arm}|{column}")

    def _example(self, column: str) -> str:
        return _ONE.get(column.partition("@")[0]) or EXAMPLES[self.outcome.style(column)]

    def _style(self, column: str) -> widgets.Widget:
        label = column_label(column)
        if column.partition("@")[0] in ONE_NUMBER:
            return words(f'<div class="sy-head">{escape(label)}</div>')

        def chosen(style: str) -> None:
            with self.form.guarded():
                self.outcome.styles[column] = style
                example = EXAMPLES.get(style, "")
                for arm in self.form.state.arms:
                    field = self.form.fields.get(self._cell_name(arm, column))
                    if field is not None:
                        field.box.placeholder = example
                self.form.changed()

        style = self.outcome.style(column)
        self.outcome.styles.setdefault(column, style)
        options = _STYLE_OPTIONS
        if column.startswith("change_percent"):
            options = tuple(each for each in options if each[1] not in ("iqr", "range"))
        field = choice_field(
            f"style.{self.outcome.key}.{column}",
            f"{label}, spread as",
            style,
            options,
            chosen,
            width="auto",
        )
        return field.widget

    def _cell_name(self, arm: ArmForm, column: str) -> str:
        return f"cell.{self.outcome.key}.{arm.key}.{column}"

    def _cell(self, arm: ArmForm, number: int, column: str) -> widgets.Widget:
        place = f"{arm.key}|{column}"
        field = text_field(
            self._cell_name(arm, column),
            _cell_label(arm, number, column),
            self.outcome.cells.get(place, ""),
            self.form.typing(self.outcome.cells, place),
            width="auto",
            placeholder=self._example(column),
            named_only=True,
        )
        return self.form.adopt(field).widget

    def _details(self, arm: ArmForm, number: int, week: str) -> widgets.Widget:
        beside = self.outcome.detail(arm.key, week)
        after = f", week {week}" if len(self.outcome.week_texts()) > 1 else ""
        head = words(_head(f"{arm_name(arm, number)}{after}"))
        if not after:
            self.rows[arm.key].append(head)
        parts: list[widgets.Widget] = []
        for key, label, width in _BESIDE:
            name = f"detail.{self.outcome.key}.{arm.key}.{week}.{key}"
            typed = self.form.typing(beside, key)
            if key == "read_off":
                field = choice_field(
                    name, label, beside.get(key, ""), _READ_OFF, typed, width=width
                )
            else:
                field = text_field(name, label, beside.get(key, ""), typed, width=width)
            parts.append(self.form.adopt(field).widget)
        made = widgets.VBox([head, row(*parts)])
        made.add_class("sy-part")
        return made

    def _pasted(self, text: str) -> None:
        self.paste_text = text
        self.form.standing.pop(f"paste.{self.outcome.key}", None)

    def _fill(self) -> None:
        with self.form.guarded():
            name = f"paste.{self.outcome.key}"
            try:
                block = read_block(self.paste_text, self.outcome, self.form.state.arms)
            except PasteError as error:
                message = str(error)
                self.form.standing[name] = Problem(name, message[:1].upper() + message[1:])
                self.form.changed()
                return
            self.outcome.cells |= block.cells
            week = (self.outcome.week_texts() or [""])[0]
            for arm, n in block.sizes.items():
                self.outcome.detail(arm, week)["n"] = n
            self.form.standing[name] = Problem(name, block.message, "hint")
            self.form.redraw_grid(self.outcome.key)
            self.paste.put("")
            self.paste_text = ""
            self.form.changed()


def _cell_label(arm: ArmForm, number: int, column: str) -> str:
    return f"{column_label(column)}, {arm_name(arm, number)}"


def _head(text: str) -> str:
    return f'<div class="sy-head">{escape(text)}</div>'
