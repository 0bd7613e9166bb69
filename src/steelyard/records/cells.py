"""Messy table cells to exact decimals; what could be read two ways is refused."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from steelyard.errors import SteelyardError

NOT_REPORTED_WORDS = frozenset(
    {"", "-", "–", "—", "−", "na", "n/a", "n.a.", "nr", "n.r.", "n/r", "not reported", "."}
)
_SPACES = "\u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f"
_INVISIBLE = "\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"
_CLEANED = {
    **dict.fromkeys(map(ord, _SPACES), "\u2009"),
    **dict.fromkeys(map(ord, _INVISIBLE)),
    ord("\u3000"): " ",
    ord("−"): "-",
    ord("\u2010"): "-",
    ord("\u2011"): "-",
    ord("’"): "'",
    ord("٪"): "%",
    ord("％"): "%",
}
_PLAIN = re.compile(r"[0-9]{1,30}(?:\.[0-9]{1,30})?|\.[0-9]{1,30}")
_EXPONENT = re.compile(r"(.+)[eE]([+-]?[0-9]{1,2})")
_SPACED = re.compile(r"[1-9][0-9]{0,2}(?:([\u2009'])[0-9]{3})(?:\1[0-9]{3})*(?:[.,][0-9]+)?")
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+|[1-9][0-9]{0,2}(?:\.[0-9]{3})+")
_COULD_BE_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}[.,][0-9]{3}")
# Only from where such a run starts, so that a long one is gone through once.
_TOKEN = re.compile(r"(?<![0-9.,])[0-9.,]*[0-9]")
_PLUS_MINUS = re.compile(r"\s*(?:±|\+/-|\+-)\s*")
_IN_BRACKETS = re.compile(r"([^()]+?)\s*\(\s*([^()]+?)\s*\)")
_FOOTNOTE = re.compile(r"[²³¹⁰⁴-⁹ªº*†‡§¶#ᵃ-ᵛ]")


LONGEST_NUMBER = 200


class CellError(SteelyardError):
    """A cell that cannot be read as asked; the message says what was expected."""


@dataclass(frozen=True, slots=True)
class DecimalMarks:
    """Which decimal marks a file has been seen to use beyond doubt."""

    comma: bool = False
    point: bool = False


@dataclass(frozen=True, slots=True)
class CellNumber:
    """A number as printed, with the spread that stands in the same cell, if one does.

    Attributes
    ----------
    value : Decimal
        The number.
    spread : Decimal or None
        The second number of ``12.5 ± 3.1`` or ``12.5 (3.1)``.
    percent : bool
        Whether a percent sign stood there; the number is as printed, not divided by 100.
    """

    value: Decimal
    spread: Decimal | None = None
    percent: bool = False


def is_blank(cell: str) -> bool:
    """Whether a cell says that nothing is reported."""
    return cell.strip().strip(_INVISIBLE).casefold() in NOT_REPORTED_WORDS


def decimal_marks(cells: Iterable[str], *, semicolons: bool = False) -> DecimalMarks:
    """Which decimal marks a file uses, from those of its numbers that can be read one way only.

    Parameters
    ----------
    cells : iterable of str
        The cells of number columns.
    semicolons : bool
        Whether semicolons part the file's columns, as they do where the comma is the decimal
        mark: a point is then not taken for a decimal mark unless the cells prove it.
    """
    comma = point = False
    for cell in cells:
        if "," not in cell and "." not in cell:
            continue
        for token in _TOKEN.findall(cell):
            marks = [character for character in token if character in ",."]
            if not marks or _COULD_BE_THOUSANDS.fullmatch(token) or _GROUPED.fullmatch(token):
                continue
            if len(marks) == 1 or len(set(marks)) == 2:
                comma, point = comma or marks[-1] == ",", point or marks[-1] == "."
    return DecimalMarks(comma, point or not (comma or semicolons))


def parse_number(cell: str, *, marks: DecimalMarks) -> CellNumber | None:
    """Read a cell that should hold a number.

    Understood are decimal commas and points, Unicode minus signs, thin and non-breaking
    spaces, thousands separators that can be nothing else, percent signs, exponents, and a
    spread after ``±`` or in brackets.

    Returns
    -------
    number : CellNumber or None
        None where the cell says that nothing is reported.

    Raises
    ------
    CellError
        If the cell is no number, or could be two different ones.
    """
    if _PLAIN.fullmatch(cell) and not (cell.count(".") and _COULD_BE_THOUSANDS.fullmatch(cell)):
        return CellNumber(Decimal(cell))
    if is_blank(cell):
        return None
    if len(cell) > LONGEST_NUMBER:
        raise CellError(f"expected a number, found {len(cell):,} characters")
    text = cell.translate(_CLEANED).strip(" \t\r\n\u2009")
    if _FOOTNOTE.search(text):
        raise CellError("expected a number without footnote marks or superscripts")
    parts = _PLUS_MINUS.split(text)
    if len(parts) == 1 and (match := _IN_BRACKETS.fullmatch(text)):
        parts = list(match.groups())
        if "%" in parts[1] and "%" not in parts[0]:
            raise CellError("expected a mean with its SD, not a count with its percentage")
    if len(parts) > 2 or not all(parts):
        raise CellError("expected a number, or a mean ± SD")
    percent = any(part.endswith("%") for part in parts)
    value, *spread = (_single(part.removesuffix("%").strip(" \u2009"), marks) for part in parts)
    if spread and spread[0] < 0:
        raise CellError("expected an SD above 0 beside the mean")
    return CellNumber(value, spread[0] if spread else None, percent)


def _single(text: str, marks: DecimalMarks) -> Decimal:
    sign, body = 1, text
    # An en dash is printed for a minus; between two numbers it would be a range.
    if body[:1] in ("-", "–", "+"):
        sign, body = (1 if body[0] == "+" else -1), body[1:].lstrip(" \u2009")
    exponent = ""
    if match := _EXPONENT.fullmatch(body):
        body, exponent = match[1], f"E{match[2]}"
    spaced = _SPACED.fullmatch(body) is not None
    if spaced:
        body = body.replace("\u2009", "").replace("'", "")
    body = _with_point(body, marks, settled=spaced)
    if not _PLAIN.fullmatch(body):
        if re.fullmatch(r"[0-9]+( [0-9]{3})+([.,][0-9]+)?", body):
            raise CellError("expected one number, written without spaces")
        raise CellError("expected a number")
    number = Decimal(f"{body}{exponent}")
    return number if sign > 0 else number.copy_negate()


def _with_point(body: str, marks: DecimalMarks, *, settled: bool) -> str:
    """The digits with a point as the decimal mark and no thousands separators."""
    commas, points = body.count(","), body.count(".")
    if commas and points:
        decimal, thousands = (".", ",") if body.rfind(".") > body.rfind(",") else (",", ".")
        whole, _, fraction = body.rpartition(decimal)
        if not _GROUPED.fullmatch(whole) or decimal in whole:
            raise CellError("expected a number with one decimal mark")
        return f"{whole.replace(thousands, '')}.{fraction}"
    if commas + points > 1:
        if not _GROUPED.fullmatch(body):
            raise CellError("expected a number with one decimal mark")
        return body.replace(",", "").replace(".", "")
    if not settled and _COULD_BE_THOUSANDS.fullmatch(body):
        mark, other = (marks.comma, marks.point) if commas else (marks.point, marks.comma)
        if not mark or other:
            as_decimal, as_thousands = (
                body.replace(",", "."),
                body.replace(",", "").replace(".", ""),
            )
            raise CellError(
                f"expected a number that can be read one way: this could be {as_thousands} or "
                f"{as_decimal}; write it without a thousands separator"
            )
    return body.replace(",", ".")
