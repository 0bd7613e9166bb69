"""One layout for results: the terminal and the notebook show the same rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

MINUS = "\u2212"


def number(value: float | None, *, decimals: int = 2, sign: bool = False) -> str:
    """Write a number for people: real minus sign, fixed decimals, a dash for none."""
    if value is None or value != value:
        return "–"
    text = f"{value:+.{decimals}f}" if sign else f"{value:.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("+-")
    return text.replace("-", MINUS)


def p_text(p: float | None) -> str:
    """Write a p value for people: never 0 and never 1."""
    if p is not None and p < 0.001:
        return "p <0.001"
    return "p >0.999" if p is not None and p > 0.999 else f"p {number(p, decimals=3)}"


def interval(low: float | None, high: float | None, *, decimals: int = 2, sign: bool = True) -> str:
    """Write an interval as ``low to high``."""
    ends = [number(end, decimals=decimals, sign=sign) for end in (low, high)]
    return " to ".join(ends)


def count(amount: int, noun: str, plural: str | None = None) -> str:
    """Write a count with its noun in the right number: ``1 study``, ``3 studies``."""
    return f"{amount:,} {noun if amount == 1 else plural or noun + 's'}"


def about(amount: int) -> str:
    """A reckoned number of people or studies to two telling digits: ``28,000`` for 27,998."""
    size = max(len(str(abs(int(amount)))) - 2, 0)
    return f"{round(amount, -size):,.0f}"


def listed(parts: Sequence[str]) -> str:
    """Write names as a sentence lists them: ``a, b and c``."""
    return " and ".join(filter(None, (", ".join(parts[:-1]), *parts[-1:])))


def capital(text: str) -> str:
    """The text with a capital at its start, and the rest as it is."""
    return text[:1].upper() + text[1:]


class Shown:
    """Mixin for results: `_title()` and `_rows()` feed both terminal and notebook."""

    __slots__ = ()

    def _title(self) -> str:
        raise TypeError(f"{type(self).__name__} gives no rows")

    def _rows(self) -> list[tuple[str, str]]:
        raise TypeError(f"{type(self).__name__} gives no rows")

    def __str__(self) -> str:
        rows = self._rows()
        width = max((len(name) for name, _ in rows), default=0)
        lines = [self._title()]
        lines += [f"  {name:<{width}}  {text}" for name, text in rows]
        return "\n".join(lines)

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict[str, str]:
        return {"text/plain": str(self), "text/html": self._repr_html_()}

    def _repr_html_(self) -> str:
        body = "".join(
            f'<tr><th scope="row" style="{_HEAD}">{escape(name)}</th>'
            f'<td style="{_LEFT}">{escape(text)}</td></tr>'
            for name, text in self._rows()
        )
        return (
            f'<table class="steelyard-rows" style="border-collapse:collapse">'
            f"{_caption(self._title())}<tbody>{body}</tbody></table>"
        )


@dataclass(frozen=True, slots=True)
class Table:
    """A table for people; the terminal and the notebook show the same cells.

    Attributes
    ----------
    title : str
    columns : tuple of str
        Headings.
    rows : tuple of tuple of str
        One text per column; a line break inside a text is kept.
    notes : tuple of str
        Sentences for below the table.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        indented = [f"  {note}" for note in self.notes]
        return "\n".join([self.title, *(self._aligned() or self._stacked()), *indented])

    def _aligned(self) -> list[str]:
        """Lines with columns side by side; none where they do not fit."""
        if any("\n" in text for row in self.rows for text in row):
            return []
        table = [self.columns, *self.rows]
        widths = [max(map(len, column)) for column in zip(*table, strict=True)]
        if sum(widths) + 2 * len(widths) > _TERMINAL:
            return []
        return [
            "  " + "  ".join(f"{text:<{w}}" for text, w in zip(row, widths, strict=True)).rstrip()
            for row in table
        ]

    def _stacked(self) -> list[str]:
        width = max(map(len, self.columns[1:]), default=0)
        lines = []
        for first, *others in self.rows:
            lines.append("  " + first.replace("\n", "; "))
            for name, text in zip(self.columns[1:], others, strict=True):
                if text:
                    flat = text.replace("\n", "; ")
                    lines.append(f"    {name:<{width}}  {flat}")
        return lines

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        head = "".join(
            f'<th scope="col" style="{_HEAD}">{escape(name)}</th>' for name in self.columns
        )
        body = "".join(
            "<tr>"
            + "".join(
                f'<td data-column="{escape(name)}" style="{_LEFT}">{_lines(text)}</td>'
                for name, text in zip(self.columns, row, strict=True)
            )
            + "</tr>"
            for row in self.rows
        )
        notes = "".join(f"<p>{escape(note)}</p>" for note in self.notes)
        return (
            f'<table class="steelyard-table" style="border-collapse:collapse">'
            f"{_caption(self.title)}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{notes}"
        )


_TERMINAL = 110
_LEFT = "text-align:left;vertical-align:top;padding:3px 12px 3px 0"
_HEAD = f"{_LEFT};font-weight:600;white-space:nowrap"


def _caption(title: str) -> str:
    if not title:
        return ""
    return (
        f'<caption style="text-align:left;font-weight:700;padding:4px 0">{escape(title)}</caption>'
    )


def _lines(text: str) -> str:
    return "".join(f'<div class="line">{escape(line)}</div>' for line in text.split("\n") if line)
