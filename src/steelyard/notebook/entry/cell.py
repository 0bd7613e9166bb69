"""One cell of the grid: a mean or median with its spread, typed as the paper prints it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from steelyard.records.cells import CellError, DecimalMarks, is_blank, parse_number

STYLES = {
    "sd": "SD",
    "se": "SE",
    "ci90": "90 % CI",
    "ci95": "95 % CI",
    "ci99": "99 % CI",
    "iqr": "IQR",
    "range": "range",
    "none": "none",
}
"""How a paper prints spread, and what the form calls it."""

PAIRS = frozenset({"ci90", "ci95", "ci99", "iqr", "range"})
QUANTILES = frozenset({"iqr", "range"})
LONGEST_CELL = 120
EXAMPLES = {
    "sd": "90.5 ± 14.2",
    "se": "90.5 ± 3.2",
    "ci90": "90.5 (85.2 to 95.8)",
    "ci95": "90.5 (84.2 to 96.8)",
    "ci99": "90.5 (82.0 to 99.0)",
    "iqr": "90 (81 to 99)",
    "range": "90 (62 to 118)",
    "none": "90.5",
}

_NAMES = {
    "sd": r"s\.?d\.?|standard deviation",
    "se": r"s\.?e\.?(?:m\.?)?|standard error",
    "ci90": r"90\s*%\s*c\.?i\.?",
    "ci95": r"95\s*%\s*c\.?i\.?|c\.?i\.?",
    "ci99": r"99\s*%\s*c\.?i\.?",
    "iqr": r"iqr",
    "range": r"range",
    "t": r"t",
    "p": r"p",
}
_NAMED = re.compile(
    r"\s*(?:"
    + "|".join(f"(?P<{name}>{pattern})" for name, pattern in _NAMES.items())
    + r")(?![a-z])\s*[:=]?\s*(?P<value>.+)",
    re.IGNORECASE,
)
_AFTER_CENTRE = re.compile(
    r"\s*(?:±|\+/[-−]|\+[-−]|[(\[;]|,\s)\s*|\s+(?=(?:s\.?[de]|90|95|99|ci|iqr|range)\b)|\s+(?=[tp]\s*[=<])",
    re.IGNORECASE,
)
_BETWEEN = (
    re.compile(r"\s+to\s+", re.IGNORECASE),
    re.compile(r"\s*;\s*"),
    re.compile(r"\s*,\s+"),
    re.compile(r"(?<=[0-9.])\s*[–—]\s*(?=[-−+0-9.–])"),
    re.compile(r"(?<=[0-9.])\s*-\s*(?=[-−+0-9.])"),
    re.compile(r"(?<=[0-9.]),(?=[-−]?[0-9]+\.)"),
)
_BOUND = re.compile(r"[<>]\s*0?[.,][0-9]+")


def read_cell(text: str, style: str, *, marks: DecimalMarks) -> dict[str, Any] | None:
    """Read a cell as a record keeps it.

    Parameters
    ----------
    text : str
        For example ``90.5 ± 14.2``, ``90.5 (84.2 to 96.8)``, ``90.5`` or ``24 (SE 3.1; p 0.03)``;
        a name in the cell goes before the column's style.
    style : str
        A key of `STYLES`: how the column prints spread.
    marks : DecimalMarks
        Which decimal marks the paper uses.

    Returns
    -------
    dict or None
        ``mean`` or ``median`` and measures of spread; None for a blank cell.

    Raises
    ------
    CellError
        If the cell cannot be read; says what was expected.
    """
    if len(text) > LONGEST_CELL:
        raise CellError(f"expected one number with its spread, found {len(text):,} characters")
    if is_blank(text):
        return None
    # Not `split()` alone: a thin space parts thousands and has to stay.
    text = re.sub(r"[ \t\r\n\f\v]+", " ", text).strip()
    split = _AFTER_CENTRE.search(text, 1)
    if split is None:
        value = parse_number(text, marks=marks)
        return {_centre(style): value.value} if value is not None else None
    centre = _one(text[: split.start()], "the mean", marks)
    rest = text[split.end() :].strip()
    if (
        rest
        and rest[-1] in ")]"
        and rest.count(rest[-1]) > rest.count({")": "(", "]": "["}[rest[-1]])
    ):
        rest = rest[:-1].rstrip()
    spread = _spread(rest, style, marks)
    quantile = next((name for name in spread if name in QUANTILES), None)
    return {"median" if quantile else "mean": centre, **spread}


def read_spread(text: str, style: str, *, marks: DecimalMarks) -> dict[str, Any] | None:
    """Read a spread that stands by itself: ``3.1``, ``84 to 97`` or ``SE 3.1``; None if blank.

    Raises
    ------
    CellError
        If it cannot be read; says what was expected.
    """
    if len(text) > LONGEST_CELL:
        raise CellError(f"expected one spread, found {len(text):,} characters")
    if is_blank(text):
        return None
    return _spread(re.sub(r"[ \t\r\n\f\v]+", " ", text).strip(" ±"), style, marks)


def write_spread(spread: Mapping[str, Any], style: str) -> str:
    """The spread of a record as a person would type it into a box of that style."""
    name = style_of(spread)
    if name is None:
        return ""
    value = f"{spread[name][0]} to {spread[name][1]}" if name in PAIRS else str(spread[name])
    return value if name == style else f"{STYLES[name]} {value}"


def write_cell(spread: Mapping[str, Any] | None, style: str) -> str:
    """A record's spread as a person would type it into a column of that style."""
    if not spread or "groups" in spread:
        return ""
    centre = spread.get("mean") if spread.get("mean") is not None else spread.get("median")
    parts = []
    for name in (*STYLES, "t", "p"):
        value = spread.get(name)
        if value is None:
            continue
        if name in PAIRS:
            value = f"{value[0]} to {value[1]}"
        parts.append((name, str(value)))
    if not parts:
        return f"{centre}"
    if len(parts) == 1 and parts[0][0] == style:
        value = parts[0][1]
        return f"{centre} ({value})" if style in PAIRS else f"{centre} ± {value}"
    named = "; ".join(f"{STYLES.get(name, name)} {value}" for name, value in parts)
    return f"{centre} ({named})"


def style_of(spread: Mapping[str, Any] | None) -> str | None:
    """The style in which a spread is printed; None where it has none."""
    return next((name for name in STYLES if (spread or {}).get(name) is not None), None)


def in_words(spread: Mapping[str, Any]) -> str:
    """How a cell was read: ``mean 90.5, SE 3.2``."""
    parts = []
    for name, value in spread.items():
        if name in PAIRS:
            value = f"{value[0]} to {value[1]}"
        parts.append(f"{STYLES.get(name, name)} {value}")
    return ", ".join(parts)


def _centre(style: str) -> str:
    return "median" if style in QUANTILES else "mean"


def _spread(rest: str, style: str, marks: DecimalMarks) -> dict[str, Any]:
    if not rest:
        raise CellError("expected a spread after the mean, found none")
    found: dict[str, Any] = {}
    pieces = rest.split(";") if _NAMED.match(rest) else [rest]
    for piece in pieces:
        match = _NAMED.match(piece)
        if match is None:
            if len(pieces) > 1:
                raise CellError(
                    f"expected a name such as SD, SE or 95 % CI before {piece.strip()!r}"
                )
            found[_needed(style, rest)] = _value(style, rest, marks)
            continue
        name = next(name for name in _NAMES if match[name])
        found[name] = _value(name, match["value"].strip(" )]"), marks)
    return found


def _needed(style: str, rest: str) -> str:
    if style == "none":
        raise CellError(
            f"this column is set to have no spread: choose SD, SE or another above it, "
            f"or take away {rest!r}"
        )
    return style


def _value(name: str, text: str, marks: DecimalMarks) -> Any:
    if name == "p":
        if _BOUND.fullmatch(text):
            return text.replace(" ", "").replace(",", ".")
        return _one(text, "p", marks)
    if name in PAIRS:
        return _pair(name, text, marks)
    said = STYLES.get(name, name)
    if any(len(pattern.split(text)) == 2 for pattern in _BETWEEN[:4]) and name != "t":
        raise CellError(
            f"expected one number for the {said}, found {text!r}: is the column's spread an "
            "interval or a range?"
        )
    value = _one(text, f"the {said}", marks)
    if value < 0 and name != "t":
        raise CellError(f"expected the {said} above 0, found {text!r}: is it a range?")
    return value


def _pair(name: str, text: str, marks: DecimalMarks) -> list[Decimal]:
    text = text.strip().strip("()[]").strip()
    for pattern in _BETWEEN:
        parts = pattern.split(text)
        if len(parts) == 2 and all(part.strip() for part in parts):
            return [_one(part, f"each end of the {STYLES[name]}", marks) for part in parts]
    raise CellError(
        f"expected the {STYLES[name]} as two numbers, such as {EXAMPLES[name]!r}, found {text!r}"
    )


def _one(text: str, what: str, marks: DecimalMarks) -> Decimal:
    try:
        value = parse_number(text.strip(), marks=marks)
    except CellError as error:
        message = str(error)
        if message == "expected a number":
            message = f"expected a number for {what}, found {text.strip()!r}"
        raise CellError(message) from error
    if value is None or value.spread is not None:
        raise CellError(f"expected a number for {what}, found {text.strip()!r}")
    return value.value
