"""One layout for results: the terminal and the notebook show the same rows."""

from __future__ import annotations

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


def interval(low: float | None, high: float | None, *, decimals: int = 2, sign: bool = True) -> str:
    """Write an interval as ``low to high``."""
    return (
        f"{number(low, decimals=decimals, sign=sign)} to {number(high, decimals=decimals, sign=sign)}"
    )


def count(amount: int, noun: str, plural: str | None = None) -> str:
    """Write a count with its noun in the right number: ``1 study``, ``3 studies``."""
    return f"{amount:,} {noun if amount == 1 else plural or noun + 's'}"


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

    def _repr_html_(self) -> str:
        body = "".join(
            f'<tr><th scope="row" style="text-align:left;font-weight:600;padding:2px 16px 2px 0;'
            f'vertical-align:top">{escape(name)}</th>'
            f'<td style="text-align:left;padding:2px 0">{escape(text)}</td></tr>'
            for name, text in self._rows()
        )
        return (
            f'<table style="border-collapse:collapse"><caption style="text-align:left;'
            f'font-weight:700;padding:4px 0">{escape(self._title())}</caption>'
            f"<tbody>{body}</tbody></table>"
        )
